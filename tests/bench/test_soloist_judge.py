"""The judge of phrases can tell what differs, and cannot tell what does not."""

from __future__ import annotations

import numpy as np
import pytest

pytest.importorskip("sklearn")

from tests.bench.soloist_judge import Sample, judged, telling

NAMES = tuple(f"feature {k}" for k in range(6))


def sample(seed: int, shift: float) -> Sample:
    """Return 120 phrases of 12 tunes with six features; one of them is moved by ``shift``."""
    rows = np.random.default_rng(seed).normal(size=(120, 6))
    rows[:, 2] += shift
    return Sample(rows, tuple(f"tune {k % 12}" for k in range(120)), NAMES)


def test_what_differs_is_told() -> None:
    """One feature moved by three spreads gives the replies away, and is named first."""
    people, replies = sample(1, 0.0), sample(2, 3.0)
    found = judged(people, replies)
    assert min(found.values()) > 0.95
    assert telling(people, replies)[0][1] == "feature 2"


def test_what_does_not_differ_is_not_told() -> None:
    """Two draws of the same thing cannot be told apart."""
    found = judged(sample(1, 0.0), sample(2, 0.0))
    assert all(0.35 < area < 0.65 for area in found.values())
