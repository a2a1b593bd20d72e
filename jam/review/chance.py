"""Could a difference between two players over the same calls be chance?

A test by exchange (a paired permutation test, common statistical practice): had both been one and
the same player, the two answers to a call might as well have come the other way round. So they
are swapped, call by call, by the toss of a coin, `TOSSES` times over; the *chance* of a difference
is the share of tosses that make one as large. It takes nothing for granted of how the numbers are
spread, and one call that was answered oddly does not pass for a trait.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from jam.review.line_measures import Share

TOSSES = 2000
_NEAR = 1e-9

Swaps = NDArray[np.float64]
"""A row for each toss, a column for each call: 1 where the two answers are swapped, else 0."""


def swaps(calls: int, rng: np.random.Generator) -> Swaps:
    """Return all tosses for so many calls."""
    return rng.integers(0, 2, size=(TOSSES, calls)).astype(np.float64)


def chance(one: Sequence[Share], other: Sequence[Share], swapped: Swaps) -> float:
    """Return the share of tosses that make a difference at least as large as the true one.

    ``one`` and ``other`` hold the parts and wholes of a measure in the answers to the same calls.
    """
    a, b = np.array(one, dtype=np.float64), np.array(other, dtype=np.float64)
    found = _difference(a.sum(axis=0), b.sum(axis=0))
    moved = swapped @ (b - a)
    tossed = _difference(a.sum(axis=0) + moved, b.sum(axis=0) - moved)
    as_large = np.count_nonzero(tossed >= found - _NEAR)
    return float((1 + as_large) / (1 + len(swapped)))


def _difference(one: NDArray[np.float64], other: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how far two rows of parts and wholes lie apart, 0 where a whole is missing."""
    (part, whole), (other_part, other_whole) = one.T, other.T
    with np.errstate(divide="ignore", invalid="ignore"):
        apart: NDArray[np.float64] = np.abs(part / whole - other_part / other_whole)
    return np.where(np.isfinite(apart), apart, 0.0)
