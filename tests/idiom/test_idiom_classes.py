"""The classes in which habits are counted, at their borders."""

from __future__ import annotations

import pytest

from jam.harmony.symbols import parse_chord
from jam.idiom.classes import (
    FAMILIES,
    family_class,
    gap_class,
    interval_class,
    place_class,
    tempo_class,
)


@pytest.mark.parametrize(
    ("interval", "number"),
    [(-12, 1), (-5, 1), (-4, 2), (-3, 2), (-2, 3), (-1, 4), (0, 5), (1, 6), (2, 7), (3, 8), (4, 8),
     (5, 9), (12, 9)],
)  # fmt: skip
def test_intervals(interval: int, number: int) -> None:
    """Seconds are told apart, thirds and what is wider are grouped, up from down."""
    assert interval_class(interval) == number


@pytest.mark.parametrize(
    ("ticks", "number"), [(1, 0), (4, 0), (5, 1), (8, 1), (9, 2), (23, 2), (24, 3), (99, 3)]
)
def test_gaps(ticks: int, number: int) -> None:
    """A triplet is the longest of the first class, two beats the shortest of the last."""
    assert gap_class(ticks) == number


@pytest.mark.parametrize(
    ("bpm", "number"),
    [(60, 0), (109.9, 0), (110, 1), (169.9, 1), (170, 2), (229.9, 2), (230, 3), (300, 3)],
)
def test_tempi(bpm: float, number: int) -> None:
    """Four classes of tempo."""
    assert tempo_class(bpm) == number


@pytest.mark.parametrize(
    ("tick", "bar", "pulse", "number"),
    [
        *((0, 48, 12, 0), (12, 48, 12, 1), (24, 48, 12, 0), (36, 48, 12, 1)),
        *((6, 48, 12, 2), (42, 48, 12, 2), (4, 48, 12, 3), (9, 48, 12, 3), (47, 48, 12, 3)),
        *((0, 36, 12, 0), (24, 36, 12, 1)),
        *((0, 72, 18, 0), (36, 72, 18, 0), (18, 72, 18, 1), (9, 72, 18, 2), (6, 72, 18, 3)),
    ],
)
def test_places(tick: int, bar: int, pulse: int, number: int) -> None:
    """First and third of four pulses are strong; in three only the first; 12/8 counts dotted."""
    assert place_class(tick, bar, pulse) == number


@pytest.mark.parametrize(
    ("symbol", "family"),
    [
        *(("Cmaj7", "major"), ("C6", "major"), ("C", "major")),
        *(("Cm7", "minor"), ("Cm6", "minor"), ("Cm", "minor"), ("CmMaj7", "minor")),
        *(("C7", "dominant"), ("C7alt", "dominant"), ("C7sus4", "dominant"), ("C13", "dominant")),
        *(("Cm7b5", "half-diminished"), ("Cdim7", "half-diminished")),
        ("Caug", "other"),
    ],
)
def test_families(symbol: str, family: str) -> None:
    """Sus counts as dominant, diminished as half-diminished, triads by their third."""
    assert FAMILIES[family_class(parse_chord(symbol))] == family
