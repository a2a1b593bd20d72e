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
def terms(count: int, feels: tuple[Feel, ...]) -> tuple[Floats, Floats]:
    """Return the factors of x squared and x, one column for each pattern and feel, and what is
    added for each pattern and feel."""
    return _TABLES[count].terms(feels)
