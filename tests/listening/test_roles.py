"""Roles of a call's notes against the chords that sounded.

Chord tones, tensions and the notes that lead into them by definition (any textbook of jazz
harmony); the limits of an approach and a leaning note are those of a reply's rules.
"""

from __future__ import annotations

import pytest

from jam.harmony.changes import Change, Changes
from jam.harmony.keys import parse_key
from jam.harmony.symbols import parse_chord
from jam.listening.roles import judged

C_MAJOR = ((0.0, "Cmaj7"),)
TWO_FIVE = ((0.0, "Dm7"), (4.0, "G7"))


def roles(chords, *notes, **told):
    """Return the roles of notes (beat, beats, pitch) over chords (beat, symbol)."""
    changes = Changes([Change(beat, parse_chord(symbol)) for beat, symbol in chords])
    return [judgement.role for judgement in judged(notes, changes, **told)]


@pytest.mark.parametrize(
    ("pitch", "role"),
    [(60, "chord tone"), (71, "chord tone"), (62, "tension"), (66, "tension"), (61, "other")],
)
def test_single_notes_over_a_major_seventh(pitch, role):
    """C and B are chord tones of Cmaj7, D and F# its 9 and #11; Db that goes nowhere is other."""
    assert roles(C_MAJOR, (1.0, 0.5, pitch)) == [role]


def test_approaches_resolve_by_step_within_three_notes():
    """An enclosure of E and a chromatic run into G are approaches; a leap away is not one."""
    assert roles(C_MAJOR, (1, 0.5, 65), (1.5, 0.5, 63), (2, 0.5, 64)) == [
        "approach", "approach", "chord tone",
    ]  # fmt: skip
    assert roles(C_MAJOR, (1, 0.5, 65), (1.5, 0.5, 66), (2, 0.5, 67))[0] == "approach"
    assert roles(C_MAJOR, (1, 0.5, 61), (1.5, 0.5, 67), (2, 0.5, 71))[0] == "other"


def test_a_long_outside_note_is_no_approach():
    """A beat on Db over Cmaj7 at 120 bpm is other even if it resolves; at 240 bpm 250 ms is one."""
    line = ((1, 1.0, 61), (2, 1.0, 60))
    assert roles(C_MAJOR, *line, beat_sec=0.5)[0] == "other"
    assert roles(C_MAJOR, *line, beat_sec=0.25)[0] == "approach"


def test_anticipation_is_judged_by_the_chord_to_come():
    """B tied over the bar line from the and of four is the 3 of the G7 to come over Ebm7."""
    changes = Changes([Change(0.0, parse_chord("Ebm7")), Change(4.0, parse_chord("G7"))])
    (told,) = judged([(3.5, 1.0, 71)], changes)
    assert (told.role, told.degree, told.chord, told.strong) == ("anticipation", "3", "G7", True)


def test_leaning_note_stands_on_or_across_the_change():
    """C on or held across the change to G7 that falls to B is leaning (the 4-3 suspension)."""
    assert roles(TWO_FIVE, (4, 1, 60), (5, 1, 59)) == ["leaning", "chord tone"]
    assert roles(TWO_FIVE, (3, 2, 60), (5, 1, 59))[0] == "chord tone"
    assert roles(((0.0, "Cmaj7"), (4.0, "G7")), (3.0, 1.5, 61), (4.5, 1, 62))[0] == "leaning"


def test_blue_notes_are_blue_in_a_blues_only():
    """Eb held over Cmaj7 is other; in a blues in C it is a blue note, the b3 of the key."""
    key = parse_key("C")
    line = ((1, 2.0, 63), (3, 1.0, 67))
    assert roles(C_MAJOR, *line)[0] == "other"
    assert roles(C_MAJOR, *line, key=key, blues=True)[0] == "blue"


def test_without_a_chord_there_is_no_role():
    """With no changes, or on N.C., a note has no role and no degree, and is strong."""
    (told,) = judged([(1.0, 0.5, 61)], Changes([]))
    assert (told.role, told.degree, told.chord, told.strong) == ("", "", "", True)
    (told,) = judged([(1.0, 0.5, 61)], Changes([Change(0.0, parse_chord("N.C."))]))
    assert (told.role, told.strong) == ("", True)
