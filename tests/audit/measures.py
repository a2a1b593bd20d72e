"""What are the replies like? Landing rates beside chance, and how the lines are made.

Two kinds of chance stand beside the landing rate: how many of the twelve pitch classes would have
been strong at each place, and how often the same reply passes when it is moved up by 1 to 11
semitones (which grants the transposed one its anticipations and leaning notes too). The line's
measures are those of the figures on human solos, on the grid of the log.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby, pairwise
from math import nan

from .reading import Note, Reply, Session
from .roles import Ear, Terms
from .rules import Landing, approach_findings, ending_findings, landing_findings, landings

HUMAN: dict[str, tuple[float, float, float]] = {
    "chord tones %": (44.3, 51.7, 60.6),
    "tensions %": (21.5, 31.7, 44.6),
    "neither %": (9.6, 15.3, 22.4),
    "repeats %": (0.3, 3.5, 12.7),
    "steps %": (40.8, 57.5, 70.5),
    "thirds %": (17.2, 26.1, 37.3),
    "leaps %": (5.0, 11.1, 19.4),
    "up %": (38.8, 45.6, 53.8),
    "long runs %": (6.7, 14.7, 25.1),
    "starts off the beat %": (34.4, 67.6, 94.6),
    "ends off the beat %": (34.1, 57.1, 83.8),
    "range, semitones": (10.0, 13.8, 18.3),
    "last note strong %": (75.0, 92.0, 100.0),
    "at a change strong %": (71.0, 84.7, 95.9),
}
"""5th percentile, median and 95th of 208 solos in swing feel (Weimar Jazz Database, Pfleiderer et
al. 2017, ODbL 1.0); tensions are the sum of the available and the altered ones."""


@dataclass
class Landed:
    """Counts over many replies. ``chance`` and ``guide_chance`` are sums of shares of twelve."""

    places: int = 0
    strong: int = 0
    leaning: int = 0
    anticipation: int = 0
    weak: int = 0
    silent: int = 0
    doubtful: int = 0
    guide: int = 0
    chance: float = 0.0
    guide_chance: float = 0.0
    moved_places: int = 0
    moved_landed: int = 0
    moved_replies: int = 0
    moved_clean: int = 0
    kinds: dict[str, int] = field(default_factory=dict)

    def add(self, landing: Landing) -> None:
        """Count one place to land on; silence is counted, and left out of the rates."""
        self.kinds[landing.kind] = self.kinds.get(landing.kind, 0) + 1
        if landing.kind == "silent" or landing.note is None:
            self.silent += 1
            return
        self.places += 1
        self.doubtful += landing.doubtful
        sound = landing.point.sound
        self.chance += len(sound.wide) / 12
        self.guide_chance += sound.guides() / 12
        if landing.kind in ("leaning", "anticipation", "weak"):
            setattr(self, landing.kind, getattr(self, landing.kind) + 1)
        else:
            self.strong += 1
        self.guide += landing.kind not in ("leaning", "weak") and sound.guide(landing.note.pitch)

    def rows(self) -> list[tuple[str, str]]:
        """Return what is to be printed, name and value."""
        met = max(1, self.places)
        landed = self.places - self.weak
        moved = self.moved_landed / max(1, self.moved_places)
        whole = self.moved_clean / max(1, self.moved_replies)
        return [
            ("places met / passed in silence", f"{self.places} / {self.silent}"),
            ("landed", _percent(landed / met)),
            ("  strong on or across it", _percent(self.strong / met)),
            ("  leaning, resolved", _percent(self.leaning / met)),
            ("  anticipated", _percent(self.anticipation / met)),
            ("  only by a wide reading", _percent(self.doubtful / met)),
            ("chance: pitches of twelve that are strong", _percent(self.chance / met)),
            ("chance: same replies moved by 1-11 semitones", _percent(moved)),
            ("chance: whole replies so moved that pass H1-H3", _percent(whole)),
            ("on the 3rd or 7th", _percent(self.guide / met)),
            ("chance of the 3rd or 7th", _percent(self.guide_chance / met)),
        ]


def _percent(share: float) -> str:
    return f"{100 * share:.1f} %"


def landed(session: Session, replies: Iterable[Reply], terms: Terms, total: Landed) -> None:
    """Add the landings of ``replies`` to ``total``, and those of their transpositions."""
    for reply in replies:
        if not reply.notes:
            continue
        for landing in landings(Ear(session, reply, terms)):
            total.add(landing)
        for shift in range(1, 12):
            moved = replace(reply, notes=tuple(_moved(note, shift) for note in reply.notes))
            ear = Ear(session, moved, terms)
            total.moved_replies += 1
            total.moved_clean += not any(
                any(check(ear, moved))
                for check in (landing_findings, ending_findings, approach_findings)
            )
            met = [x for x in landings(ear) if x.kind != "silent"]
            total.moved_places += len(met)
            total.moved_landed += sum(x.kind != "weak" for x in met)


def _moved(note: Note, shift: int) -> Note:
    return replace(note, pitch=note.pitch + shift)


def talked_over(session: Session) -> tuple[float, float]:
    """Return for how many seconds the companion's replies sounded, and for how many of them a key
    of the player's line was down."""
    own = [
        (note.t, note.t + session.beats.sec(note.end) - session.beats.sec(note.beat))
        for reply in session.replies
        for note in reply.notes
    ]
    both = sum(
        max(0.0, min(end, key_end) - max(start, key_start))
        for start, end in own
        for key_start, key_end in session.player
        if key_start < end and key_end > start
    )
    return sum(end - start for start, end in own), both


