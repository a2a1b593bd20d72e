"""The line's memory and its phrases."""

from __future__ import annotations

from math import inf

import pytest

from jam.listening.line import Line, top_line
from jam.listening.phrase import LineNote
from jam.listening.segmenter import RestRule, phrases

BEAT_SEC = 0.5


def strike(line, pitch, beat, beats, velocity=80):
    """Play one note at 120 bpm."""
    line.note_on(pitch, velocity, beat * BEAT_SEC, beat)
    line.note_off(pitch, (beat + beats) * BEAT_SEC, beat + beats)


def test_silence_counts_from_the_last_release():
    """Silence is endless before the first note, 0 under a held key, and counts from its release."""
    line = Line()
    assert line.silence_beats(3.0) == inf
    line.note_on(60, 80, 0.5, 1.0)
    assert line.held
    assert line.silence_beats(3.0) == 0.0
    line.note_off(60, 1.0, 2.0)
    assert not line.held
    assert line.silence_beats(3.5) == 1.5


def test_release_of_a_key_that_is_not_down_is_ignored():
    """A stray release neither makes a note nor restarts the silence."""
    line = Line()
    strike(line, 60, 0.0, 1.0)
    line.note_off(61, 2.0, 4.0)
    assert line.silence_beats(4.0) == 3.0
    assert len(line.notes_since(0.0, 2.0, 4.0)) == 1


def test_key_struck_twice_before_its_release_makes_two_notes():
    """The first of two strikes ends at the second; one release is enough, a second does no harm."""
    line = Line()
    line.note_on(60, 80, 0.0, 0.0)
    line.note_on(60, 70, 0.5, 1.0)
    line.note_off(60, 1.0, 2.0)
    line.note_off(60, 1.1, 2.2)
    first, second = line.notes_since(0.0, 2.0, 4.0)
    assert (first.end, first.heard_beats) == (0.5, 1.0)
    assert (second.end, second.velocity) == (1.0, 70)
    assert line.silence_beats(3.0) == 1.0


def test_held_note_ends_now():
    """A note whose key is still down is given as long as it has sounded."""
    line = Line()
    line.note_on(60, 80, 1.0, 2.0)
    (note,) = line.notes_since(0.0, 1.75, 3.5)
    assert note == LineNote(1.0, 1.75, 60, 80, 2.0, 1.5)


def test_chords_are_reduced_to_their_top_note():
    """Of keys struck within 40 ms that sound on together, the highest is the line."""
    line = Line()
    for pitch, t in ((60, 0.0), (67, 0.01), (64, 0.03)):
        line.note_on(pitch, 80, t, t / BEAT_SEC)
    for pitch in (60, 64, 67):
        line.note_off(pitch, 0.5, 1.0)
    (note,) = line.notes_since(0.0, 1.0, 2.0)
    assert (note.pitch, note.t, note.end) == (67, 0.0, 0.5)
    assert note.heard_beats == pytest.approx(1.0)


def struck(t, end, *pitches):
    """Return notes struck together at 120 bpm."""
    return [LineNote(t, end, p, 80, t / BEAT_SEC, (end - t) / BEAT_SEC) for p in pitches]


def test_voice_that_moves_under_a_held_pedal_is_the_line():
    """A top note held over the next two strokes is a pedal: the voice below is the line."""
    held = [*struck(0.0, 0.9, 72), *struck(0.0, 0.25, 64), *struck(0.25, 0.5, 65)]
    line = top_line([*held, *struck(0.5, 0.75, 67), *struck(1.0, 1.5, 76)])
    assert [note.pitch for note in line] == [64, 65, 67, 76]


def test_voice_that_moves_under_a_pedal_struck_again_is_the_line():
    """Of double stops with one top note struck again and again, the lower voice is the line."""
    strokes = [
        note for i, p in enumerate((64, 65, 67)) for note in struck(i / 4, i / 4 + 0.2, p, 72)
    ]
    line = top_line([*strokes, *struck(0.75, 1.0, 74)])
    assert [note.pitch for note in line] == [64, 65, 67, 74]


def test_parallel_double_stops_keep_their_top_voice():
    """In thirds that move together, and over a low pedal, the upper voice is the line."""
    thirds = [
        note for i, p in enumerate((60, 62, 64)) for note in struck(i / 4, i / 4 + 0.2, p, p + 4)
    ]
    assert [note.pitch for note in top_line(thirds)] == [64, 66, 68]
    low = [note for i, p in enumerate((60, 62, 64)) for note in struck(i / 4, i / 4 + 0.2, 48, p)]
    assert [note.pitch for note in top_line(low)] == [60, 62, 64]


def test_grace_note_is_not_a_chord():
    """A crushed note let go as the main note sounds stays a note of the line."""
    line = Line()
    line.note_on(63, 80, 0.0, 0.0)
    line.note_on(64, 80, 0.035, 0.07)
    line.note_off(63, 0.05, 0.1)
    line.note_off(64, 0.5, 1.0)
    assert [note.pitch for note in line.notes_since(0.0, 1.0, 2.0)] == [63, 64]


def test_forgetting_keeps_the_later_notes():
    """Notes before the given beat are forgotten, those from it on are kept."""
    line = Line()
    for beat in range(4):
        strike(line, 60 + beat, float(beat), 0.5)
    line.forget_before(2.0)
    assert [note.pitch for note in line.notes_since(0.0, 9.0, 18.0)] == [62, 63]


def test_rest_rule_takes_the_longer_of_beats_and_seconds():
    """Slow tempi are ruled by the beats, fast ones by the seconds."""
    rule = RestRule(beats=0.5, sec=0.4)
    assert rule.rest_beats(60.0) == 0.5
    assert rule.rest_beats(240.0) == pytest.approx(1.6)


def test_phrases_are_cut_at_long_rests_only():
    """A rest as long as the rule cuts, a shorter one and an overlapped one do not."""
    notes = [
        LineNote(b * BEAT_SEC, (b + d) * BEAT_SEC, 60, 80, b, d)
        for b, d in ((0.0, 3.0), (1.0, 0.5), (3.75, 0.25), (5.0, 0.5), (5.5, 0.5))
    ]
    assert [len(phrase) for phrase in phrases(notes, 1.0)] == [3, 2]
