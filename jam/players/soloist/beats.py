"""What fills a beat, after what filled the two before it: people's habit, shifted by the style.

A pattern is the onsets within one beat, in ticks. In a dotted pulse (6/8, 12/8) there is no habit
to go by, and a few plain patterns stand in.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from jam.idiom.classes import tempo_class
from jam.players.soloist.request import Request
from jam.players.soloist.slots import TICKS, pulse_ticks
from jam.styles.profile import Rhythm

_USUAL = Rhythm()
_DOTTED = ((), (0,), (6, 12), (0, 12), (0, 6, 12), (0, 3, 6, 9, 12, 15), (0, 6, 9, 12))
_DOTTED_COUNTS = (0.0, 1.0, 2.0, 2.0, 3.0, 6.0, 4.0)
_TRIPLETS = frozenset({4, 8})
_SIXTEENTHS = frozenset({3, 9})


class BeatChain:
    """Draws beat after beat; `heard` tells it what a statement of the idea put there instead."""

    def __init__(self, request: Request, density: float, rng: np.random.Generator) -> None:
        """``density`` is a factor on the style's own."""
        self._rng = rng
        style = request.style.rhythm
        self._dotted = pulse_ticks(request.pulse_beats) != TICKS
        if self._dotted:
            self._patterns: tuple[tuple[int, ...], ...] = _DOTTED
            counts = np.array(_DOTTED_COUNTS)
            aim = 1.5 * style.density * density
            self._dotted_shares = np.exp(-0.5 * ((counts - aim) / 1.1) ** 2) + 0.01
            self._dotted_shares[0] *= 4.0 * style.rests
        else:
            idiom = request.idiom
            self._patterns = idiom.patterns
            self._index = {pattern: i for i, pattern in enumerate(idiom.patterns)}
            tempo = tempo_class(request.bpm)
            habit = idiom.following[tempo]
            usual = habit.mean(axis=(0, 1))
            weight = request.style.idiom.rhythm
            self._habit = habit**weight * usual ** (1.0 - weight)
            self._shift = _shift(self._patterns, style, density)
        self.begin()

    def begin(self) -> None:
        """Begin a phrase: nothing was heard before."""
        self._before = self._before_that = 0

    def heard(self, places: Iterable[int]) -> None:
        """Take note of what filled a beat."""
        self._before_that, self._before = self._before, self._known(tuple(sorted(places)))

    def draw(self, beat: int) -> tuple[int, ...]:
        """Return the onsets, in ticks, for the next beat."""
        if self._dotted:
            shares = self._dotted_shares
        else:
            shares = self._habit[self._before_that, self._before] * self._shift
        sums = shares.cumsum()
        die = float(self._rng.random()) * float(sums[-1])
        return self._patterns[min(int(sums.searchsorted(die, side="right")), len(sums) - 1)]

    def _known(self, places: tuple[int, ...]) -> int:
        if self._dotted:
            return 0
        if places in self._index:
            return self._index[places]
        return min(
            range(len(self._patterns)),
            key=lambda i: (abs(len(self._patterns[i]) - len(places)), _apart(self._patterns[i], places), i),
        )


def _apart(one: tuple[int, ...], other: tuple[int, ...]) -> int:
    return sum(abs(a - b) for a, b in zip(one, other, strict=False))


def _shift(
    patterns: tuple[tuple[int, ...], ...], style: Rhythm, density: float
) -> NDArray[np.float64]:
    """Return the factor (patterns,) by which a style likes each pattern more than people do."""
    counts = np.array([len(pattern) for pattern in patterns], dtype=float)
    more = float(np.log2(style.density * density / _USUAL.density))
    factor = np.exp2(1.3 * more * (counts - _USUAL.density))
    three = np.array([bool(_TRIPLETS & set(pattern)) for pattern in patterns])
    four = np.array([bool(_SIXTEENTHS & set(pattern)) for pattern in patterns])
    factor *= np.where(three, (style.triplets + 0.02) / (_USUAL.triplets + 0.02), 1.0)
    factor *= np.where(four, (style.sixteenths + 0.08) / 0.08, 1.0)
    factor *= np.where(counts == 0, (style.rests + 0.01) / (_USUAL.rests + 0.01), 1.0)
    return factor
