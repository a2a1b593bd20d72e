"""Windows of a line as numbers: enough to know a phrase again, not to write it down.

A window is eight intervals and the eight gaps between their nine onsets.
"""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import blake2b
from itertools import pairwise

WINDOW = 8
"""Intervals in a window."""


def window_hashes(pitches: Sequence[int], ticks: Sequence[int]) -> list[int]:
    """Return a 64-bit hash of every window of a line, in order; none when it is too short.

    Transposition and the place in the bar do not matter.
    """
    if len(pitches) <= WINDOW:
        return []
    steps = [
        b"%d,%d;" % (b - a, later - earlier)
        for (a, b), (earlier, later) in zip(pairwise(pitches), pairwise(ticks), strict=True)
    ]
    return [
        int.from_bytes(blake2b(b"".join(steps[i : i + WINDOW]), digest_size=8).digest(), "big")
        for i in range(len(steps) - WINDOW + 1)
    ]