def line_measures(session: Session, replies: Sequence[Reply], terms: Terms) -> dict[str, float]:
    """Return the measures of a set of replies, taken together; empty when there are none."""
    replies = [reply for reply in replies if len(reply.notes) > 1]
    if not replies:
        return {}
    notes = [note for reply in replies for note in reply.notes]
    steps = [b.pitch - a.pitch for reply in replies for a, b in pairwise(reply.notes)]
    beats = sum(reply.notes[-1].end - reply.notes[0].beat for reply in replies)
    return {
        "replies": len(replies),
        "notes a reply": len(notes) / len(replies),
        "density, notes a beat": len(notes) / beats,
        **_harmonic(session, replies, terms),
        **_intervals(steps),
        "long runs %": _long_runs(replies),
        "triplet beats %": _beats_with(notes, (4, 8)),
        "sixteenth beats %": _beats_with(notes, (3, 9)),
        "starts off the beat %": _mean(100.0 * _off(r.notes[0].beat) for r in replies),
        "ends off the beat %": _mean(100.0 * _off(r.notes[-1].beat) for r in replies),
        "range, semitones": _mean(
            max(n.pitch for n in r.notes) - min(n.pitch for n in r.notes) for r in replies
        ),
        "mean pitch": _mean(note.pitch for note in notes),
        "velocity": _mean(note.velocity for note in notes),
    }


def _harmonic(session: Session, replies: Sequence[Reply], terms: Terms) -> dict[str, float]:
    ears = [Ear(session, reply, terms) for reply in replies]
    judged = [j for ear in ears for j in ear.judged if j.sound and not j.sound.silent]
    tones = [j.sound is not None and j.note.pitch % 12 in j.sound.tones for j in judged]
    strong = [j.standing == "strong" for j in judged]
    first = [x for ear in ears for x in landings(ear) if x.note is not None and not x.point.seam]
    lasts = [ear.judged[-1].standing == "strong" for ear in ears]
    return {
        "chord tones %": 100 * _mean(tones),
        "tensions %": 100 * (_mean(strong) - _mean(tones)),
        "neither %": 100 * (1 - _mean(strong)),
        "at a change strong %": 100
        * _mean(x.note is not None and x.point.sound.passes(x.note.pitch) for x in first),
        "last note strong %": 100 * _mean(lasts),
    }


def _intervals(steps: Sequence[int]) -> dict[str, float]:
    return {
        "repeats %": 100 * _mean(step == 0 for step in steps),
        "steps %": 100 * _mean(abs(step) in (1, 2) for step in steps),
        "thirds %": 100 * _mean(abs(step) in (3, 4) for step in steps),
        "leaps %": 100 * _mean(abs(step) > 4 for step in steps),
        "up %": 100 * _mean(step > 0 for step in steps),
    }


def _long_runs(replies: Sequence[Reply]) -> float:
    """Return the share of direction runs that hold four intervals or more, in percent."""
    lengths = [
        len(list(run))
        for reply in replies
        for way, run in groupby(_sign(b.pitch - a.pitch) for a, b in pairwise(reply.notes))
        if way
    ]
    return 100 * _mean(length >= 4 for length in lengths)


def _sign(step: int) -> int:
    return (step > 0) - (step < 0)


def _beats_with(notes: Sequence[Note], places: tuple[int, ...]) -> float:
    """Return the share of beats with notes that hold one on these twelfths, in percent."""
    by_beat: dict[tuple[int, int], bool] = {}
    for note in notes:
        twelfths = round(12 * note.beat)
        key = (twelfths // 12, 0)
        by_beat[key] = by_beat.get(key, False) or twelfths % 12 in places
    return 100 * _mean(by_beat.values())


def _off(beat: float) -> bool:
    return abs(beat - round(beat)) > 0.05


def _mean(values: Iterable[float]) -> float:
    kept = list(values)
    return sum(kept) / len(kept) if kept else nan


def pooled(parts: Sequence[dict[str, float]]) -> dict[str, float]:
    """Return the mean of several sets of measures, each weighed by its number of replies; what
    could not be measured in one (nan) is left out there."""
    parts = [part for part in parts if part]
    means = {}
    for key in parts[0] if parts else {}:
        known = [part for part in parts if part[key] == part[key]]
        weight = sum(part["replies"] for part in known)
        total = sum(part[key] * part["replies"] for part in known)
        means[key] = weight if key == "replies" else total / weight if known else nan
    return means
