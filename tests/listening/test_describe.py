"""Describing a phrase over changes."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from jam.harmony.changes import Change, Changes
from jam.harmony.symbols import parse_chord
from jam.listening.describe import describe, described
from jam.listening.phrase import GridNote, LineNote
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


def test_manner_of_a_phrase():
    """Range, middle, dynamics, articulation and off-beat share are those of the notes played."""
    played_notes = [
        LineNote(b * BEAT_SEC, (b + 0.25) * BEAT_SEC, pitch, velocity, b, 0.25)
        for b, pitch, velocity in ((1.5, 62, 60), (2.0, 65, 70), (2.5, 69, 80), (3.5, 72, 100))
    ]
    told = describe(played_notes, TWO_FIVE_ONE, Bars())
    assert (told.middle, told.velocity_range, told.swell) == (67.0, 40, 1)
    assert told.sounding == pytest.approx(0.5)
    assert told.legato == 0.0
    assert told.off_beats == 0.75
    assert (told.shape_words, len(told.densities), len(told.tensions)) == ("rises", 4, 4)
    assert [note.role for note in told.notes] == ["chord tone"] * 4
    assert {note.chord for note in told.notes} == {"Dm7"}


def test_sixteenths_and_triplets_are_told_apart():
    """A line in sixteenths has no triplets, one in triplets no sixteenths (by definition)."""
    fine = describe(played(*((i / 4, 0.25, 60 + i % 5) for i in range(16))), Changes([]), Bars())
    threes = describe(played(*((i / 3, 0.3, 60 + i % 5) for i in range(12))), Changes([]), Bars())
    assert (fine.sixteenths, fine.triplets) == (1.0, 0.0)
    assert (threes.sixteenths, threes.triplets) == (0.0, 1.0)


def test_notes_on_the_grid_are_described_as_if_they_were_played():
    """A phrase played exactly and the same phrase given on the grid have one description."""
    rows = [(1 + 0.5 * i, 0.5, p) for i, p in enumerate((65, 69, 72, 76, 74, 72, 71, 67))]
    heard = describe(played(*rows), TWO_FIVE_ONE, Bars())
    given = described(
        [GridNote(beat, beats, pitch, 80, "", True) for beat, beats, pitch in rows],
        TWO_FIVE_ONE,
        Bars(),
    )
    assert [(n.beat, n.pitch, n.degree, n.role, n.strong) for n in given.notes] == [
        (n.beat, n.pitch, n.degree, n.role, n.strong) for n in heard.notes
    ]
    assert given.cells == heard.cells
    assert (given.openness, given.shape, given.tensions) == (
        heard.openness, heard.shape, heard.tensions,
    )  # fmt: skip


def test_transposed_with_its_chords_a_phrase_is_the_same():
    """A phrase and its chords a fourth up have the same degrees, roles, cells and openness."""
    line = played(*((1 + 0.5 * i, 0.45, p) for i, p in enumerate((65, 63, 62, 69, 72, 74, 71))))
    up = [replace(note, pitch=note.pitch + 5) for note in line]
    here = describe(line, TWO_FIVE_ONE, Bars())
    there = describe(up, changes((0.0, "Gm7"), (4.0, "C7"), (8.0, "Fmaj7")), Bars())
    assert [(n.degree, n.role) for n in here.notes] == [(n.degree, n.role) for n in there.notes]
    assert here.cells == there.cells
    assert (here.openness, here.tensions) == (there.openness, there.tensions)


def test_any_phrase_can_be_described():
    """Crowded, simultaneous, endless or empty notes, anywhere, give figures within their bounds."""
    rng = np.random.default_rng(12)
    symbols = ("Dm7", "G7", "Cmaj7", "N.C.", "Bbm7b5", "Gsus4", "Ab/C")
    for _ in range(80):
        count, start = int(rng.integers(1, 40)), float(rng.choice([-8.0, 0.0, 100.0]))
        onsets = np.sort(np.round(rng.uniform(0.0, rng.choice([0.1, 4.0, 16.0]), count) * 12) / 12)
        line = played(
            *(
                (start + float(onset), float(length), int(pitch))
                for onset, length, pitch in zip(
                    onsets,
                    rng.choice([0.0, 0.1, 0.5, 3.0], size=count),
                    rng.integers(0, 128, size=count),
                    strict=True,
                )
            )
        )
        rows = [(start + 2.0 * i, symbols[i]) for i in rng.permutation(7)[: rng.integers(7)]]
        told = describe(line, changes(*sorted(rows)), Bars())
        assert all(a.beat + a.beats <= b.beat + 1e-9 for a, b in pairwise(told.notes))
        assert 0.0 <= told.openness <= 1.0
        assert all(0.0 <= tension <= 1.0 + 1e-9 for tension in told.tensions)
        assert all(0.0 <= note.sounding <= 1.0 for note in told.notes)
