"""Moves of the conversation (temporary)."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from jam.listening.phrase import Cell, GridNote
from jam.players.soloist.slots import TICKS, Slot, to_ticks

FIRM = 30
FIRST_STATEMENT = 0
WORDS = {}


@dataclass(frozen=True)
class Statement:
    move: str
    onsets: tuple[int, ...]
    lengths: tuple[int, ...]
    intervals: tuple[int | None, ...]
    firm: int
    phase: int
    tonal: bool = False
    start: int | None = None
    note: str = ""

    @property
    def span(self) -> int:
        return self.onsets[-1] + self.lengths[-1]

    def at(self, tick: int, group: int) -> list[Slot]:
        return [
            Slot(
                tick + onset, length, self.move, group, place, wanted, self.firm,
                tonal=self.tonal, wanted_pitch=self.start if not place else None, why=self.note,
            )
            for place, (onset, length, wanted) in enumerate(zip(self.onsets, self.lengths, self.intervals, strict=True))
        ]


def stated(cell: Cell, *, move: str = "restate", firm: int = FIRM) -> Statement:
    onsets = tuple(to_ticks(onset) for onset in cell.onsets)
    gaps = [b - a for a, b in itertools.pairwise(onsets)] + [TICKS]
    lengths = tuple(max(2, min(to_ticks(length), gap)) for length, gap in zip(cell.lengths, gaps, strict=True))
    return Statement(move, onsets, lengths, (None, *cell.intervals), firm, to_ticks(cell.beat_in_bar))


def from_phrase(notes: Sequence[GridNote], bars: object, firm: int = FIRM) -> Statement:
    first = to_ticks(notes[0].beat)
    onsets = tuple(to_ticks(n.beat) - first for n in notes)
    gaps = [b - a for a, b in itertools.pairwise(onsets)] + [TICKS]
    lengths = tuple(max(2, min(to_ticks(n.beats), g)) for n, g in zip(notes, gaps, strict=True))
    ivs = (None, *(b.pitch - a.pitch for a, b in itertools.pairwise(notes)))
    return Statement("restate", onsets, lengths, ivs, firm, first % 48)


def same_rhythm(s: Statement) -> Statement:
    return replace(s, move="same_rhythm", intervals=(None,) * len(s.intervals), firm=0, note="its rhythm")


def invert(s: Statement) -> Statement:
    return replace(s, move="invert", intervals=tuple(None if i is None else -i for i in s.intervals), tonal=True)


def head(s: Statement, count: int) -> Statement:
    return replace(s, move="fragment", onsets=s.onsets[:count], lengths=s.lengths[:count], intervals=s.intervals[:count])


def sequence(s: Statement, offset: int, *, real: bool = False) -> Statement:
    return replace(s, move="real_sequence" if real else "sequence", tonal=not real,
                   start=None if s.start is None else s.start + offset)


def vary(s: Statement, rng: np.random.Generator) -> Statement:
    kind = int(rng.integers(0, 4))
    n = len(s.onsets)
    if kind == 0 and n > 4:  # drop one inner note
        d = int(rng.integers(1, n - 1))
        a, b = s.intervals[d], s.intervals[d + 1]
        merged = None if a is None or b is None else a + b
        return replace(s, onsets=s.onsets[:d] + s.onsets[d + 1:], lengths=s.lengths[:d - 1] + (s.onsets[d + 1] - s.onsets[d - 1],) + s.lengths[d + 1:],
                       intervals=s.intervals[:d] + (merged,) + s.intervals[d + 2:])
    if kind == 1 and n > 3:  # open the last interval
        return replace(s, intervals=(*s.intervals[:-1], None))
    if kind == 2 and n > 3:  # cut the tail
        return replace(s, onsets=s.onsets[:-1], lengths=s.lengths[:-1], intervals=s.intervals[:-1])
    d = int(rng.integers(1, n))
    i = s.intervals[d]
    if i is None:
        return s
    return replace(s, intervals=(*s.intervals[:d], i + int(rng.choice([-2, -1, 1, 2])), *s.intervals[d + 1:]))
