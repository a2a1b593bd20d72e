"""People's habits in time, as tables: swing ratio, early and late, sounding share, drift.

What a learnt idiom holds under the same names is used in their place. The numbers here are rounded
figures of 40 solos of the Weimar Jazz Database (Pfleiderer et al. 2017, ODbL 1.0) by classes of
tempo (below 110 bpm, 110-170, 170-230, from 230). Of the spread of onsets about one eighth is
taken off each side for the marking of beats and onsets by hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import erf, sqrt
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from jam.players.soloist.slots import TICKS

Table = NDArray[np.float64]

WIDEST = 1.65
"""Draws are kept within so many standard deviations: the 5th to the 95th percentile."""

_STEPS = 20
_PERCENTS = (0, 5, 10, 25, 50, 75, 90, 95, 100)
_ON_BEAT, _OFF_BEAT, _ELSEWHERE = 1, 2, 3


class Habits(Protocol):
    """The tables of quantiles (0, 5 .. 100 %) that time feel is drawn from; an idiom has them.

    ``swing`` by tempo; ``early_late`` in ms by tempo and place (strong beat, beat, off-beat
    eighth, elsewhere); ``sounding`` by the gap to the next onset (up to 4 ticks, 8, 23, more);
    ``drift`` is the correlation of neighbouring deviations.
    """

    @property
    def swing(self) -> Table:
        """Return the quantiles of the swing ratio, by tempo."""

    @property
    def early_late(self) -> Table:
        """Return the quantiles of lateness in ms, by tempo and place."""

    @property
    def sounding(self) -> Table:
        """Return the quantiles of sounding length / gap, by gap."""

    @property
    def drift(self) -> float:
        """Return the correlation of neighbouring deviations."""


@dataclass(frozen=True)
class Measured:
    """Habits as plain tables."""

    swing: Table
    early_late: Table
    sounding: Table
    drift: float


def _quantiles(values: Sequence[float]) -> Table:
    return np.interp(np.arange(_STEPS + 1) * 100.0 / _STEPS, _PERCENTS, values)


def _normal(spread: float) -> Table:
    """Return the quantiles of a normal distribution, its tails cut off at `WIDEST`."""
    z = np.array([-1.65, -1.65, -1.28, -1.04, -0.84, -0.67, -0.52, -0.39, -0.25, -0.13])
    return spread * np.concatenate([z, [0.0], -z[::-1]])


PEOPLE = Measured(
    swing=np.array(
        [
            _quantiles((0.7, 0.87, 0.91, 1.14, 1.43, 1.92, 3.0, 3.9, 3.9)),
            _quantiles((0.5, 0.55, 0.73, 0.90, 1.22, 1.75, 2.4, 3.0, 3.0)),
            _quantiles((0.6, 0.71, 0.83, 1.01, 1.29, 1.64, 2.0, 2.4, 2.4)),
            _quantiles((0.6, 0.69, 0.78, 0.97, 1.19, 1.51, 1.87, 2.2, 2.2)),
        ]
    ),
    early_late=np.array(
        [
            [_normal(beat), _normal(beat), _normal(off), _normal(off)]
            for beat, off in ((60.0, 45.0), (37.0, 24.0), (28.0, 20.0), (18.0, 16.0))
        ]
    ),
    sounding=np.array(
        [
            _quantiles((0.4, 0.58, 0.67, 0.79, 0.87, 0.94, 0.99, 1.0, 1.0)),
            _quantiles((0.4, 0.60, 0.67, 0.78, 0.87, 0.94, 0.97, 0.98, 1.0)),
            _quantiles((0.15, 0.26, 0.34, 0.50, 0.75, 0.91, 0.96, 0.98, 1.0)),
            _quantiles((0.05, 0.10, 0.13, 0.18, 0.28, 0.53, 0.93, 0.97, 1.0)),
        ]
    ),
    drift=0.4,
)
"""What is used where no idiom is at hand."""


def quantile(row: Sequence[float], z: float) -> float:
    """Return the value of a row of quantiles at ``z`` standard deviations of a normal draw."""
    bounded = min(max(z, -WIDEST), WIDEST)
    place = 0.5 * (1.0 + erf(bounded / sqrt(2.0))) * _STEPS
    index = int(place)
    return row[index] + (place - index) * (row[index + 1] - row[index])


def median(row: Sequence[float]) -> float:
    """Return the middle of a row of quantiles."""
    return row[_STEPS // 2]


def tempo_class(bpm: float) -> int:
    """Return the row of a tempo: below 110 bpm, 110-170, 170-230, from 230."""
    return sum(bpm >= limit for limit in (110.0, 170.0, 230.0))


def gap_class(ticks: int) -> int:
    """Return the row of a gap between onsets: up to a triplet, an eighth, below two beats, more."""
    return sum(ticks >= limit for limit in (5, 9, 24))


def place_row(tick: int, pulse_ticks: int) -> int:
    """Return the row of a place: a beat, the off-beat eighth, anywhere else."""
    if tick % pulse_ticks == 0:
        return _ON_BEAT
    return _OFF_BEAT if tick % TICKS == TICKS // 2 else _ELSEWHERE
