"""Describing a phrase over changes."""

from __future__ import annotations

import pytest

from jam.harmony.changes import Change, Changes
from jam.harmony.symbols import parse_chord
from jam.listening.describe import describe
from jam.listening.phrase import LineNote
from jam.transport.metre import Bars

BEAT_SEC = 0.5


def played(*triples):
    """Return line notes from (beat, beats, pitch) at 120 bpm, played without scatter."""
    return [LineNote(b * BEAT_SEC, (b + d) * BEAT_SEC, pitch, 80, b, d) for b, d, pitch in triples]


def changes(*pairs):
    """Return changes from (beat, symbol)."""
    return Changes([Change(beat, parse_chord(symbol)) for beat, symbol in pairs])


TWO_FIVE_ONE = changes((0.0, "Dm7"), (4.0, "G7"), (8.0, "Cmaj7"))


def test_arpeggio_over_two_five_one():
    """Degrees, range and manner of a plain line are read off as a musician would.

    Degrees by definition: F A C E over Dm7 are b3 5 b7 9, B is the 3 of G7 (common practice).
    """
    line = played(*((1 + 0.5 * i, 0.45, p) for i, p in enumerate((65, 69, 72, 76, 74, 72))))
    told = describe([*line, *played((4.0, 1.0, 71))], TWO_FIVE_ONE, Bars())
    assert [note.degree for note in told.notes] == ["b3", "5", "b7", "9", "1", "b7", "3"]
    assert all(note.strong for note in told.notes)
    assert (told.start_beat, told.end_beat) == (1.0, 5.0)
    assert told.density == pytest.approx(7 / 4)
    assert (told.low, told.high, told.contour) == (65, 76, 1)
    assert not told.starts_off_beat
    assert not told.ends_off_beat
    assert told.open_ending, "it stops on a dominant"
    assert told.cells


def test_anticipation_is_judged_by_the_chord_to_come():
    """B held over the bar line from the and of four belongs to G7; the same B cut short does not.

    B is neither chord tone nor available tension of Ebmaj7, and the 3 of G7 (common practice).
    """
    ahead = changes((0.0, "Ebm7"), (4.0, "G7"))
    tied = describe(played((2.0, 1.0, 66), (3.5, 1.0, 62)), ahead, Bars()).notes[-1]
    assert (tied.degree, tied.strong) == ("5", True)
    short = describe(played((2.0, 1.0, 66), (3.0, 0.5, 62)), ahead, Bars()).notes[-1]
    assert not short.strong


@pytest.mark.parametrize(("pitch", "is_open"), [(60, False), (64, False), (67, False), (71, True)])
def test_ending_is_open_unless_on_1_3_or_5(pitch, is_open):
    """Over Cmaj7 C, E and G close a phrase, B leaves it open."""
    told = describe(played((8.0, 0.5, 62), (8.5, 1.0, pitch)), TWO_FIVE_ONE, Bars())
    assert told.open_ending is is_open
    assert told.ends_off_beat


def test_without_changes_nothing_is_wrong():
    """With no chord known every note is strong, has no degree, and no ending is open."""
    told = describe(played((0.5, 0.5, 61), (1.0, 0.5, 66)), Changes([]), Bars())
    assert all(note.strong and note.degree == "" for note in told.notes)
    assert told.starts_off_beat
    assert not told.open_ending
    assert told.swing_ratio is None


def test_a_phrase_without_notes_is_refused():
    """There is nothing to describe in an empty phrase."""
    with pytest.raises(ValueError, match="needs a note"):
        describe([], TWO_FIVE_ONE, Bars())
