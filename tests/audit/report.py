"""Audit session folders and print what is found: ``python -m tests.audit.report FOLDER...``

Pulse and key are taken from the setup in the header, blues from the chart's copy in the folder,
range and breath from the style's copy, by the plain lines they stand on; options overrule them.
A folder without a log is searched for folders that have one. The exit code is 1 when a hard rule
is broken or a log is unsound, else 0.
"""

from __future__ import annotations

import argparse
import re
import sys
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from . import cells
from .chords import LETTERS
from .claims import Disagreement, disagreements
from .findings import Finding
from .ground import Record
from .integrity import audit_log
from .measures import HUMAN, Landed, landed, line_measures, pooled, talked_over
from .reading import Reply, Session, load
from .roles import Ear, Terms
from .rules import audit_rules

PULSES = {"quarter": 1.0, "dotted quarter": 1.5, "half": 2.0}


@dataclass
class Audit:
    """Everything found in one folder."""

    folder: Path
    session: Session
    terms: Terms
    findings: list[Finding] = field(default_factory=list)
    claims: list[Disagreement] = field(default_factory=list)
    notes: Counter[str] = field(default_factory=Counter)
    measures: dict[str, float] = field(default_factory=dict)

    @property
    def style(self) -> str:
        """The style's name in the header."""
        return str(self.session.header.get("style", "?"))

    @property
    def replies(self) -> list[Reply]:
        """The replies that have notes."""
        return [reply for reply in self.session.replies if reply.notes]


def audit(folder: Path, overrule: dict[str, float | bool | None]) -> Audit:
    """Audit the log in ``folder``; ``overrule`` holds terms that take the place of its own."""
    session = load(folder)
    found = {
        **terms_of(folder, session.header),
        **{k: v for k, v in overrule.items() if v is not None},
    }
    terms = Terms(**found)  # type: ignore[arg-type]  # one mapping for floats, ints and bools
    report = Audit(folder, session, terms)
    report.findings.extend([*audit_log(session), *audit_rules(session, terms)])
    for reply in report.replies:
        report.claims.extend(disagreements(session, reply, terms))
        for judged in Ear(session, reply, terms).judged:
            report.notes[judged.standing] += 1
            report.notes["strong by some schools only"] += judged.contested
    report.measures = line_measures(session, report.replies, terms)
    return report


def terms_of(folder: Path, header: Record) -> dict[str, float | bool | None]:
    """Return what the header's setup and the chart's and style's copies say."""
    terms: dict[str, float | bool | None] = {}
    setup = header.get("setup") or {}
    chart, style = _text(folder / "chart.yaml"), _text(folder / "style.yaml")
    terms["pulse_beats"] = (setup.get("metre") or {}).get("pulse_beats") or _pulse(chart)
    terms["blues"] = _value(chart, "blues") in ("true", "yes")
    key = setup.get("key") or _value(chart, "key")
    if key:
        terms["tonic"] = (LETTERS[key[0]] + key[1:2].count("#") - key[1:2].count("b")) % 12
    for name, number in (("low", int), ("high", int), ("breath_sec", float)):
        value = _value(style, name)
        if value is not None:
            terms[name] = number(value)
    return terms


def _pulse(chart: str) -> float:
    metre, pulse = _value(chart, "metre") or "4/4", _value(chart, "pulse") or ""
    beats, unit = (int(part) for part in re.findall(r"\d+", metre)[:2])
    usual = 1.5 if unit == 8 else 4.0 / unit
    return beats * 4.0 / unit if pulse == "bar" else PULSES.get(pulse, usual)


def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8") if path.is_file() else ""


def _value(text: str, key: str) -> str | None:
    """Return the value of the first line ``key: value``, without quotes and comment."""
    match = re.search(rf"^\s*[\"']?{key}[\"']?:\s*([^#\n]+|\S+)", text, re.MULTILINE)
    return match[1].strip().strip("\"'") if match else None


def folders(paths: Iterable[Path]) -> list[Path]:
    """Return the session folders among ``paths`` and below them, in order."""
    found: list[Path] = []
    for path in paths:
        below = [log.parent for log in sorted(path.rglob("session.jsonl"))]
        found.extend([path] if path.is_file() else below)
    return found


# --- printing ----------------------------------------------------------------------------


def _say(text: str = "") -> None:
    sys.stdout.write(text + "\n")


def say_findings(audits: Sequence[Audit], limit: int) -> None:
    """Print findings by rule with their places, ``limit`` of each rule at most."""
    by_rule: dict[str, list[tuple[Audit, Finding]]] = {}
    for report in audits:
        for finding in report.findings:
            by_rule.setdefault(_heading(finding), []).append((report, finding))
    for rule, found in sorted(by_rule.items()):
        _say(f"\n{rule}: {len(found)}")
        for report, finding in found[:limit]:
            beat = "" if finding.beat is None else f"beat {finding.beat:g}"
            place = f"reply {finding.reply}" if finding.reply is not None else "log"
            row = (report.folder.name, place, beat, finding.note, finding.chord, finding.text)
            _say("  " + " · ".join(part for part in row if part))


