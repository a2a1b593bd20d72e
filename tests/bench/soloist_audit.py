"""Do thousands of replies keep the hard rules? ``python -m tests.bench.soloist_audit``.

All shipped tunes (and human solos, with a data folder), all styles, tempi 60 to 300, all twelve
keys, judged by `tests.audit` alone. Half of the sessions know every chord ahead; in the others one
chord in five arrives unannounced. Printed: breaches of H1 to H5 where the chord was known, what
was struck within half a beat after a chord nobody announced, landing rates beside chance. For
the same through the whole program see ``audit_many``.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, fields
from pathlib import Path

import numpy as np

from jam.session.resources import list_charts, list_styles
from tests.audit.findings import Finding
from tests.audit.measures import Landed, landed
from tests.audit.roles import Ear
from tests.audit.rules import audit_rules, landings
from tests.bench import soloist_people as people
from tests.bench.soloist_calls import arguments, parsed, until
from tests.bench.soloist_ground import of_chart, of_solo
from tests.bench.soloist_surprise import Played, in_key, played
from tests.bench.words import load, say

WRONG = 0.2
SOON_BEATS = 0.5
LATER_BEATS, BEFORE_BEATS = 1.0, 2.0
"""How far behind and before an unannounced chord a note may owe its fate to it."""


@dataclass(frozen=True)
class Task:
    """One session: where, how, and what share of its chords comes unannounced."""

    source: str
    chart: bool
    style: str
    seed: int
    wrong: float


@dataclass
class Tally:
    """What was counted in one session."""

    name: str
    replies: int = 0
    notes: int = 0
    broken: int = 0
    findings: list[tuple[str, bool, str]] = field(default_factory=list)
    known: Landed = field(default_factory=Landed)
    surprised: Landed = field(default_factory=Landed)
    surprises: Counter[str] = field(default_factory=Counter)


def tally(task: Task) -> list[Tally]:
    """Play and audit one session; one tally a reply, the first of them holding all."""
    rng = np.random.default_rng((task.seed, hash_of(task.source), hash_of(task.style)))
    shift, bpm = int(rng.integers(12)), float(rng.integers(60, 301))
    if task.chart:
        ground = in_key(of_chart(task.source, task.seed), shift, bpm)
    else:
        ground = in_key(of_solo(people.solo(Path(task.source))), shift, bpm)
    return counted(played(ground, task.style, task.seed, wrong=task.wrong))


def hash_of(text: str) -> int:
    """Return a number for a text, the same in every run."""
    return sum((i + 1) * ord(c) for i, c in enumerate(text)) % 99991


def counted(one: Played) -> list[Tally]:
    """Audit one session."""
    found = audit_rules(one.session, one.terms)
    replies = [reply for reply in one.session.replies if reply.notes]
    total = Tally(one.name, len(replies), sum(len(reply.notes) for reply in replies))
    total.findings = [
        (f.rule, _excused(f, one), f"{one.name} · {f.beat} · {f.note} · {f.chord} · {f.text}")
        for f in found
    ]
    total.broken = len({f.reply for f in found if not _excused(f, one)})
    surprised = {surprise.reply for surprise in one.surprises}
    calm = [reply for reply in replies if reply.id not in surprised]
    landed(one.session, calm, one.terms, total.known)
    for reply in replies:
        if reply.id in surprised:
            for landing in landings(Ear(one.session, reply, one.terms)):
                total.surprised.add(landing)
    for surprise in one.surprises:
        total.surprises[_met(one, surprise.reply, surprise.beat)] += 1
    return [total, *[Tally(one.name) for _ in range(max(0, len(replies) - 1))]]


def _excused(finding: Finding, one: Played) -> bool:
    """Tell whether a chord that nobody announced explains a finding: it came too late for the
    note, or in place of the one that the note was going to."""
    near = any(
        s.reply == finding.reply
        and finding.beat is not None
        and s.beat - BEFORE_BEATS <= finding.beat <= s.beat + LATER_BEATS
        for s in one.surprises
    )
    return near or "late" in finding.tags


def _met(one: Played, number: int, beat: float) -> str:
    """Return how the chord that arrived on ``beat`` was met within half a beat."""
    reply = next(r for r in one.session.replies if r.id == number)
    ear = Ear(one.session, reply, one.terms)
    sounding = [n for n in reply.notes if n.beat < beat + SOON_BEATS + 1e-6 and n.end > beat + 1e-3]
    if not sounding:
        return "silent"
    sound = ear.sound_at(beat, spans=False)
    if sound is None or sound.silent:
        return "silent"
    fresh = [n for n in sounding if n.beat >= beat - 1e-3]
    held = [n for n in sounding if n.beat < beat - 1e-3 and n.end > beat + 0.1]
    if any(sound.passes(n.pitch) for n in [*fresh, *held]):
        return "strong"
    if not fresh and not held:
        return "silent"
    last = fresh[-1] if fresh else held[-1]
    index = reply.notes.index(last)
    return "leaning" if ear.resolution(index, last.beat) is not None else "weak"


def tasks(options: object) -> Iterator[Task]:
    """Yield sessions without end: tunes, styles, seeds in turn."""
    where = people.folder(options.data)  # type: ignore[attr-defined]
    charts = [(entry.name, True) for entry in list_charts()]
    solos = [(str(p), False) for p in sorted(where.glob("*.json"))] if where else []
    styles = [entry.name for entry in list_styles()]
    if options.styles and options.styles != "all":  # type: ignore[attr-defined]
        styles = options.styles.split(",")  # type: ignore[attr-defined]
    first = options.seed  # type: ignore[attr-defined]
    for seed in range(first, first + 1000):
        rng = np.random.default_rng((seed, 41))
        sources = charts + [solos[int(i)] for i in rng.permutation(len(solos))[: len(charts)]]
        row = [
            Task(source, chart, style, seed, WRONG if (index + place + seed) % 2 else 0.0)
            for index, (source, chart) in enumerate(sources)
            for place, style in enumerate(styles)
        ]
        yield from (row[int(i)] for i in rng.permutation(len(row)))


def merged(parts: Sequence[Landed]) -> Landed:
    """Return the sum of several counts."""
    total = Landed()
    for part in parts:
        for entry in fields(Landed):
            if entry.name == "kinds":
                total.kinds = dict(Counter(total.kinds) + Counter(part.kinds))
            else:
                now = getattr(total, entry.name) + getattr(part, entry.name)
                setattr(total, entry.name, now)
    return total


def main(given: Sequence[str] | None = None) -> int:
    """Play, audit, print; the exit code is 1 where a rule is broken."""
    parser = arguments("soloist_audit", __doc__ or "", replies=5000)
    parser.add_argument("--limit", type=int, default=6, help="places printed for each rule")
    options = parsed(parser, given, 600)
    found = until(tally, tasks(options), options.replies)
    replies = sum(one.replies for one in found)
    broken = sum(one.broken for one in found)
    notes = sum(one.notes for one in found)
    say(f"{replies} replies, {notes} notes; {broken} replies"
        f" ({100 * broken / max(1, replies):.2f} %) break a rule, chords known")  # fmt: skip
    by_rule: dict[str, list[tuple[bool, str]]] = {}
    for one in found:
        for rule, excused, text in one.findings:
            by_rule.setdefault(rule, []).append((excused, text))
    for rule, rows in sorted(by_rule.items()):
        open_ = [text for excused, text in rows if not excused]
        say(
            f"  {rule:<20}{len(open_):6} broken, {len(rows) - len(open_)} where the chord came late"
        )
        for text in open_[: options.limit]:
            say(f"      {text}")
    surprises = sum((one.surprises for one in found), Counter[str]())
    met = sum(surprises.values()) - surprises["silent"]
    say(f"\nchords that came unannounced inside a reply: {sum(surprises.values())},"
        f" {surprises['silent']} of them in a rest")  # fmt: skip
    say(f"  a strong degree within half a beat: {100 * surprises['strong'] / max(1, met):.1f} %"
        f" (wanted: 97), leaning {surprises['leaning']}, weak {surprises['weak']}")  # fmt: skip
    for title, total in (
        ("landings, every chord known ahead", merged([one.known for one in found])),
        ("landings in replies that were surprised", merged([one.surprised for one in found])),
    ):
        say(f"\n{title}")
        passed = total.places + total.silent
        hit = total.places - total.weak
        say(f"  {'structural changes landed at all':<50}{100 * hit / max(1, passed):10.1f} %")
        for name, value in total.rows():
            if ("same replies" in name or "whole replies" in name) and not total.moved_places:
                continue
            say(f"  {name:<50}{value:>12}")
    say(load())
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
