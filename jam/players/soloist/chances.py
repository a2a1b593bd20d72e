"""Draws from short lists: numpy's own are made for long ones."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TypeVar

import numpy as np

T = TypeVar("T")


def pick(options: Sequence[T], rng: np.random.Generator) -> T:
    """Return one of the options, all as likely."""
    return options[int(rng.random() * len(options))]


def pick_by(options: Sequence[T], shares: Iterable[float], rng: np.random.Generator) -> T:
    """Return one of the options in proportion to its share; the shares need not sum to one."""
    weights = list(shares)
    left = rng.random() * sum(weights)
    for option, weight in zip(options, weights, strict=True):
        left -= weight
        if left < 0.0:
            return option
    return max(zip(options, weights, strict=True), key=lambda pair: pair[1])[0]
