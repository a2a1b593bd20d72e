"""The chance of a difference, against exact counts by hand."""

from __future__ import annotations

import numpy as np
import pytest

from jam.review.chance import chance, swaps

RNG_SEED = 5


def chance_of(one: list[tuple[float, float]], other: list[tuple[float, float]]) -> float:
    return chance(one, other, swaps(len(one), np.random.default_rng(RNG_SEED)))


@pytest.mark.parametrize("calls", [2, 4, 6])
def test_all_one_way_is_as_rare_as_all_heads_or_all_tails(calls: int) -> None:
    """If one always has all and the other nothing, 2 of 2^n exchanges make as much (counted)."""
    found = chance_of([(1.0, 1.0)] * calls, [(0.0, 1.0)] * calls)
    assert found == pytest.approx(2 / 2**calls, abs=0.03)


def test_no_difference_and_nothing_measured_are_chance() -> None:
    """The same answers, and a measure that one of the two has nothing for."""
    same = [(1.0, 2.0), (3.0, 4.0)]
    assert chance_of(same, same) == 1.0
    assert chance_of(same, [(0.0, 0.0)] * 2) == 1.0


def test_one_odd_answer_is_no_trait() -> None:
    """However far a single answer lies from the rest, each exchange makes as much."""
    assert chance_of([(100.0, 1.0), *[(1.0, 1.0)] * 19], [(1.0, 1.0)] * 20) == 1.0
