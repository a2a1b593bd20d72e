"""`jam idiom`: learns how somebody goes on, from MIDI files or session folders, into a file.

What is too little to stand alone is laid over the idiom that ships, and then stands under its
licence too. What stands alone holds nothing of that: what was never measured in it is as in the
built-in plain idiom. What the companion played stands under the licences of the idioms that it
played by.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from hashlib import blake2b
from pathlib import Path

from jam.errors import InputError
from jam.idiom.blending import ENOUGH_NOTES, blended, filled
from jam.idiom.counts import Counts
from jam.idiom.learn import Played, learn
from jam.idiom.model import Idiom
from jam.idiom.plain import plain_counts
from jam.idiom.text import read_counts, read_idiom, write_idiom
from jam.idiom.words import told
from jam.session.folder import LOG
from jam.session.idiom_fit import misfit
from jam.session.idiom_lines import line_in_midi, lines_in_session
from jam.session.idioms import IDIOMS, PLAIN, SUFFIXES, find_idiom, list_idioms
from jam.session.resources import data_folder, find_chart, home_folder

BASE = "mainstream"
OWN_LICENCE = "yours"
FILE_LICENCE = "as the files it was learnt from"
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,60}")


@dataclass(frozen=True)
class LearnOptions:
    """What `jam idiom FILES... --name NAME` was asked; ``channel`` is 0 to 15."""

    sources: tuple[Path, ...]
    name: str
    out: Path | None = None
    instead: bool = False
    chart: str | None = None
    from_bar: int | None = None
    track: str | None = None
    channel: int | None = None
    companion: bool = False
    home: Path | None = None


def learn_idiom(options: LearnOptions) -> str:
    """Learn, write the file, and return in plain words what was learnt; raises InputError."""
    path = _target(options)
    _refuse_idle(options)
    options, remarks = _each_once(options)
    lines = []
    for source in options.sources:
        found, remark = _lines(source, options)
        lines += found
        remarks += [f"{source}: {remark}"] if remark else []
    counts = learn(lines)
    if counts.notes < 2:
        problem = "it holds no phrase of two notes or more"
        raise InputError(str(options.sources[0]), problem, "Name something to learn from")
    text = _text(counts, options)
    _write(path, text, options)
    use = f"idiom: {{name: {options.name}}}"
    how = (
        f"A style with `{use}` uses it."
        if options.out is None
        else f"Put it into `styles/idioms` of your own folder; a style with `{use}` uses it then."
    )
    told_of = [f"Learnt: {told(counts)}", *_thin(counts), *remarks, f"Written: {path}", how]
    return "\n".join(told_of)


def _each_once(options: LearnOptions) -> tuple[LearnOptions, list[str]]:
    """Leave out what was named before, or is a copy of it; say so."""
    seen: dict[bytes, Path] = {}
    remarks = []
    for source in options.sources:
        before = seen.setdefault(_contents(source), source)
        if before is not source:
            twin = "named twice" if before == source else f"the same as {before}"
            remarks.append(f"Left out: {source}, {twin}")
    return replace(options, sources=tuple(seen.values())), remarks


def _contents(source: Path) -> bytes:
    """Return what tells one source from another: a digest of its notes' file, or its name."""
    try:
        return blake2b((source / LOG if source.is_dir() else source).read_bytes()).digest()
    except OSError:
        return str(source.resolve()).encode()


def _write(path: Path, text: str, options: LearnOptions) -> None:
    try:
        if options.out is None:
            path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")
    except OSError as error:
        reason = error.strerror or str(error)
        problem = f"it cannot be written ({reason})"
        raise InputError(str(path), problem, "Name another place with --out") from None


def list_text(home: Path | None) -> str:
    """Return the idioms there are, with their licence and source."""
    lines = []
    for entry in list_idioms(home):
        mark = "" if entry.origin == "built in" else f" ({entry.origin})"
        try:
            idiom = find_idiom(str(entry.path), home).value
        except InputError as error:
            lines.append(f"{entry.name}: cannot be used: {error}{mark}")
            continue
        lines.append(f"{entry.name}: {idiom.about}{mark}")
        lines.append(f"    {idiom.notes:,} notes; licence: {idiom.licence}")
        lines += [f"    {source}" for source in idiom.sources]
    lines.append(f"{PLAIN}: {find_idiom(PLAIN).value.about}; no habits (built in, no file)")
    return "\n".join(lines)


