"""What fills a beat, after what filled the two before it: people's habit, shifted by the style.

A pattern is the onsets within one beat, in ticks. In a dotted pulse (6/8, 12/8) there is no habit
to go by, and a few plain patterns stand in.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from functools import lru_cache
from math import log2

import numpy as np
from numpy.typing import NDArray

from jam.idiom.classes import tempo_class
from jam.idiom.model import Idiom
from jam.idiom.plain import plain_idiom
from jam.players.soloist.request import Request
from jam.players.soloist.slots import TICKS, pulse_ticks
from jam.styles.profile import Rhythm

Pattern = tuple[int, ...]

_USUAL = Rhythm()
_DOTTED: tuple[Pattern, ...] = (
    *((), (0,), (6, 12), (0, 12), (0, 6, 12), (0, 6, 9, 12), (0, 3, 6, 9, 12, 15)),
)
_TRIPLETS = frozenset({4, 8})
_SIXTEENTHS = frozenset({3, 9})
_ROLLING = 2.0
"""A style's wish for triplets is heard in what the call leaves free only, so it counts for more."""

_SELDOM = 0.01
"""The share of a pattern of which an idiom knows nothing."""

_ODD = 0.3
_DENSITIES = 8
"""Densities are told apart to an eighth of a doubling."""


class BeatChain:
    """Draws beat after beat; `heard` tells it what a statement of the idea put there instead."""

    def __init__(self, request: Request, density: float, rng: np.random.Generator) -> None:
        """``density`` is a factor on the style's own."""
        self._rng = rng
        style = request.style
        level = round(_DENSITIES * log2(style.rhythm.density * density))
        if pulse_ticks(request.pulse_beats) != TICKS:
            self._habits = _dotted(style.rhythm, level)
        else:
            tempo = tempo_class(request.bpm)
            self._habits = _learnt(request.idiom, tempo, style.idiom.rhythm, style.rhythm, level)
        self.begin()

    def begin(self) -> None:
        """Begin a phrase: nothing was heard before."""
        self._before = self._before_that = 0

    def heard(self, places: Iterable[int]) -> None:
        """Take note of what filled a beat."""
        self._before_that, self._before = self._before, self._habits.known(tuple(sorted(places)))

    def draw(self) -> Pattern:
        """Return the onsets, in ticks, for the next beat."""
        habits = self._habits
        sums = habits.sums_after(self._before_that, self._before)
        place = bisect_right(sums, float(self._rng.random()) * sums[-1])
        return habits.patterns[min(place, len(sums) - 1)]


class _Habits:
    """Patterns, their shares after each two patterns, and the style's factor on each."""

    def __init__(
        self, patterns: tuple[Pattern, ...], shares: NDArray[np.float64], shift: NDArray[np.float64]
    ) -> None:
        self.patterns = patterns
        self.shares = shares
        self.shift = shift
        self._index = {pattern: index for index, pattern in enumerate(patterns)}
        self._sums: dict[tuple[int, int], list[float]] = {}

    def sums_after(self, before_that: int, before: int) -> list[float]:
        """Return the running sums of the shares after two patterns."""
        pair = before_that, before
        if pair not in self._sums:
            self._sums[pair] = (self.shares[pair] * self.shift).cumsum().tolist()
        return self._sums[pair]

    def known(self, places: Pattern) -> int:
        """Return the number of a pattern, or of the one most like it."""
        if places not in self._index:
            self._index[places] = min(range(len(self.patterns)), key=lambda i: self._off(i, places))
        return self._index[places]

    def _off(self, index: int, places: Pattern) -> tuple[int, int, int]:
        pattern = self.patterns[index]
        apart = sum(abs(a - b) for a, b in zip(pattern, places, strict=False))
        return abs(len(pattern) - len(places)), apart, index


@lru_cache(maxsize=512)
def _learnt(idiom: Idiom, tempo: int, weight: float, style: Rhythm, level: int) -> _Habits:
    patterns, shares = _weighed(idiom, tempo, weight)
    shift = _shift(patterns, style, level) * _readable(patterns, tempo)
    return _Habits(patterns, shares, shift)


@lru_cache(maxsize=32)
def _weighed(
    idiom: Idiom, tempo: int, weight: float
) -> tuple[tuple[Pattern, ...], NDArray[np.float64]]:
    """Return the patterns, and their shares after each two: the idiom's own as far as it counts,
    for the rest those of the plain idiom."""
    patterns, habit, usual = _logarithms(idiom, tempo)
    shares: NDArray[np.float64] = np.exp2(usual + weight * (habit - usual))
    return patterns, shares


@lru_cache(maxsize=16)
def _logarithms(
    idiom: Idiom, tempo: int
) -> tuple[tuple[Pattern, ...], NDArray[np.float64], NDArray[np.float64]]:
    """Return all patterns, and the logarithms of the idiom's shares and of the plain one's."""
    plain = plain_idiom()
    known = dict(zip(plain.patterns, plain.following[tempo].mean(axis=(0, 1)), strict=True))
    added = [pattern for pattern in plain.patterns if pattern not in idiom.patterns]
    patterns = (*idiom.patterns, *added)
    usual = np.array([max(_SELDOM, known.get(pattern, 0.0)) for pattern in patterns])
    count = len(patterns)
    own = len(idiom.patterns)
    habit = np.full((count, count, count), _SELDOM)
    habit[:, :, :own] = idiom.following[tempo].mean(axis=(0, 1))
    habit[:own, :own, :own] = idiom.following[tempo]
    return patterns, np.log2(habit), np.log2(usual)


@lru_cache(maxsize=128)
def _dotted(style: Rhythm, level: int) -> _Habits:
    counts = np.array([len(pattern) for pattern in _DOTTED], dtype=float)
    aim = 1.5 * 2.0 ** (level / _DENSITIES)
    shares = np.exp(-0.5 * ((counts - aim) / 1.1) ** 2) + 0.01
    shares[0] *= 4.0 * style.rests
    count = len(_DOTTED)
    return _Habits(_DOTTED, np.ones((count, count, count)), shares)


def _readable(patterns: tuple[Pattern, ...], tempo: int) -> NDArray[np.float64]:
    """Return the factor (patterns,) by which rhythms are left out that nobody reads at a tempo.

    From 170 bpm on, one or two notes on sixteenths are as a rule eighths played early or late: the
    time feel sees to that.
    """
    odd = np.array([len(p) <= 2 and bool(_SIXTEENTHS & set(p)) for p in patterns])
    return np.where(odd, (1.0, 0.8, _ODD, _ODD)[tempo], 1.0)


def _shift(patterns: tuple[Pattern, ...], style: Rhythm, level: int) -> NDArray[np.float64]:
    """Return the factor (patterns,) by which a style likes each pattern more than people do."""
    counts = np.array([len(pattern) for pattern in patterns], dtype=float)
    more = level / _DENSITIES - float(np.log2(_USUAL.density))
    factor = np.exp2(1.3 * more * (counts - _USUAL.density))
    three = np.array([bool(_TRIPLETS & set(pattern)) for pattern in patterns])
    four = np.array([bool(_SIXTEENTHS & set(pattern)) for pattern in patterns])
    rolls = ((style.triplets + 0.02) / (_USUAL.triplets + 0.02)) ** _ROLLING
    factor *= np.where(three, rolls, 1.0)
    factor *= np.where(four, (style.sixteenths + 0.08) / 0.08, 1.0)
    factor *= np.where(counts == 0, (style.rests + 0.01) / (_USUAL.rests + 0.01), 1.0)
    return factor
