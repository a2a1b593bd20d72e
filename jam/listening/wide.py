"""Which notes make a triplet over two beats? Quarter-note triplets, whole or in part.

Three quarter notes in the time of two begin on a beat (common practice); one of the first two may
be divided, the first may be a rest. The cost is a minus log likelihood as that of the patterns of
one beat (`jam.listening.expected`), the author's, tuned on made lines and checked on human solos
(Weimar Jazz Database, Pfleiderer et al. 2017). Beats are quarter notes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from jam.listening.expected import SCATTER_BEATS, SCATTER_SEC
from jam.listening.feels import Feel
from jam.listening.patterns import Pattern, Step

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

UNEVEN_BEATS, FAR_BEATS = 0.17, 0.32
"""Further than this from its place, the lag of all of them apart, no note lies; nor is the lag."""

_COSTS: dict[tuple[int, ...], float] = {
    (0, 2, 4): 1.4, (2, 4): 3.2, (0, 1, 2, 4): 2.7, (0, 2, 4, 5): 3.5, (0, 1, 2, 4, 5): 3.0,
}  # fmt: skip
"""Sixths of two beats that have a note -> cost."""
_PATTERNS = tuple((np.array(sixths) / 3.0, cost) for sixths, cost in _COSTS.items())


@dataclass(frozen=True, slots=True)
class Wide:
    """Two beats at once: ``costs`` and ``chosen`` pattern by limit before, limit after and feel."""

    costs: Floats
    chosen: Ints

    def steps(self, beat: int, begin: int, at: tuple[int, int, int]) -> tuple[Step, Step]:
        """Return the steps of ``beat`` and the next one, for notes from ``begin`` on."""
        places, _ = _PATTERNS[self.chosen[at]]
        split = int((places < 1.0).sum())
        return (
            _step(beat, begin, places[:split]),
            _step(beat + 1, begin + split, places[split:] - 1.0),
        )


def _step(beat: int, begin: int, places: Floats) -> Step:
    notes = tuple(range(begin, begin + len(places)))
    return Step(beat, notes, Pattern(tuple(round(float(p) * 3) / 3 for p in places), 3, 0.0))


def wide_steps(
    x: Floats, beats: Ints, limits: Ints, feels: tuple[Feel, ...], cost_unit: int
) -> dict[int, Wide]:
    """Return the ways to pass from limit ``k`` to ``k + 2`` by one pattern, for each such ``k``.

    ``x`` are onsets; ``limits`` as in `jam.listening.fitting`.
    """
    begin, end = limits[:-2, :, None], limits[2:, None, :]
    count = np.where((begin >= 0) & (end >= 0), end - begin, 0)
    lag = np.array([feel.lag for feel in feels])
    variance = (SCATTER_SEC / feels[0].beat_sec) ** 2 + SCATTER_BEATS**2
    found: dict[int, Wide] = {}
    for number, (places, cost) in enumerate(_PATTERNS):
        k, before, after = np.nonzero(count == len(places))
        first = limits[k, before]
        off = x[first[:, None] + np.arange(len(places))] - beats[k][:, None] - places
        middle = off.mean(axis=1)
        near = np.abs(off - middle[:, None]).max(axis=1, initial=0.0) < UNEVEN_BEATS
        for row in np.nonzero(near & (np.abs(middle) < FAR_BEATS))[0]:
            fit = ((off[row][:, None] - lag) ** 2).sum(axis=0) / (2.0 * variance)
            fit = np.rint((fit + cost) * cost_unit)
            wide = found.setdefault(int(k[row]), _none(limits.shape[1], len(feels)))
            at = before[row], after[row]
            better = fit < wide.costs[at]
            wide.costs[at] = np.where(better, fit, wide.costs[at])
            wide.chosen[at] = np.where(better, number, wide.chosen[at])
    return found


def _none(width: int, feels: int) -> Wide:
    shape = (width, width, feels)
    return Wide(np.full(shape, np.inf), np.zeros(shape, dtype=np.int64))