def _heading(finding: Finding) -> str:
    return finding.rule + (f" ({', '.join(sorted(finding.tags))})" if finding.tags else "")


def say_claims(audits: Sequence[Audit], limit: int) -> None:
    """Print where the log says something else than the audit hears."""
    by_kind: dict[tuple[bool, str], list[tuple[Audit, Disagreement]]] = {}
    for report in audits:
        for claim in report.claims:
            by_kind.setdefault((not claim.serious, claim.kind), []).append((report, claim))
    for (light, kind), found in sorted(by_kind.items(), key=lambda item: item[0]):
        _say(f"\nclaim, {'a matter of words' if light else 'SERIOUS'}: {kind}: {len(found)}")
        for report, claim in found[: limit if not light else 3]:
            place = f"reply {claim.reply} · beat {claim.beat:g} · {claim.note} · {claim.chord}"
            _say(f"  {report.folder.name} · {place} · {claim.text}")


def say_summary(audits: Sequence[Audit]) -> None:
    """Print counts, landings beside chance, cells shared beside chance, and the styles' lines."""
    replies = sum(len(report.replies) for report in audits)
    broken = {(id(r), f.reply) for r in audits for f in r.findings if f.reply and not f.tags}
    _say(f"\n{len(audits)} sessions, {replies} replies, {len(broken)} with a finding (untagged)")
    notes = sum((report.notes for report in audits), Counter[str]())
    total = sum(count for kind, count in notes.items() if kind != "strong by some schools only")
    for kind, count in notes.most_common():
        _say(f"  {kind}: {count} ({100 * count / max(1, total):.1f} %)")
    sounded, both = (sum(column) for column in zip(*map(_talked, audits), strict=True))
    _say(f"  {sounded:.0f} s sounded, the player's line with it for {both:.0f} s")
    say_landings(audits)
    say_cells(audits)
    say_styles(audits)


def _talked(report: Audit) -> tuple[float, float]:
    return talked_over(report.session)


def say_landings(audits: Sequence[Audit]) -> None:
    """Print how the places to land on were met."""
    total = Landed()
    for report in audits:
        landed(report.session, report.replies, report.terms, total)
    _say("\nlandings")
    for name, value in total.rows():
        _say(f"  {name:<50}{value:>12}")


def say_cells(audits: Sequence[Audit]) -> None:
    """Print in how many replies the call's cell is found again, beside chance."""
    pairs = [
        (call.notes, reply.notes)
        for report in audits
        for reply in report.replies
        for call in report.session.calls
        if call.id == reply.answers
    ]
    shared = cells.rates(pairs)
    chance = cells.rates(cells.strangers(pairs, np.random.default_rng(1)))
    _say(f"\ncells of the call in its reply ({len(pairs)} pairs), and in replies to other calls")
    for kind, rate in shared.items():
        _say(f"  {kind:<8}{100 * rate:6.1f} %   by chance {100 * chance.get(kind, 0):6.1f} %")


def say_styles(audits: Sequence[Audit]) -> None:
    """Print the measures of each style side by side, with human solos beside them."""
    styles = sorted({report.style for report in audits})
    columns = [pooled([r.measures for r in audits if r.style == style]) for style in styles]
    if not any(columns):
        return
    _say("\n" + f"{'lines by style':<24}" + "".join(f"{s[:10]:>11}" for s in styles) + "    human")
    for key in next(column for column in columns if column):
        row = "".join(f"{column[key]:11.2f}" if column else " " * 11 for column in columns)
        human = HUMAN.get(key)
        beside = "" if human is None else f"    {human[0]:g} .. {human[1]:g} .. {human[2]:g}"
        _say(f"{key:<24}{row}{beside}")


def main(arguments: Sequence[str] | None = None) -> int:
    """Audit the folders named; return the exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.audit.report", description=__doc__)
    parser.add_argument("paths", nargs="+", type=Path, metavar="FOLDER")
    parser.add_argument("--limit", type=int, default=12, help="places printed for each rule")
    parser.add_argument("--pulse", type=float, help="pulse in quarter notes")
    parser.add_argument("--low", type=int, help="lowest pitch of the range")
    parser.add_argument("--high", type=int, help="highest pitch of the range")
    parser.add_argument("--breath", type=float, help="longest phrase in seconds")
    parser.add_argument("--voices", type=int, help="notes that may sound at once")
    options = parser.parse_args(arguments)
    overrule = {
        "pulse_beats": options.pulse,
        "low": options.low,
        "high": options.high,
        "breath_sec": options.breath,
        "voices": options.voices,
    }
    audits = [audit(folder, overrule) for folder in folders(options.paths)]
    if not audits:
        _say("no session.jsonl found")
        return 2
    say_findings(audits, options.limit)
    say_claims(audits, options.limit)
    say_summary(audits)
    return int(any(not finding.tags for report in audits for finding in report.findings))


if __name__ == "__main__":
    sys.exit(main())
