"""The way a phrase goes: turning points, density, tension, dynamics."""

from __future__ import annotations

import pytest

from jam.listening.curves import densities, shape_words, swell, tensions, turning_points
from jam.listening.phrase import GridNote


def eighths(pitches, role="chord tone"):
    """Return even eighths from beat 0."""
    return [GridNote(i / 2, 0.5, p, 80, "1", True, role) for i, p in enumerate(pitches)]


@pytest.mark.parametrize(
    ("pitches", "turns", "words"),
    [
        ((60, 62, 64, 65, 67), (60, 67), "rises"),
        ((67, 65, 64, 62, 60), (67, 60), "falls"),
        ((60, 64, 67, 72, 71, 69, 67, 64), (60, 72, 64), "rises, then falls"),
        ((72, 71, 67, 64, 67, 70, 72), (72, 64, 72), "falls, then rises"),
        ((60, 67, 72, 66, 60, 67, 74), (60, 72, 60, 74), "rises, falls, rises"),
        ((60, 61, 60, 62, 61, 60), (60, 60), "stays level"),
        ((60, 72, 60, 72, 60, 72), (60, 72, 60, 72, 60, 72), "goes up and down"),
        ((64, 62, 60, 62, 64, 67, 72), (64, 60, 72), "falls, then rises"),
        ((64,), (64,), "stays level"),
    ],
)
def test_turning_points_leave_small_swings_out(pitches, turns, words):
    """The shape is what an ear would draw: first note, large turns, last note."""
    found = turning_points(eighths(pitches))
    assert tuple(pitch for _, pitch in found) == turns
    assert shape_words(found) == words


def test_turning_points_move_with_the_phrase():
    """Transposed and later, the turns are as much higher and later (a law)."""
    pitches = (60, 64, 67, 72, 71, 69, 67, 64, 66, 71)
    moved = [GridNote(n.beat + 8, 0.5, n.pitch + 3, 80, "1", True) for n in eighths(pitches)]
    there = tuple((beat + 8, pitch + 3) for beat, pitch in turning_points(eighths(pitches)))
    assert turning_points(moved) == there


def test_density_by_quarter():
    """Eight eighths and then a note of four beats are two notes a beat, then one in four."""
    notes = [*eighths((60,) * 8), GridNote(4.0, 4.0, 60, 80, "1", True)]
    assert densities(notes) == (2.0, 2.0, 0.5, 0.0)


def test_tension_is_where_the_outside_and_high_notes_are():
    """Chord tones, then outside notes higher up, then chord tones again: low, high, low."""
    inside, outside = eighths((60, 64, 60, 64)), eighths((73, 75, 73, 75, 73, 75, 73, 75), "other")
    later = [GridNote(n.beat + 2, 0.5, n.pitch, 80, "b9", False, n.role) for n in outside]
    last = [GridNote(n.beat + 6, 0.5, n.pitch, 80, "1", True, n.role) for n in inside]
    first, second, third, fourth = tensions([*inside, *later, *last])
    assert first == pytest.approx(fourth)
    assert min(second, third) > 2 * first
    assert all(0.0 <= value <= 1.0 for value in (first, second, third, fourth))


@pytest.mark.parametrize(
    ("velocities", "way"), [((60, 70, 80), 1), ((90, 80, 70), -1), ((80, 60, 82), 0), ((80,), 0)]
)
def test_swell_is_from_first_to_last_third(velocities, way):
    """Growing louder is 1, softer -1, and a few steps of velocity are nothing."""
    assert swell(velocities) == way
