"""Which pattern did each beat have? The likeliest path over the beats, the player's feel unknown.

How late he lies, how far he swings and how uneven his sixteenths are is not known beforehand, so
a set of feels is tried at once: for every feel, beat and choice of notes the best pattern is
found, and a shortest path over the beats gives each feel's cost. The best feel is then estimated
anew from its own path, a slow drift of the lag with it, and the path is sought again. A path keeps
the order strict: no two notes share a place.

Cost is minus log likelihood: a squared deviation over twice its variance, plus the pattern's cost,
plus how unlike a soloist the feel is. Downbeats lie late by about 30 ms at medium tempo (Nelias et
al. 2022, Communications Physics 5); soloists' swing ratio is near 1.3 and mostly between 1 and 2
(Corcoran & Frieler 2021, Music Perception 38(4)). Beats are quarter notes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from math import floor
from statistics import median

import numpy as np
from numpy.typing import NDArray

from jam.listening.patterns import MOST_NOTES, PATTERNS, Pattern

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

SCATTER_SEC = 0.028
SCATTER_BEATS = 0.035
SWING_SCATTER_BEATS = 0.055
DROP_COST, FLEETING_COST = 9.0, 2.5
LAGS_SEC = (-0.025, 0.0, 0.020, 0.040, 0.060, 0.085)
OFF_BEATS = (0.50, 0.55, 0.60, 0.66, 0.73)
USUAL_LAG_SEC, STEADY_SEC = 0.030, 0.40
"""The usual lag at beats of ``STEADY_SEC`` and longer; it falls to none at beats of half that."""
LAG_SPREAD_SEC, LAG_SPREAD_BEATS = 0.025, 0.07
USUAL_OFF_BEAT, OFF_BEAT_SPREAD = 0.57, 0.06
OFF_BEAT_LAG = 0.3
"""Share of the downbeats' lag that the off-beats have."""
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
DRIFT_BEATS = 3.0
"""How far around a beat its own lag is estimated (standard deviation)."""
NO_SHIFT_BEATS = 0.04
"""No place lies further from where it was looked for: looking again changes nothing."""
DRIFT_NOTES = 6.0
"""As many notes speak for no drift at all."""


@dataclass(frozen=True, slots=True)
class Feel:
    """``lag`` is how late plain places lie, ``off_beat`` where in the beat the off-beat eighth
    falls as heard, ``uneven`` how much later than a quarter of the beat its odd sixteenths are
    (lag left out), all in beats."""

    beat_sec: float
    lag: float
    off_beat: float
    uneven: float = 0.0

    @property
    def cost(self) -> float:
        """Return how unlike a soloist this is."""
        spread = min(LAG_SPREAD_SEC / self.beat_sec, LAG_SPREAD_BEATS)
        lag = (self.lag - usual_lag(self.beat_sec)) / spread
        swing = (self.off_beat - OFF_BEAT_LAG * self.lag - USUAL_OFF_BEAT) / OFF_BEAT_SPREAD
        return 0.5 * (lag * lag + swing * swing)


def usual_lag(beat_sec: float) -> float:
    """Return how late a soloist's downbeats usually lie, in beats."""
    slow = 2.0 * beat_sec / STEADY_SEC - 1.0
    return USUAL_LAG_SEC * min(1.0, max(0.0, slow)) / beat_sec


@lru_cache(maxsize=256)
def _feels(beat_sec: float) -> tuple[Feel, ...]:
    """Return the feels that are tried first."""
    return tuple(
        Feel(beat_sec, lag / beat_sec, off + OFF_BEAT_LAG * lag / beat_sec)
        for lag in LAGS_SEC
        for off in OFF_BEATS
        if abs(lag) <= 0.3 * beat_sec
    )


@dataclass(frozen=True, slots=True)
class Step:
    """A beat with notes: its number, the indices of its notes, and their pattern."""

    beat: int
    notes: tuple[int, ...]
    pattern: Pattern


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
    found = _best_of(x, fleeting, _feels(round(beat_sec / NEAR_SEC) * NEAR_SEC))
    for _ in range(2):
        if found is None:
            break
        path, tried = found
        feel, drift = _felt(path, x, tried)
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
    states[0] = [feel.cost for feel in feels]
    backs = []
    for step in costs:
        sums = states[:, None, :] + step
        backs.append(sums.argmin(axis=0))
        states = sums.min(axis=0)
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
        """Return the cost by beat, limit before, limit after and feel."""
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
        linear, constant = _terms(notes.shape[1], feels)
        cost = np.concatenate((x * x, x), axis=1) @ linear
        cost = cost.reshape(len(x), *constant.shape) + constant
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
        cost += drop.min(axis=1)[:, None]
        better = cost < costs[where]
        costs[where] = np.where(better, cost, costs[where])
        chosen += LEFT_OUT * (1 + out[:, None])
        self._chosen[where] = np.where(better, chosen, self._chosen[where])

    def path(self, backs: Sequence[Ints], feel: int) -> list[Step]:
        """Return the steps that lead to the last limit."""
        steps = []
        after = 0
        for k in range(len(backs) - 1, -1, -1):
            before = int(backs[k][after])
            begin, end = int(self._limits[k, before]), int(self._limits[k + 1, after])
            left_out, chosen = divmod(int(self._chosen[k, before, after, feel]), LEFT_OUT)
            notes = [n for n in range(begin, end) if n - begin != left_out - 1]
            if notes:
                pattern = PATTERNS[len(notes)][chosen]
                steps.append(Step(int(self._beats[k]), tuple(notes), pattern))
            after = before
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


