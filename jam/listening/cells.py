"""Which few notes characterise a phrase?

Local boundary strength (LBDM: Cambouropoulos 2001, "The local boundary detection model", ICMC)
says between which notes a listener hears a cut. A cell is a run of three to seven notes without a
rest inside; the more it is set off at its ends, whole inside, rhythmically distinct and well
placed, the more salient it is. What the player says again, at the same pitch or in sequence (real,
or tonal: the same scale steps), characterises the phrase most (`jam.listening.repeats`). A scale or
a repeated note said again is no figure. The weights are the author's.

Beats are quarter notes, intervals semitones.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from jam.listening.phrase import Cell, GridNote
from jam.listening.repeats import repeated_runs
from jam.listening.steps import scale_steps
from jam.transport.metre import Bars

FEWEST, MOST = 3, 7
CANDIDATES = 8
REST_BEATS = 1.0
PITCH_WEIGHT, ONSET_WEIGHT, REST_WEIGHT = 0.25, 0.50, 0.25
LENGTH_BONUS = {3: -0.2, 4: 0.4, 5: 0.4, 6: 0.1, 7: -0.1}
SAID_AGAIN = {3: 0.6, 4: 1.1, 5: 1.4, 6: 1.4, 7: 1.3}
SAID_AT_ONCE, ANOTHER_TIME, TONALLY = 0.7, 0.45, 0.9
"""Bonus of a cell said again (three notes may be chance), at once (with nothing between), and each
further time; share of it where only the scale steps are the same."""
CONSIDERED = 48
"""Of the most salient windows, how many are considered at all."""
TICKS = 24
"""Of a beat: every place of the grid is a whole tick."""

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def boundary_strengths(notes: Sequence[GridNote]) -> tuple[float, ...]:
    """Return the strength (0 to 1) of the cut after each note but the last."""
    pairs = list(pairwise(notes))
    pitches = _strengths([abs(b.pitch - a.pitch) for a, b in pairs])
    onsets = _strengths([b.beat - a.beat for a, b in pairs])
    rests = _strengths([max(0.0, b.beat - a.beat - a.beats) for a, b in pairs])
    return tuple(
        PITCH_WEIGHT * p + ONSET_WEIGHT * o + REST_WEIGHT * r
        for p, o, r in zip(pitches, onsets, rests, strict=True)
    )


def _strengths(intervals: Sequence[float]) -> list[float]:
    """Return each interval times its change from both neighbours, the largest made 1."""
    changes = [abs(a - b) / (a + b) if a + b else 0.0 for a, b in pairwise(intervals)]
    around = zip(intervals, [0.0, *changes], [*changes, 0.0], strict=False)
    strengths = [interval * (before + after) for interval, before, after in around]
    most = max(strengths, default=0.0)
    return [strength / most if most else 0.0 for strength in strengths]


def cells_of(notes: Sequence[GridNote], bars: Bars) -> tuple[Cell, ...]:
    """Return up to eight cells, the most characteristic first; they may overlap.

    None is the transposition of another, and none is one repeated note alone.
    """
    if len(notes) < FEWEST:
        return ()
    phrase = _Phrase(notes)
    first, count, salience = phrase.ranked()
    crowding = np.zeros(len(first))
    chosen: list[Cell] = []
    patterns: set[tuple[object, ...]] = set()
    left = np.ones(len(first), dtype=bool)
    while left.any() and len(chosen) < CANDIDATES:
        best = int(np.where(left, salience - crowding, -np.inf).argmax())
        left[best] = False
        cell = phrase.cell(int(first[best]), int(count[best]), float(salience[best]), bars)
        pattern = (cell.intervals, cell.onsets)
        if pattern not in patterns:
            patterns.add(pattern)
            chosen.append(cell)
            end = np.minimum(first + count, cell.first + len(cell))
            shared = (end - np.maximum(first, cell.first)) / count
            crowding = np.maximum(crowding, shared)
    return tuple(chosen)


@dataclass(frozen=True, slots=True)
class _Again:
    """How a window is said again: its bonus, how often it is said in all, how far each time."""

    bonus: float = 0.0
    moved: tuple[int, ...] = ()
    tonal: bool = False


class _Phrase:
    def __init__(self, notes: Sequence[GridNote]) -> None:
        self._notes = notes
        self._cuts = np.array((1.0, *boundary_strengths(notes), 1.0))
        self._ticks = np.array([round(note.beat * TICKS) for note in notes])
        self._pitches = np.array([note.pitch for note in notes])
        ends = np.array([note.beat + note.beats for note in notes])
        beats = np.array([note.beat for note in notes])
        self._intervals, self._gaps = np.diff(self._pitches), np.diff(self._ticks)
        self._moves = list(zip(self._intervals.tolist(), self._gaps.tolist(), strict=True))
        self._steps = scale_steps(self._pitches)
        self._degrees = list(zip(np.diff(self._steps).tolist(), self._gaps.tolist(), strict=True))
        self._rests = beats[1:] - ends[:-1] >= REST_BEATS
        self._again = self._said_again()

    def ranked(self) -> tuple[Ints, Ints, Floats]:
        """Return first note, number of notes and salience of the windows, most salient first."""
        parts = [self._windows(n) for n in range(FEWEST, min(MOST, len(self._notes)) + 1)]
        first, count, salience = (np.concatenate(column) for column in zip(*parts, strict=True))
        for index in np.flatnonzero(self._has_again(first, count)):
            salience[index] += self._again[int(first[index]), int(count[index])].bonus
        order = np.lexsort((-count, first, -salience))[:CONSIDERED]
        return first[order], count[order], salience[order]

    def _has_again(self, first: Ints, count: Ints) -> NDArray[np.bool_]:
        keys = np.array([10 * f + c for f, c in self._again], dtype=np.int64)
        return np.isin(10 * first + count, keys)

    def _windows(self, count: int) -> tuple[Ints, Ints, Floats]:
        """Return the runs of ``count`` notes without a rest inside, one pitch alone left out."""
        begin = np.arange(len(self._notes) - count + 1)[:, None]
        inner = begin + np.arange(count - 1)
        intervals = self._intervals[inner]
        whole = ~self._rests[inner].any(axis=1) & intervals.any(axis=1)
        first = np.flatnonzero(whole)
        intervals, gaps = intervals[first], self._gaps[inner[first]]
        cuts = self._cuts[(begin + np.arange(count + 1))[first]]
        distinct = gaps.max(axis=1, initial=0) != gaps.min(axis=1, initial=1 << 30)
        beaten = np.where(distinct, np.minimum(2, _others(_codes(gaps))), 0)
        apart = np.sort(intervals, axis=1)
        moving = (np.diff(apart, axis=1) != 0).sum(axis=1) + 1 - (intervals == 0).any(axis=1)
        salience = (
            0.6 * (cuts[:, 0] + cuts[:, -1])
            - cuts[:, 1:-1].max(axis=1, initial=0.0)
            + 0.2 * beaten
            + 0.4 * distinct
            + 0.4 * (first == 0)
            + 0.3 * (first + count == len(self._notes))
            + 0.1 * np.minimum(3, moving)
            + LENGTH_BONUS[count]
        )
        return first, np.full(len(first), count), salience

    def _said_again(self) -> dict[tuple[int, int], _Again]:
        """Return how each window that is a figure said again is said again."""
        found: dict[tuple[int, int], _Again] = {}
        for tonal, heights in ((False, self._pitches), (True, self._steps)):
            for run in repeated_runs(self._ticks, heights):
                apart = run.again - run.first
                if apart < FEWEST:
                    continue
                most = min(apart, run.count, MOST)
                for count in range(FEWEST, most + 1) if run.count < apart else (most,):
                    for first in range(run.first, run.first + run.count - count + 1):
                        self._note_again(found, first, count, apart, tonal=tonal)
        return found

    def _note_again(
        self,
        found: dict[tuple[int, int], _Again],
        first: int,
        count: int,
        apart: int,
        *,
        tonal: bool,
    ) -> None:
        if self._is_plain(slice(first, first + count - 1)):
            return
        before = found.get((first, count), _Again())
        if tonal and before.moved and not before.tonal:
            return
        moved = int(self._pitches[first + apart] - self._pitches[first])
        bonus = ANOTHER_TIME
        if not before.moved:
            bonus = SAID_AGAIN[count] + SAID_AT_ONCE * (apart == count)
        share = TONALLY if tonal else 1.0
        found[first, count] = _Again(before.bonus + share * bonus, (*before.moved, moved), tonal)

    def _is_plain(self, inner: slice) -> bool:
        """Tell whether notes are one step or leap over and over, or an even run up or down."""
        moves = self._moves[inner]
        if len(set(moves)) < 2 or len(set(self._degrees[inner])) < 2:
            return True
        even = len({gap for _, gap in moves}) < 2
        steps = [interval for interval, _ in moves]
        return even and (0 < min(steps) <= max(steps) <= 2 or -2 <= min(steps) <= max(steps) < 0)

    def cell(self, first: int, count: int, salience: float, bars: Bars) -> Cell:
        notes = self._notes[first : first + count]
        again = self._again.get((first, count), _Again())
        return Cell(
            first=first,
            intervals=tuple(self._intervals[first : first + count - 1].tolist()),
            onsets=tuple(note.beat - notes[0].beat for note in notes),
            lengths=tuple(note.beats for note in notes),
            beat_in_bar=bars.at(notes[0].beat)[1],
            salience=salience,
            times=1 + len(again.moved),
            moved=again.moved,
            tonal=again.tonal,
        )


_PRIME = 1_000_003


def _codes(rows: Ints) -> Ints:
    """Return a number for each row, equal for equal rows (and hardly ever for others)."""
    codes = np.zeros(len(rows), dtype=np.int64)
    for column in rows.T:
        codes = codes * _PRIME + column
    return codes


def _others(codes: Ints) -> Ints:
    """Return how many other entries are equal to each."""
    listed = codes.tolist()
    counts = Counter(listed)
    return np.array([counts[code] - 1 for code in listed], dtype=np.int64)
