"""How alike are two lines? An edit distance on intervals and rhythm at once.

A line is a string of steps (interval, gap) from note to note, so transposition does not matter.
Levenshtein's distance (leave out, put in, replace), where a step with another interval costs
`INTERVAL`, one with another gap costs the rest of 1, and one left out or put in costs `INDEL`;
divided by the longer line's length. The three weights are set so that people's phrases behave as
they were found to: in ten phrases, the one whose rhythm was kept under other notes comes first in
about three of four cases, the one from which a cell was taken and sequenced in somewhat over half.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import log2

import numpy as np

from tests.bench.soloist_lines import Line

Step = tuple[int, int]
"""Interval in semitones and gap in ticks from one note to the next."""

INTERVAL = 0.63
INDEL = 0.66
SAME_GAP = 0.2
"""Gaps are alike when one is less than 2 ** 0.2 times the other."""


def steps_of(line: Line) -> list[Step]:
    """Return a line as steps from note to note."""
    gaps = (b - a for a, b in pairwise(line.ticks))
    return list(zip(line.intervals, gaps, strict=True))


def distance(a: Sequence[Step], b: Sequence[Step]) -> float:
    """Return how far apart two lines are: 0 the same (transposed or not), towards 1 nothing."""
    if not a or not b:
        return 1.0
    costs = _costs(a, b)
    before = [INDEL * k for k in range(len(b) + 1)]
    for i, row in enumerate(costs):
        here = [INDEL * (i + 1)]
        for j, cost in enumerate(row):
            here.append(min(before[j] + cost, before[j + 1] + INDEL, here[j] + INDEL))
        before = here
    return before[-1] / max(len(a), len(b))


def _costs(a: Sequence[Step], b: Sequence[Step]) -> list[list[float]]:
    first, second = np.asarray(a, float), np.asarray(b, float)
    other_interval = first[:, None, 0] != second[None, :, 0]
    ratio = np.abs(np.log2(first[:, None, 1] / second[None, :, 1]))
    costs = INTERVAL * other_interval + (1.0 - INTERVAL) * (ratio > SAME_GAP)
    return [[float(cost) for cost in row] for row in costs]


def rank(true: float, others: Sequence[float]) -> int:
    """Return how many of ``others`` come before ``true``; a tie counts against it."""
    return sum(other <= true for other in others)


def alike_gaps(a: Sequence[int], b: Sequence[int]) -> bool:
    """Tell whether two rhythms are the same, gap by gap."""
    return all(abs(log2(x / y)) <= SAME_GAP for x, y in zip(a, b, strict=True))


def runs(steps: Sequence[Step], size: int) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
    """Return intervals and gaps of every window of ``size`` steps."""
    return [
        (tuple(s[0] for s in steps[i : i + size]), tuple(s[1] for s in steps[i : i + size]))
        for i in range(len(steps) - size + 1)
    ]
