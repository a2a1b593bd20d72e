"""Where is each note of a pattern expected under a feel, and what does a deviation cost?

Cost is minus log likelihood: a squared deviation over twice its variance, plus the pattern's own
cost. The off-beat eighth scatters more than other places: that is swing, not carelessness. The
spreads are the author's, tuned on made lines and human solos. Beats are quarter notes.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from jam.listening.feels import Feel
from jam.listening.patterns import PATTERNS

Floats = NDArray[np.float64]

SCATTER_SEC = 0.028
SCATTER_BEATS = 0.035
SWING_SCATTER_BEATS = 0.055


class _Table:
    """The patterns with a given number of notes as arrays, by pattern and note."""

    def __init__(self, count: int) -> None:
        self.patterns = PATTERNS[count]
        self.places = np.array([p.places for p in self.patterns])
        parts = np.array([p.parts for p in self.patterns])[:, None]
        self.swung = (parts == 2) & (self.places == 0.5)
        self.odd = (parts == 4) & (np.abs(self.places % 0.5 - 0.25) < 0.01)


_TABLES = {count: _Table(count) for count in PATTERNS}


@lru_cache(maxsize=128)
def terms(count: int, feels: tuple[Feel, ...]) -> tuple[Floats, Floats]:
    """Return what makes the cost of patterns of ``count`` notes a sum of products.

    The first array holds the factors of each note's x squared, then of each note's x (x in beats
    from the beat's start), one column for each pattern and feel; the second, by pattern and feel,
    what is added.
    """
    table = _TABLES[count]
    weight, cost = _weights(count, feels[0].beat_sec)
    lag, off, uneven = np.array([(f.lag, f.off_beat, f.uneven) for f in feels]).T
    places = table.places[:, :, None] + lag + table.odd[:, :, None] * uneven
    places = np.where(table.swung[:, :, None], off, places)
    pull = weight * places
    constant = (pull * places).sum(axis=1) + cost
    patterns, _, tried = places.shape
    factors = np.empty((2, count, patterns, tried))
    factors[0] = weight.transpose(1, 0, 2)
    factors[1] = -2.0 * pull.transpose(1, 0, 2)
    return factors.reshape(2 * count, -1), constant


@lru_cache(maxsize=128)
def _weights(count: int, beat_sec: float) -> tuple[Floats, Floats]:
    """Return the weight of a squared deviation by pattern and note, and each pattern's cost."""
    table = _TABLES[count]
    plain = (SCATTER_SEC / beat_sec) ** 2 + SCATTER_BEATS**2
    swung = plain + SWING_SCATTER_BEATS**2
    weight = np.where(table.swung, 0.5 / swung, 0.5 / plain)
    broad = 0.5 * np.log(swung / plain) * table.swung.sum(axis=1)
    costs = np.array([pattern.cost_at(beat_sec) for pattern in table.patterns])
    return weight[:, :, None], (broad + costs)[:, None]
