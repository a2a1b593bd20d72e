"""A setup as it lies in a session folder, so that the folder alone is enough to play it again.

The header of the log carries the plain values under ``setup``; beside it lie ``style.yaml`` (and
``style-2.yaml`` ..., where *next style* can be asked for) and ``config.yaml`` (in full, what a file
left out included), ``idiom.json`` (and ``idiom-2.json`` ...: what the styles learnt from), the
chart as it was written with its
melody files (``chart.yaml``, or ``chart`` with the ending of a MusicXML file), ``beats.txt`` and
``changes.txt``. What is read back equals what was written. ``style-changed-1.yaml`` .. are styles
whose files were changed meanwhile; the log holds those too, and a replay takes them from there.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict
from itertools import count
from pathlib import Path
from typing import Any, get_args

import yaml
from pydantic import BaseModel

from jam.charts.model import Chart, RoadMap
from jam.core.setup import First, Setup, TurnKind, Turns, Uneven
from jam.core.style_rack import NEW_STYLE
from jam.errors import InputError
from jam.events import Part
from jam.harmony.keys import parse_key
from jam.idiom.model import Idiom
from jam.listening.who import OtherPart, Split, SplitKind
from jam.log import Record
from jam.session.idioms import PLAIN, read_file
from jam.session.resources import MUSICXML_SUFFIXES, beside, read_chart, read_text
from jam.session.time_files import beats_text, changes_text, read_beats, read_changes
from jam.styles.loader import load_style
from jam.styles.profile import Style
from jam.transport.metre import Metre

STYLE = "style.yaml"
IDIOM = "idiom.json"
CHANGED_STYLE = "style-changed-{}.yaml"
CONFIG = "config.yaml"
CHART = "chart"
BEATS = "beats.txt"
CHANGES = "changes.txt"

_FORMER_CHANNELS: Mapping[Part, int] = {"companion": 0, "melody": 0}
"""Where the companion played in logs that do not say."""

_MELODY_FILE = re.compile(r"^(\s*melody_file\s*:\s*)(.+?)(\s*)$", re.MULTILINE)


def write_copies(folder: Path, setup: Setup, config: BaseModel, chart_path: Path | None) -> None:
    """Write everything but the log's header into ``folder``."""
    for number, style in enumerate(setup.styles or (setup.style,), start=1):
        _write(folder / _style_name(number), _yaml(style))
    for name, path in _idiom_files(folder, setup.styles or (setup.style,)):
        if name in setup.idioms:
            _write(path, setup.idioms[name].text)
    _write(folder / CONFIG, _yaml(config))
    if chart_path is not None:
        _copy_chart(folder, chart_path)
    if setup.given_beats:
        _write(folder / BEATS, beats_text(setup.given_beats))
    if setup.timed_changes:
        _write(folder / CHANGES, changes_text(setup.timed_changes))


def write_changed(folder: Path, records: Iterable[Record]) -> None:
    """Write the styles whose files were changed while the session was played, in their order."""
    intents = (r for r in records if r["kind"] == "intent" and r["name"] == NEW_STYLE)
    for number, record in enumerate(intents, start=1):
        style = Style.model_validate(record["value"]["style"])
        _write(folder / CHANGED_STYLE.format(number), _yaml(style))


def setup_record(setup: Setup) -> Record:
    """Return the plain values of a setup, for the header of its log."""
    return {
        "clock": setup.clock,
        "tempo_bpm": setup.tempo_bpm,
        "metre": asdict(setup.metre),
        "feel": setup.feel,
        "key": setup.key.name if setup.key is not None else None,
        "turns": asdict(setup.turns),
        "road_map": asdict(setup.road_map) if setup.road_map is not None else None,
        "split": asdict(setup.split),
        "with_band": setup.with_band,
        "with_click": setup.with_click,
        "autostart": setup.autostart,
        "tap_beats": setup.tap_beats,
        "horizon_sec": setup.horizon_sec,
        "end_beat": setup.end_beat,
        "cues": [[kind, number, cue] for (kind, number), cue in sorted(setup.cues.items())],
        "channels": dict(setup.channels),
        "turn_signal": setup.turn_signal,
        "hold_tempo": setup.hold_tempo,
        "damper_starts": setup.damper_starts,
        "idioms": [name for name in setup.idioms if name != PLAIN],
    }


def read_setup(folder: Path, header: Record) -> Setup:
    """Return the setup that lies in ``folder``; raises InputError for what is missing there."""
    values = header.get("setup")
    if not isinstance(values, Mapping):
        raise InputError(
            str(folder), "the header of its log holds no setup", "It cannot be played again."
        )
    _all_there(folder, header)
    try:
        return _setup(folder, header["seed"], dict(values))
    except (KeyError, TypeError, ValueError) as error:
        raise InputError(
            str(folder),
            f"the setup in the header of its log is damaged ({error})",
            "It cannot be played again.",
        ) from None


