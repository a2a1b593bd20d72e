"""What was heard, in words."""

from __future__ import annotations

import pytest

from jam.harmony.changes import Change, Changes
from jam.harmony.symbols import parse_chord
from jam.listening.describe import described
from jam.listening.phrase import GridNote
from jam.listening.words import words
from jam.transport.metre import Bars

CHANGES = Changes([Change(0.0, parse_chord("Dm7")), Change(8.0, parse_chord("G7"))])


def line(*notes, changes=CHANGES):
    """Return the words about notes (beat, beats, pitch)."""
    grid = [GridNote(beat, beats, pitch, 80, "", True) for beat, beats, pitch in notes]
    return words(described(grid, changes, Bars()))


@pytest.mark.parametrize(
    ("notes", "told"),
    [
        (
            [(i / 2, 0.5, p) for i, p in enumerate((62, 65, 69, 72, 76))],
            "five notes, rises, ends open on the 9th of Dm7",
        ),
        (
            [(i / 3, 1 / 3, p) for i, p in enumerate((74, 72, 71, 69, 67, 65))] + [(2, 2, 62)],
            "seven notes, falls, triplets, ends closed on the root of Dm7",
        ),
        ([(0, 3, 69), (4, 2, 65)], "two notes, falls, ends closed on the minor third of Dm7"),
        ([(0.5, 0.5, 62)], "one note, stays level, ends closed on the root of Dm7"),
    ],
)
def test_phrases_in_words(notes, told):
    """Number of notes, shape, rhythm and ending are named as a musician would."""
    assert line(*notes) == told


def test_a_sequence_is_named_with_its_interval():
    """A figure said three times a step lower each time is told as that."""
    figure = ((0, 0.75, 74), (0.75, 0.25, 77), (1, 0.5, 76), (1.5, 0.5, 72))
    notes = [(b + 2 * i, n, p - 2 * i) for i in range(3) for b, n, p in figure]
    assert line(*notes).endswith("; a figure of four notes three times, a step lower")


def test_without_changes_no_ending_is_named():
    """Nothing is said of an ending on no chord."""
    assert line((0, 1, 60), (1, 1, 64), changes=Changes([])) == "two notes, rises"
