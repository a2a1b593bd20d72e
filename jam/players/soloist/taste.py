"""How a line likes to move: the cost of each interval after each direction.

The base is how often people play each interval; a style shifts it towards scales, arpeggios,
leaps or repeated notes; what came just before shapes it: a leap wants a step back, an arpeggio
wants to go on, a run keeps its direction.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from jam.players.soloist.lattice import DIRECTIONS, WIDEST, Ints
from jam.styles.profile import Lines

# Share of each interval in people's solos, in %, rising then falling, by size 0..12: medians over
# 208 solos of the Weimar Jazz Database (Pfleiderer et al. 2017, Inside the Jazzomat; ODbL 1.0).
# Where the median rounds to 0.0 a tenth of the 95th percentile stands in.
_RISING = (3.5, 14.8, 11.8, 8.9, 3.5, 2.6, 0.5, 1.0, 0.4, 0.3, 0.1, 0.06, 0.07)
_FALLING = (3.5, 13.2, 16.2, 8.7, 4.7, 2.7, 0.6, 0.6, 0.3, 0.3, 0.06, 0.03, 0.07)

_INTERVALS = np.arange(WIDEST, -WIDEST - 1, -1)
_SIZE = np.abs(_INTERVALS)
_SIGN = np.sign(_INTERVALS)


def taste_matrix(lines: Lines) -> Ints:
    """Return the cost (7, 25) of every interval, from +12 down to -12, after every direction."""
    base = np.array([_base(int(interval), lines) for interval in _INTERVALS])
    rows = [base + _after(name, lines) for name in DIRECTIONS]
    costs: Ints = np.rint(np.array(rows)).astype(np.int64)
    return costs


def _base(interval: int, lines: Lines) -> float:
    size = abs(interval)
    share = (_RISING if interval > 0 else _FALLING)[size]
    cost = float(-12.0 * np.log2(share / max(_FALLING)))
    if size == 0:
        return cost + 40 * (0.3 - lines.repeats)
    if size <= 2:
        return cost + 16 * (0.6 - lines.scale)
    if size <= 4:
        return cost + 24 * (0.6 - lines.arpeggios)
    return cost * (1.15 - 1.2 * lines.leaps)


def _after(direction: str, lines: Lines) -> NDArray[np.float64]:
    way = 1 if direction.endswith("up") else -1
    onward, back = way == _SIGN, -way == _SIGN
    step = (_SIZE == 1) | (_SIZE == 2)
    third = (_SIZE == 3) | (_SIZE == 4)
    cost = np.zeros(len(_INTERVALS))
    if direction == "repeat":
        cost += np.where(_SIZE == 0, 50, 0)
    elif direction.startswith("leap"):
        cost += np.where(onward & (_SIZE >= 3), 50, 0) - np.where(back & step, 14, 0)
    elif direction.startswith("third"):
        cost -= np.where(onward & third, 9 * lines.arpeggios, 0)
    else:
        cost += np.where(back & step, 12, 0) - np.where(onward & step, 5 * lines.scale, 0)
    return cost