def _setup(folder: Path, seed: int, values: dict[str, Any]) -> Setup:
    styles = tuple(_styles(folder))
    beats, changes = folder / BEATS, folder / CHANGES
    road_map, key = values["road_map"], values["key"]
    return Setup(
        seed=seed,
        style=styles[0],
        styles=styles,
        idioms=_idioms(folder, styles, values.get("idioms", ())),
        chart=_chart(folder),
        timed_changes=read_changes(read_text(changes), str(changes)) if changes.exists() else (),
        given_beats=read_beats(read_text(beats), str(beats)) if beats.exists() else (),
        clock=values["clock"],
        tempo_bpm=values["tempo_bpm"],
        metre=Metre(**values["metre"]),
        feel=values["feel"],
        key=parse_key(key) if key is not None else None,
        turns=_turns(values["turns"]),
        road_map=RoadMap(**road_map) if road_map is not None else None,
        split=_split(values["split"]),
        with_band=values["with_band"],
        with_click=values["with_click"],
        autostart=values["autostart"],
        tap_beats=values["tap_beats"],
        horizon_sec=values["horizon_sec"],
        end_beat=values["end_beat"],
        cues={(kind, number): cue for kind, number, cue in values["cues"]},
        channels=values.get("channels", _FORMER_CHANNELS),
        turn_signal=values.get("turn_signal", False),
        hold_tempo=values.get("hold_tempo", False),
        damper_starts=values.get("damper_starts", False),
    )


def _style_name(number: int) -> str:
    return STYLE if number == 1 else STYLE.replace(".", f"-{number}.")


def _styles(folder: Path) -> Iterator[Style]:
    """Yield the style that was played and those that could be asked for next."""
    for number in count(1):
        path = folder / _style_name(number)
        if number > 1 and not path.exists():
            return
        yield load_style(read_text(path), str(path))


def _idiom_files(folder: Path, styles: Iterable[Style]) -> Iterator[tuple[str, Path]]:
    """Yield the name of each learnt idiom that the styles count on, and its copy."""
    names = dict.fromkeys(style.idiom.name for style in styles if style.idiom.name != PLAIN)
    for number, name in enumerate(names, start=1):
        yield name, folder / (IDIOM if number == 1 else IDIOM.replace(".", f"-{number}."))


def _idioms(folder: Path, styles: Iterable[Style], used: Iterable[str]) -> dict[str, Idiom]:
    """Return the copies of learnt idioms; one that was ``used`` must be there."""
    files = dict(_idiom_files(folder, styles))
    for path in (path for name, path in files.items() if name in used):
        _refuse_gap(folder, [path.name])
    return {name: read_file(path) for name, path in files.items() if path.exists()}


def _refuse_gap(folder: Path, names: Sequence[str]) -> None:
    """Raise InputError where none of the copies of these names is there."""
    if not any((folder / name).exists() for name in names):
        problem = f"its copy {names[0]} is missing"
        raise InputError(str(folder), problem, "Without it the session cannot be played again.")


def _all_there(folder: Path, header: Record) -> None:
    """Raise InputError when a copy that the session was made with is gone."""
    clock = header["setup"].get("clock")
    charts = [CHART + suffix for suffix in (".yaml", *MUSICXML_SUFFIXES)]
    needed = [[STYLE]]
    needed += [charts] if header.get("chart") is not None else []
    needed += [[BEATS]] if clock in ("given", "file") else []
    for names in needed:
        _refuse_gap(folder, names)


def _one_of(value: object, choices: object) -> None:
    """Raise ValueError for a word that is none of a Literal's."""
    if value not in get_args(choices):
        raise ValueError(f"{value!r} is none of {', '.join(get_args(choices))}")


def _turns(values: dict[str, Any]) -> Turns:
    turns = Turns(**values)
    _one_of(turns.kind, TurnKind)
    _one_of(turns.first, First)
    _one_of(turns.uneven, Uneven)
    return turns


def _split(values: dict[str, Any]) -> Split:
    """Return the split; lists come back as the tuples they were."""
    pairs = tuple((int(channel), part) for channel, part in values["channels"])
    split = Split(values["kind"], values["pitch"], pairs, values.get("other", "comping"))
    _one_of(split.kind, SplitKind)
    _one_of(split.other, OtherPart)
    return split


def _chart(folder: Path) -> Chart | None:
    for suffix in (".yaml", *MUSICXML_SUFFIXES):
        path = folder / (CHART + suffix)
        if path.exists():
            return read_chart(path)
    return None


def _copy_chart(folder: Path, path: Path) -> None:
    """Copy a chart and the melody files it names, which get names of their own here."""
    if path.suffix.lower() in MUSICXML_SUFFIXES:
        (folder / (CHART + path.suffix.lower())).write_bytes(path.read_bytes())
        return
    names: dict[str, str] = {}

    def renamed(match: re.Match[str]) -> str:
        name = yaml.safe_load(match[2])
        copy = names.setdefault(name, f"melody-{len(names) + 1}{Path(name).suffix.lower()}")
        (folder / copy).write_bytes(beside(path)(name))
        return f"{match[1]}{copy}{match[3]}"

    _write(folder / f"{CHART}.yaml", _MELODY_FILE.sub(renamed, read_text(path)))


def _yaml(model: BaseModel) -> str:
    values = model.model_dump(mode="json")
    return yaml.safe_dump(values, sort_keys=False, allow_unicode=True, width=98)


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")
