"""What is said again? Repeated patterns in a set of points, exactly and under translation.

SIA and SIATEC: Meredith, Lemström & Wiggins 2002, "Algorithms for discovering repeated patterns in
multidimensional representations of polyphonic music", Journal of New Music Research 31(4),
321-345. A note is a point (onset, pitch). The *maximal translatable pattern* MTP(v) is every point
that is still in the set when shifted by v; the *translational equivalence class* TEC of a pattern
is the set of all its translates within the set. A pattern and its translate in pitch are a
sequence; with scale steps for pitch, a tonal one.

`repeated_runs` is the same search kept to what a line needs on the live path: patterns of
neighbouring notes, said again within a few dozen notes. Onsets are whole ticks, pitches whole
semitones or scale steps.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Point = tuple[int, int]
"""(onset, pitch); also a vector between two points."""

REACH_NOTES = 32
_WIDE = 1 << 20
"""Larger than any difference of pitches: two coordinates in one whole number."""


@dataclass(frozen=True, slots=True)
class Tec:
    """A pattern (points in order) and the vectors that keep it within the set, (0, 0) among them"""

    pattern: tuple[Point, ...]
    translators: tuple[Point, ...]


def maximal_patterns(points: Iterable[Point]) -> dict[Point, tuple[Point, ...]]:
    """Return MTP(v) for every vector v between an earlier point and a later one (SIA)."""
    ordered = sorted(set(points))
    found: dict[Point, list[Point]] = {}
    for index, (onset, pitch) in enumerate(ordered):
        for later_onset, later_pitch in ordered[index + 1 :]:
            found.setdefault((later_onset - onset, later_pitch - pitch), []).append((onset, pitch))
    return {vector: tuple(found[vector]) for vector in sorted(found)}


def translates(pattern: Sequence[Point], points: Iterable[Point]) -> tuple[tuple[Point, ...], ...]:
    """Return the TEC of ``pattern``: every translate that lies within ``points``, itself first."""
    moved = [_moved(pattern, vector) for vector in _translators(pattern, set(points))]
    return (tuple(pattern), *(other for other in moved if other != tuple(pattern)))


def siatec(points: Iterable[Point]) -> tuple[Tec, ...]:
    """Return the TEC of every maximal translatable pattern, each class once, larger ones first."""
    all_points = set(points)
    classes: dict[tuple[Point, ...], Tec] = {}
    for pattern in maximal_patterns(all_points).values():
        onset, pitch = pattern[0]
        shape = _moved(pattern, (-onset, -pitch))
        if shape not in classes:
            classes[shape] = Tec(pattern, _translators(pattern, all_points))
    return tuple(sorted(classes.values(), key=lambda tec: (-len(tec.pattern), tec.pattern)))


def _translators(pattern: Sequence[Point], points: set[Point]) -> tuple[Point, ...]:
    onset, pitch = pattern[0]
    vectors = [(o - onset, p - pitch) for o, p in sorted(points)]
    return tuple(v for v in vectors if points.issuperset(_moved(pattern, v)))


def _moved(pattern: Sequence[Point], vector: Point) -> tuple[Point, ...]:
    return tuple((onset + vector[0], pitch + vector[1]) for onset, pitch in pattern)


@dataclass(frozen=True, slots=True)
class Run:
    """Notes ``first`` to ``first + count - 1`` of a line said again from note ``again`` on.

    ``moved`` is how much higher.
    """

    first: int
    again: int
    count: int
    moved: int


def repeated_runs(
    onsets: Sequence[int] | Ints,
    pitches: Sequence[int] | Ints,
    fewest: int = 3,
    reach: int = REACH_NOTES,
) -> list[Run]:
    """Return every run of at least ``fewest`` neighbouring notes that is said again.

    Runs are as long as they go and may overlap their repetition (a figure said three times is a
    run of two of them). ``reach`` is how many notes later the repetition may begin, at most.
    """
    if len(onsets) <= fewest:
        return []
    x, y = np.asarray(onsets, dtype=np.int64), np.asarray(pitches, dtype=np.int64)
    first, again = _pairs(len(x), reach)
    vector = (x[again] - x[first]) * _WIDE + (y[again] - y[first])
    # Pairs stand diagonal by diagonal, so a run is a stretch of equal vectors on one diagonal.
    same = (vector[1:] == vector[:-1]) & (first[1:] == first[:-1] + 1)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], same, [False])).astype(np.int8)))
    begin, end = edges[::2], edges[1::2]
    long = end - begin + 1 >= fewest
    rows = zip(
        first[begin[long]].tolist(),
        again[begin[long]].tolist(),
        (end - begin + 1)[long].tolist(),
        (y[again[begin[long]]] - y[first[begin[long]]]).tolist(),
        strict=True,
    )
    return [Run(*row) for row in rows]


def _pairs(notes: int, reach: int) -> tuple[Ints, Ints]:
    """Return the indices of all pairs of notes within reach, by distance and then by first."""
    lags = np.arange(1, min(reach, notes - 1) + 1)
    counts = notes - lags
    begins = np.concatenate(([0], np.cumsum(counts)[:-1]))
    first = np.arange(int(counts.sum())) - np.repeat(begins, counts)
    return first, first + np.repeat(lags, counts)
