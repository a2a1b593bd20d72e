"""Which few notes characterise a phrase?

Local boundary strength (LBDM: Cambouropoulos 2001, "The local boundary detection model", ICMC)
says between which notes a listener hears a cut. A cell is a run of three to seven notes without a
rest inside; the more it is set off at its ends, whole inside, repeated in the phrase, rhythmically
distinct and well placed, the more salient it is. The weights are the author's.

Beats are quarter notes, intervals semitones.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise

from jam.listening.phrase import Cell, GridNote
from jam.transport.metre import Bars

FEWEST, MOST = 3, 7
CANDIDATES = 8
REST_BEATS = 1.0
PITCH_WEIGHT, ONSET_WEIGHT, REST_WEIGHT = 0.25, 0.50, 0.25
LENGTH_BONUS = {3: -0.2, 4: 0.4, 5: 0.4, 6: 0.1, 7: -0.1}
CONSIDERED = 48
"""Of the most salient windows, how many are considered at all."""

_Pattern = tuple[object, ...]


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
    ranked = sorted(
        ((phrase.salience(first, count), -first, count) for first, count in phrase.windows()),
        reverse=True,
    )[:CONSIDERED]
    chosen: list[tuple[float, int, int]] = []
    patterns: set[_Pattern] = set()
    while ranked and len(chosen) < CANDIDATES:
        best = max(ranked, key=lambda window: window[0] - _crowding(window, chosen))
        ranked.remove(best)
        pattern = phrase.pattern(-best[1], best[2])
        if pattern not in patterns:
            patterns.add(pattern)
            chosen.append(best)
    return tuple(phrase.cell(-first, count, salience, bars) for salience, first, count in chosen)


def _crowding(window: tuple[float, int, int], chosen: Sequence[tuple[float, int, int]]) -> float:
    """Return how much of the window lies in a cell already chosen, at most 1."""
    first, count = -window[1], window[2]
    most = 0.0
    for _, other, length in chosen:
        shared = min(first + count, length - other) - max(first, -other)
        most = max(most, shared / count)
    return most


class _Phrase:
    def __init__(self, notes: Sequence[GridNote]) -> None:
        self._notes = notes
        self._cuts = (1.0, *boundary_strengths(notes), 1.0)
        pairs = list(pairwise(notes))
        self._intervals = [b.pitch - a.pitch for a, b in pairs]
        self._steps = [round(b.beat - a.beat, 3) for a, b in pairs]
        self._rests = [b.beat - a.beat - a.beats >= REST_BEATS for a, b in pairs]
        self._seen = Counter(self.pattern(*window) for window in self.windows())
        self._rhythms = Counter(self._rhythm(*window) for window in self.windows())

    def windows(self) -> list[tuple[int, int]]:
        """Return (first, count) of every run without a rest inside that is not one pitch alone."""
        found = []
        for first in range(len(self._notes) - FEWEST + 1):
            for count in range(FEWEST, min(MOST, len(self._notes) - first) + 1):
                inner = slice(first, first + count - 1)
                if any(self._rests[inner]):
                    break
                if any(self._intervals[inner]):
                    found.append((first, count))
        return found

    def pattern(self, first: int, count: int) -> _Pattern:
        """Return what stays the same when a cell is transposed or moved in time."""
        return (*self._intervals[first : first + count - 1], *self._rhythm(first, count))

    def _rhythm(self, first: int, count: int) -> tuple[float, ...]:
        return tuple(self._steps[first : first + count - 1])

    def salience(self, first: int, count: int) -> float:
        last = first + count
        set_off = 0.6 * (self._cuts[first] + self._cuts[last])
        broken = max(self._cuts[first + 1 : last])
        rhythm = self._rhythm(first, count)
        distinct = len(set(rhythm)) > 1
        again = min(2, self._seen[self.pattern(first, count)] - 1)
        beaten_again = min(2, self._rhythms[rhythm] - 1) if distinct else 0
        moving = sum(1 for i in set(self._intervals[first : last - 1]) if i)
        return (
            set_off
            - broken
            + 0.5 * again
            + 0.2 * beaten_again
            + 0.4 * distinct
            + 0.4 * (first == 0)
            + 0.3 * (last == len(self._notes))
            + 0.1 * min(3, moving)
            + LENGTH_BONUS[count]
        )

    def cell(self, first: int, count: int, salience: float, bars: Bars) -> Cell:
        notes = self._notes[first : first + count]
        return Cell(
            first=first,
            intervals=tuple(self._intervals[first : first + count - 1]),
            onsets=tuple(note.beat - notes[0].beat for note in notes),
            lengths=tuple(note.beats for note in notes),
            beat_in_bar=bars.at(notes[0].beat)[1],
            salience=salience,
        )