def idiom_text(name: str, home: Path | None) -> str:
    """Return one idiom in words."""
    found = find_idiom(name, home)
    idiom = found.value
    lines = [f"{idiom.name}: {idiom.about}"]
    if name != PLAIN:
        lines.append(told(read_counts(idiom.text, str(found.entry.path))))
        lines += [f"licence: {idiom.licence}", *(f"from: {source}" for source in idiom.sources)]
    return "\n".join(lines)


def _target(options: LearnOptions) -> Path:
    """Return where to write; raises InputError for a name that will not do or that is taken."""
    name = options.name
    if not _NAME.fullmatch(name) or name == PLAIN:
        mend = "Take letters, digits and hyphens" + (f", not `{PLAIN}`" if name == PLAIN else "")
        raise InputError(f"--name {name}", "this is no name for an idiom", mend)
    path = options.out or home_folder(options.home) / IDIOMS / f"{name}.json"
    if path.suffix.lower() not in SUFFIXES:
        raise InputError(f"--out {path}", "the file's name must end in .json", "Write NAME.json")
    if options.out is not None and not path.parent.is_dir():
        problem = f"it cannot be written: there is no folder {path.parent}"
        raise InputError(f"--out {path}", problem, "Make it, or name another place")
    built_in = data_folder() / IDIOMS / path.name
    taken = path.exists() or (options.out is None and built_in.exists())
    if taken and not options.instead:
        what = "there is a file already" if path.exists() else "an idiom that comes along has it"
        problem = what if path.exists() else f"{what}, and this one would take its place"
        raise InputError(str(path), problem, "Take another --name, or add --instead")
    return path


def _refuse_idle(options: LearnOptions) -> None:
    """Raise InputError for an option that none of the sources heeds."""
    folders = [source.is_dir() for source in options.sources]
    of_files = {
        "--chart": options.chart, "--from-bar": options.from_bar, "--track": options.track,
        "--channel": options.channel,
    }  # fmt: skip
    for option, value in of_files.items():
        if value is not None and all(folders):
            raise InputError(option, "a session folder needs none", "Leave it out")
    if options.from_bar is not None and options.chart is None:
        raise InputError("--from-bar", "no tune begins there", "Name it with --chart")
    if options.companion and not any(folders):
        raise InputError("--companion", "no session folder is named", "Leave it out")


def _lines(source: Path, options: LearnOptions) -> tuple[list[Played], str]:
    """Return the lines of a source, and what is odd about them in words."""
    if source.is_dir():
        return lines_in_session(source, companion=options.companion), ""
    chart = find_chart(options.chart, options.home).value if options.chart is not None else None
    from_bar = options.from_bar or 1
    line = line_in_midi(
        source, chart, from_bar=from_bar, track=options.track, channel=options.channel
    )
    return [line], misfit(line, chart, from_bar) if chart is not None else ""


def _text(counts: Counts, options: LearnOptions) -> str:
    """Return the file's text, read once as a check that it can be used."""
    own = all(source.is_dir() for source in options.sources)
    licences = [OWN_LICENCE if own else FILE_LICENCE]
    sources = [source.resolve().name for source in options.sources]
    about = f"Learnt from {counts.notes:,} notes in {counts.phrases:,} phrases."
    lent = _played_by(options)
    if counts.notes < ENOUGH_NOTES:
        base = find_idiom(str(data_folder() / IDIOMS / f"{BASE}.json")).value
        counts = blended(counts, read_counts(base.text, BASE))
        about = f"{about} Laid over `{BASE}`."
        lent = {BASE: base, **lent}
    else:
        # Not from the idiom that ships: nothing of its database may come in unsaid.
        counts = filled(counts, plain_counts())
    for name, idiom in lent.items():
        licences.append(f"{name}: {idiom.licence}")
        sources += [text for text in idiom.sources if text not in sources]
    text = write_idiom(
        counts,
        name=options.name,
        about=about,
        licence="; ".join(licences),
        sources=tuple(sources),
    )
    read_idiom(text, options.name)
    return text


def _played_by(options: LearnOptions) -> dict[str, Idiom]:
    """Return the learnt idioms by whose habits the companion played what is learnt of it."""
    folders = [source for source in options.sources if source.is_dir() and options.companion]
    copies = [path for folder in folders for path in sorted(folder.glob("idiom*.json"))]
    found = [find_idiom(str(path)).value for path in copies]
    return {idiom.name: idiom for idiom in found}


def _thin(counts: Counts) -> list[str]:
    if counts.notes >= ENOUGH_NOTES:
        return []
    return [
        f"Few notes: from {ENOUGH_NOTES:,} on they would stand alone. Laid over `{BASE}`:"
        " these tell where they show a habit, that one elsewhere."
    ]
