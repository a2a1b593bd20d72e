"""Open and closed endings, on textbook cadences.

Authentic cadence (V-I, melody on 1) is the most closed, half cadence (a stop on V) open: any
textbook of harmony.
"""

from __future__ import annotations

import pytest

from jam.harmony.changes import Change, Changes
from jam.harmony.keys import parse_key
from jam.harmony.symbols import parse_chord
from jam.listening.endings import OPEN_FROM, openness
from jam.listening.phrase import GridNote
from jam.listening.roles import judged
from jam.transport.metre import Bars

AUTHENTIC = ((0.0, "Dm7"), (4.0, "G7"), (8.0, "Cmaj7"))
HALF = ((0.0, "Cmaj7"), (4.0, "Dm7"), (8.0, "G7"), (12.0, "Cmaj7"))
TWELVE_BLUES = ((0.0, "C7"), (4.0, "F7"), (8.0, "C7"))


def ending(chords, *notes, **told):
    """Return the openness of the ending of notes (beat, beats, pitch)."""
    changes = Changes([Change(beat, parse_chord(symbol)) for beat, symbol in chords])
    does = judged(notes, changes)
    grid = [
        GridNote(beat, beats, pitch, 80, what.degree, what.strong, what.role, what.chord)
        for (beat, beats, pitch), what in zip(notes, does, strict=True)
    ]
    return openness(grid, changes, Bars(), **told)


def test_authentic_cadence_is_closed_altogether():
    """B falling ... to a long C on the downbeat of I leaves nothing open."""
    assert ending(AUTHENTIC, (7, 1, 62), (8, 2, 60)) == pytest.approx(0.0)


@pytest.mark.parametrize("pitch", [67, 71, 62, 65])
def test_half_cadence_is_open(pitch):
    """A stop on V is a question, whichever chord tone it stops on, even long and on the beat."""
    assert ending(HALF, (7, 1, 72), (8, 2, pitch)) >= OPEN_FROM


def test_degrees_of_the_tonic_by_how_much_they_rest():
    """On the tonic 1 rests most, then 3, 5, 6, 9, 7 (common practice)."""
    asks = [ending(AUTHENTIC, (7, 1, 84), (8, 2, p)) for p in (60, 64, 67, 69, 62, 71)]
    assert asks == sorted(asks)
    assert asks[2] < OPEN_FROM <= asks[-1]


def test_every_sign_of_a_question_opens_the_ending():
    """Rising, short or off the beat the same ending is more open than falling, long, on it."""
    closed = ending(AUTHENTIC, (8, 1, 67), (10, 2, 64))
    for notes in (
        ((8, 1, 60), (10, 2, 64)),
        ((8, 1, 67), (10, 0.5, 64)),
        ((8, 1, 67), (10.5, 2, 64)),
        ((8, 1, 67), (11, 2, 64)),
    ):
        assert closed < ending(AUTHENTIC, *notes) < 1.0


def test_the_tonic_of_a_blues_is_at_rest_on_a_dominant():
    """The root of I7 closes a chorus of blues once the key is known; without it less so."""
    key = parse_key("C")
    assert ending(TWELVE_BLUES, (7, 1, 62), (8, 2, 60), key=key, blues=True) == 0.0
    assert ending(TWELVE_BLUES, (7, 1, 62), (8, 2, 60)) > 0.3


def test_without_a_chord_place_length_and_direction_speak():
    """With no changes a long fall to a strong beat is more closed than a short rise off it."""
    fall, rise = ending((), (0, 1, 64), (2, 2, 60)), ending((), (0, 1, 60), (2.5, 0.5, 64))
    assert fall == 0.0
    assert rise > 0.2
