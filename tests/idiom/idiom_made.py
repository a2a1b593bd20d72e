"""Made-up lines to learn from: every note invented, on the grid or with a known swing and lag."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from jam.harmony.changes import Change, Changes
from jam.harmony.symbols import parse_chord
from jam.idiom.classes import interval_class
from jam.idiom.learn import Played
from jam.listening.phrase import LineNote
from jam.transport.swing import swing_beat

SEVENTH = Changes([Change(0.0, parse_chord("C7"))])


def line_of(
    ticks: Sequence[int],
    pitches: Sequence[int],
    bpm: float = 120.0,
    *,
    ratio: float = 1.0,
    lag_sec: float = 0.0,
) -> tuple[LineNote, ...]:
    """Return notes at ``ticks`` (twelfths of a beat) as somebody with that swing and lag plays."""
    heard = [swing_beat(tick / 12, ratio) + lag_sec * bpm / 60 for tick in ticks]
    ends = [*heard[1:], heard[-1] + 0.5]
    return tuple(
        LineNote(on * 60 / bpm, end * 60 / bpm, pitch, 80, on, end - on)
        for on, end, pitch in zip(heard, ends, pitches, strict=True)
    )


def eighths(count: int, bar: int = 0) -> list[int]:
    """Return the ticks of so many eighths from the beginning of a bar (from 0) in 4/4."""
    return [48 * bar + 6 * number for number in range(count)]


LAW = np.full((10, 25), 0.0)
"""A made-up law: a step goes on or turns, a leap turns back by step, and so on."""
for _reached in range(10):
    _ways = {-2: 0.3, -1: 0.2, 1: 0.1, 2: 0.2, 4: 0.1, -5: 0.1}
    if _reached in (8, 9):
        _ways = {-1: 0.6, -2: 0.4}
    if _reached in (1, 2):
        _ways = {1: 0.7, 2: 0.3}
    for _way, _share in _ways.items():
        LAW[_reached, _way + 12] = _share


def walk(rng: np.random.Generator, count: int) -> list[int]:
    """Return pitches drawn by the law; they may leave every instrument's range."""
    pitches, reached = [60], 0
    while len(pitches) < count:
        way = int(rng.choice(25, p=LAW[reached])) - 12
        pitches.append(pitches[-1] + way)
        reached = interval_class(way)
    middle = 60 - 12 * round((np.mean(pitches) - 60) / 12)
    return [int(pitch + middle - 60) for pitch in pitches]


def corpus(rng: np.random.Generator, phrases: int, notes: int = 40) -> Played:
    """Return phrases of eighths over C7, each drawn by the law."""
    said = [line_of(eighths(notes, 6 * k), walk(rng, notes)) for k in range(phrases)]
    return Played(tuple(said), SEVENTH, 120.0)


def intervals(pitches: Sequence[int]) -> list[int]:
    """Return the intervals between pitches."""
    return [b - a for a, b in pairwise(pitches)]