class _Table:
    """The patterns with a given number of notes as arrays."""

    def __init__(self, count: int) -> None:
        patterns = PATTERNS[count]
        self._places = np.array([p.places for p in patterns])
        parts = np.array([p.parts for p in patterns])[:, None]
        self._swung = (parts == 2) & (self._places == 0.5)
        self._odd = (parts == 4) & (np.abs(self._places % 0.5 - 0.25) < 0.01)
        self._patterns = patterns

    @lru_cache(maxsize=64)  # noqa: B019 - the few tables live as long as the program
    def _plain(self, beat_sec: float) -> tuple[Floats, Floats]:
        """Return the weight of a squared deviation by pattern and note, and each pattern's cost."""
        plain = (SCATTER_SEC / beat_sec) ** 2 + SCATTER_BEATS**2
        swung = plain + SWING_SCATTER_BEATS**2
        weight = np.where(self._swung, 0.5 / swung, 0.5 / plain)
        broad = 0.5 * np.log(swung / plain) * self._swung.sum(axis=1)
        costs = np.array([pattern.cost_at(beat_sec) for pattern in self._patterns])
        return weight[:, :, None], (broad + costs)[:, None]

    def terms(self, feels: tuple[Feel, ...]) -> tuple[Floats, Floats]:
        weight, cost = self._plain(feels[0].beat_sec)
        lag, off, uneven = np.array([(f.lag, f.off_beat, f.uneven) for f in feels]).T
        places = self._places[:, :, None] + lag + self._odd[:, :, None] * uneven
        places = np.where(self._swung[:, :, None], off, places)
        pull = weight * places
        constant = (pull * places).sum(axis=1) + cost
        patterns, count, tried = places.shape
        linear = np.empty((2, count, patterns, tried))
        linear[0] = weight.transpose(1, 0, 2)
        linear[1] = -2.0 * pull.transpose(1, 0, 2)
        return linear.reshape(2 * count, -1), constant


_TABLES = {count: _Table(count) for count in PATTERNS}


@lru_cache(maxsize=128)
def _terms(count: int, feels: tuple[Feel, ...]) -> tuple[Floats, Floats]:
    """Return the factors of x squared and x, one column for each pattern and feel, and what is
    added for each pattern and feel."""
    return _TABLES[count].terms(feels)


def _felt(path: Sequence[Step], x: Floats, before: Feel) -> tuple[Feel, Floats]:
    """Return the feel of a path, held near the usual by a few made-up notes, and each note's drift.

    The drift is how much later than ``lag`` the notes around a note lie, in beats.
    """
    usual = usual_lag(before.beat_sec)
    downs, offs, odds = [usual] * 2, [before.lag * OFF_BEAT_LAG + USUAL_OFF_BEAT] * 2, [0.0] * 4
    where, late = [], []
    for step in path:
        for note, place in zip(step.notes, step.pattern.places, strict=True):
            dev = float(x[note]) - step.beat - place
            if step.pattern.parts == 2 and place:
                offs.append(dev + 0.5)
                continue
            odd = step.pattern.parts == 4 and abs(place % 0.5 - 0.25) < 0.01
            (odds if odd else downs).append(dev)
            if not odd:
                where.append(float(x[note]))
                late.append(dev)
    lag = median(downs)
    off = min(lag + 0.76, max(lag + 0.42, median(offs)))
    uneven = median([odd - lag for odd in odds[4:]] + [0.0] * 4)
    feel = replace(before, lag=lag, off_beat=off, uneven=min(0.09, max(0.0, uneven)))
    if not where:
        return feel, np.zeros_like(x)
    apart = (x[:, None] - np.array(where)) / DRIFT_BEATS
    near = np.exp(-0.5 * apart * apart)
    deviation = np.clip(np.array(late) - lag, -0.2, 0.2)
    return feel, (near @ deviation) / (near.sum(axis=1) + DRIFT_NOTES)
