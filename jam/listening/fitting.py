"""Which pattern did each beat have? The likeliest path over the beats, the player's feel unknown.

How late he lies, how far he swings and how uneven his sixteenths are is not known beforehand, so
a set of feels is tried at once: for every feel, beat and choice of notes the best pattern is
found, and a shortest path over the beats gives each feel's cost. The best feel is then estimated
anew from its own path, a slow drift of the lag with it, and the path is sought again. A path keeps
the order strict: no two notes share a place. Two beats may be taken at once, by a triplet over both
(`jam.listening.wide`); at last single sixteenths are told from swung off-beats
(`jam.listening.sixteenths`).

Costs are minus log likelihoods in units of 1/1024 (`jam.listening.expected`). Beats are quarter
notes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from math import floor

import numpy as np
from numpy.typing import NDArray

from jam.listening.expected import terms
from jam.listening.feels import Feel, feels_to_try, felt
from jam.listening.patterns import MOST_NOTES, PATTERNS, Step
from jam.listening.sixteenths import with_sixteenths
from jam.listening.wide import wide_steps

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

COST_UNIT = 1024
DROP_COST, FLEETING_COST = 9.0, 1.8
EARLY, LATE = 0.42, 0.38
"""A note this far before a beat may belong to it, one this far after it to the beat before."""
WIDEST = 6
SPAN_BEATS = 0.99
"""From the first to the last note of a beat, at most."""
NEAR_SEC = 0.005
"""Beats that differ by less than this are taken for equally long."""
CROWDED_BEATS = 0.12
LEFT_OUT = 1000
"""Patterns are counted below it; above it lies which note of the beat is left out."""
OVER_TWO = 1000
"""A way back that is this much higher passes two beats."""
NO_SHIFT_BEATS = 0.04
"""No place lies further from where it was looked for: looking again changes nothing."""


def best_path(
    heard: Sequence[float], beat_sec: float, *, fleeting: Sequence[bool]
) -> tuple[list[Step], Feel]:
    """Return the likeliest pattern of each beat that has notes, and the feel.

    ``heard`` are onsets in beats, rising; a ``fleeting`` note is left out at little cost, others
    only where they are too crowded for any place.
    """
    for most_in_beats in (0.0, 1.0, 1.4):
        kept = _thinned(heard, most_in_beats)
        x = np.array([heard[note] for note in kept])
        found = _refined(x, np.array([fleeting[note] for note in kept]), beat_sec)
        if found is not None:
            break
    else:
        raise AssertionError("a beat of eight notes always has a pattern")
    path, feel = found
    path = with_sixteenths(path, x, feel)
    return [replace(step, notes=tuple(kept[n] for n in step.notes)) for step in path], feel


def _thinned(heard: Sequence[float], beats: float) -> list[int]:
    """Return the indices of notes of which no more than fit a beat lie within ``beats``."""
    kept = list(range(len(heard)))
    while any(heard[b] - heard[a] < beats for a, b in zip(kept, kept[MOST_NOTES:], strict=False)):
        gaps = [heard[b] - heard[a] for a, b in pairwise(kept)]
        del kept[gaps.index(min(gaps))]
    return kept


_Found = tuple[list[Step], Feel] | None


def _refined(x: Floats, fleeting: Bools, beat_sec: float) -> _Found:
    found = _best_of(x, fleeting, feels_to_try(round(beat_sec / NEAR_SEC) * NEAR_SEC))
    for _ in range(2):
        if found is None:
            break
        path, tried = found
        feel, drift = felt(path, x, tried)
        shift = abs(feel.lag - tried.lag) + float(np.abs(drift).max())
        if max(shift, abs(feel.off_beat - tried.off_beat)) < NO_SHIFT_BEATS:
            return path, feel
        again = _best_of(np.maximum.accumulate(x - drift), fleeting, (feel,))
        found = again or found
        if found[0] == path:
            break
    return found


def _best_of(x: Floats, fleeting: Bools, feels: tuple[Feel, ...]) -> _Found:
    segments = _Segments(x, fleeting)
    costs = segments.costs(feels)
    states = np.full((costs.shape[1], len(feels)), np.inf)
    states[0] = [round(feel.cost * COST_UNIT) for feel in feels]
    before = states
    backs = []
    for k, step in enumerate(costs, -1):
        sums = states[:, None, :] + step
        back, after = sums.argmin(axis=0), sums.min(axis=0)
        if k in segments.wide:
            sums = before[:, None, :] + segments.wide[k].costs
            back = np.where(sums.min(axis=0) < after, OVER_TWO + sums.argmin(axis=0), back)
            after = np.minimum(after, sums.min(axis=0))
        backs.append(back)
        before, states = states, after
    chosen = int(states[0].argmin())
    if states[0, chosen] == np.inf:
        return None
    return segments.path([back[:, chosen] for back in backs], chosen), feels[chosen]


class _Segments:
    """All ways to give consecutive notes to a beat, with what each costs under each feel.

    Between beat ``k - 1`` and beat ``k`` of the phrase lies a limit: the index of the first note
    that belongs to the later one. ``limits[k]`` lists its candidates, -1 where there are fewer.
    """

    def __init__(self, x: Floats, fleeting: Bools) -> None:
        self._x = x
        self._first = floor(x[0] - 0.5)
        self._beats = np.arange(self._first, floor(x[-1]) + 2)
        self._limits = _limits(x, self._beats)
        begin, end = self._limits[:-1, :, None], self._limits[1:, None, :]
        there = (begin >= 0) & (end >= 0)
        span = x[np.maximum(end, 1) - 1] - x[np.minimum(begin, len(x) - 1)]
        there &= (end == begin) | (span < SPAN_BEATS)
        self._count = np.where(there, end - begin, -1)
        self._crowded = fleeting | (np.diff(x, append=np.inf) < CROWDED_BEATS)
        self._drop = np.where(fleeting, FLEETING_COST, DROP_COST) + np.diff(x, append=x[-1] + 1.0)

    def costs(self, feels: tuple[Feel, ...]) -> Floats:
        """Return the cost by beat, limit before, limit after and feel; find `wide` ways, too."""
        self.wide = wide_steps(self._x, self._beats, self._limits, feels, COST_UNIT)
        shape = (*self._count.shape, len(feels))
        costs = np.full(shape, np.inf)
        costs[self._count == 0] = 0.0
        self._chosen = np.zeros(shape, dtype=np.int64)
        for count in range(1, int(self._count.max(initial=0)) + 1):
            where = np.nonzero(self._count == count)
            if not len(where[0]):
                continue
            notes = self._limits[where[0], where[1]][:, None] + np.arange(count)
            if count <= MOST_NOTES:
                costs[where], self._chosen[where] = self._fit(where[0], notes, feels)
            self._with_one_less(where, notes, feels, costs)
        return costs

    def _fit(self, step: Ints, notes: Ints, feels: tuple[Feel, ...]) -> tuple[Floats, Ints]:
        """Return the least cost of any pattern for rows of ``notes``, and which pattern it is."""
        x = self._x[notes] - self._beats[step][:, None]
        linear, constant = terms(notes.shape[1], feels)
        cost = np.concatenate((x * x, x), axis=1) @ linear
        # Whole numbers, so that rounding cannot decide between equals.
        cost = np.rint((cost.reshape(len(x), *constant.shape) + constant) * COST_UNIT)
        return cost.min(axis=1), cost.argmin(axis=1)

    def _with_one_less(
        self, where: tuple[Ints, ...], notes: Ints, feels: tuple[Feel, ...], costs: Floats
    ) -> None:
        """Leave out the note that is most easily missed, where there is one."""
        count = notes.shape[1]
        if count < 2 or count > MOST_NOTES + 1:
            return
        crowded = self._crowded[notes[:, :-1]].any(axis=1)
        if not crowded.any():
            return
        where = tuple(axis[crowded] for axis in where)
        rows = notes[crowded]
        drop = self._drop[rows[:, :-1]]
        out = drop.argmin(axis=1)
        keep = np.arange(count) != out[:, None]
        cost, chosen = self._fit(where[0], rows[keep].reshape(len(rows), count - 1), feels)
        cost += np.rint(drop.min(axis=1) * COST_UNIT)[:, None]
        better = cost < costs[where]
        costs[where] = np.where(better, cost, costs[where])
        chosen += LEFT_OUT * (1 + out[:, None])
        self._chosen[where] = np.where(better, chosen, self._chosen[where])

    def path(self, backs: Sequence[Ints], feel: int) -> list[Step]:
        """Return the steps that lead to the last limit."""
        steps: list[Step] = []
        k, after = len(backs) - 1, 0
        while k >= 0:
            two, before = divmod(int(backs[k][after]), OVER_TWO)
            if two:
                k -= 1
                at = (before, after, feel)
                beat, begin = int(self._beats[k]), int(self._limits[k, before])
                steps += self.wide[k].steps(beat, begin, at)[::-1]
                k, after = k - 1, before
                continue
            begin, end = int(self._limits[k, before]), int(self._limits[k + 1, after])
            left_out, chosen = divmod(int(self._chosen[k, before, after, feel]), LEFT_OUT)
            notes = [n for n in range(begin, end) if n - begin != left_out - 1]
            if notes:
                pattern = PATTERNS[len(notes)][chosen]
                steps.append(Step(int(self._beats[k]), tuple(notes), pattern))
            k, after = k - 1, before
        return steps[::-1]


def _limits(x: Floats, beats: Ints) -> Ints:
    """Return the candidates of each limit; the first is before all notes, the last after them."""
    low = np.searchsorted(x, beats - EARLY)
    high = np.searchsorted(x, beats + LATE)
    middle = np.searchsorted(x, beats - 0.5 * (EARLY - LATE))
    low = np.maximum(low, np.minimum(middle - WIDEST // 2, high - WIDEST + 1))
    low[0] = high[0] = 0
    limits = low[:, None] + np.arange(WIDEST)
    limits[limits > high[:, None]] = -1
    limits = limits[:, : int((high - low).max()) + 1]
    last = np.full((1, limits.shape[1]), -1)
    last[0, 0] = len(x)
    return np.concatenate((limits, last))
