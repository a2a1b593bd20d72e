"""Click and drums: who strikes what, where in the bar."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pretty_midi
import pytest
from band_spans import METRES, TUNES, TWELVE_EIGHT, WALTZ, play_all, spans_of

from jam.players import channels
from jam.players.click import Click
from jam.players.drums import Drums
from jam.transport.metre import Bars, Metre

TUNE = TUNES[0]


def beats_of(notes, key, bar_beats=4.0):
    """Return the places in the bar at which a key is struck."""
    return sorted({round(n.beat % bar_beats, 6) for n in notes if n.pitch == key})


@pytest.mark.parametrize(
    ("key", "name"),
    [
        (channels.KICK, "Bass Drum 1"),
        (channels.SIDE_STICK, "Side Stick"),
        (channels.SNARE, "Acoustic Snare"),
        (channels.HAT_CLOSED, "Closed Hi Hat"),
        (channels.HAT_PEDAL, "Pedal Hi Hat"),
        (channels.CRASH, "Crash Cymbal 1"),
        (channels.RIDE, "Ride Cymbal 1"),
        (channels.BLOCK_HIGH, "Hi Wood Block"),
        (channels.BLOCK_LOW, "Low Wood Block"),
    ],
)
def test_percussion_keys_are_general_midi(key, name):
    """Keys bear the names of General MIDI's percussion map, as pretty_midi tables it."""
    assert pretty_midi.note_number_to_drum_name(key) == name


@pytest.mark.parametrize(
    ("part", "name"),
    [("bass", "Acoustic Bass"), ("comping", "Electric Piano 1"), ("companion", "Tenor Sax")],
)
def test_programs_are_general_midi(part, name):
    """Programs bear the names of General MIDI's sound set, as pretty_midi tables it."""
    assert pretty_midi.program_to_instrument_name(channels.PROGRAMS[part]) == name


def test_ride_pattern_in_swing():
    """Ding, ding-a, ding, ding-a with the foot on 2 and 4, on the written grid: common practice."""
    notes = play_all(Drums(), spans_of(TUNE, intensity=0.0))
    assert beats_of(notes, channels.RIDE) == [0.0, 1.0, 1.5, 2.0, 3.0, 3.5]
    assert beats_of(notes, channels.HAT_PEDAL) == [1.0, 3.0]
    kicks = [n for n in notes if n.pitch == channels.KICK]
    assert max(n.velocity for n in kicks) < min(n.velocity for n in notes if n.pitch == 51)


def test_waltz():
    """In three the ride plays every beat with a skip after 2, the foot is on 2."""
    notes = play_all(Drums(), spans_of(TUNE, metre=WALTZ, intensity=0.0))
    assert beats_of(notes, channels.RIDE, 3.0) == [0.0, 1.0, 1.5, 2.0]
    assert beats_of(notes, channels.HAT_PEDAL, 3.0) == [1.0]


def test_straight_feel_plays_even_eighths():
    """All eight eighths on the ride, side stick in a pattern of two bars."""
    notes = play_all(Drums(), spans_of(TUNE, feel="straight"))
    assert beats_of(notes, channels.RIDE) == [k / 2 for k in range(8)]
    assert beats_of(notes, channels.SIDE_STICK, 8.0) == [0.0, 1.5, 3.0, 5.0, 6.5]


def test_twelve_eight_strikes_the_pulse():
    """In 12/8 the ride strikes four dotted quarters, the foot the second and fourth."""
    notes = play_all(Drums(), spans_of(TUNE, metre=TWELVE_EIGHT))
    assert set(beats_of(notes, channels.RIDE, 6.0)) >= {0.0, 1.5, 3.0, 4.5}
    assert beats_of(notes, channels.HAT_PEDAL, 6.0) == [1.5, 4.5]


def test_ballad_is_sparser_than_swing():
    """A ballad has fewer and softer strokes than a swing of the same bars."""
    swing = play_all(Drums(), spans_of(TUNE, bpm=150))
    ballad = play_all(Drums(), spans_of(TUNE, bpm=60))
    assert len(ballad) < 0.7 * len(swing)
    assert np.mean([n.velocity for n in ballad if n.pitch == channels.RIDE]) < 60


@pytest.mark.parametrize("player", [Drums, Click])
@pytest.mark.parametrize("metre", METRES, ids=str)
@pytest.mark.parametrize("feel", ["swing", "straight"])
@pytest.mark.parametrize("cut", [None, 1.0, 2.7])
def test_every_metre_has_its_first_beat(player, metre, feel, cut):
    """Each bar's first beat is struck once per key, on channel 10, however spans are cut."""
    notes = play_all(player(), spans_of(TUNE, metre=metre, feel=feel, cut=cut))
    assert {n.channel for n in notes} == {9}
    struck = [(n.beat, n.pitch) for n in notes]
    assert len(struck) == len(set(struck))
    for bar in range(8):
        assert any(abs(n.beat - bar * metre.bar_beats) < 1e-6 for n in notes)


def test_ending_is_one_stroke_and_then_nothing():
    """On the last note kick and crash sound together and nobody plays after them."""
    notes = play_all(Drums(), spans_of(TUNE, ending=28.0))
    assert {n.pitch for n in notes if n.beat == 28.0} == {channels.KICK, channels.CRASH}
    assert max(n.beat for n in notes) == 28.0


def test_click_accents_the_bar():
    """The first of the bar is higher and louder than the other three."""
    notes = play_all(Click(), spans_of(TUNE))
    assert len(notes) == 32
    firsts = [n for n in notes if n.beat % 4 == 0]
    others = [n for n in notes if n.beat % 4]
    assert {n.pitch for n in firsts} == {channels.BLOCK_HIGH}
    assert {n.pitch for n in others} == {channels.BLOCK_LOW}
    assert min(n.velocity for n in firsts) > max(n.velocity for n in others)


@pytest.mark.parametrize(
    ("metre", "beats"),
    [
        (Metre(), [-8.0, -6.0, -4.0, -3.0, -2.0, -1.0]),
        (WALTZ, [-6.0, -5.0, -4.0, -3.0, -2.0, -1.0]),
        (Metre(3, 4, 3.0), [-6.0, -5.0, -4.0, -3.0, -2.0, -1.0]),
        (TWELVE_EIGHT, [-12.0, -9.0, -6.0, -4.5, -3.0, -1.5]),
    ],
    ids=str,
)
def test_count_in_of_two_bars(metre, beats):
    """One, two, one two three four; bars of three are counted in full: common practice."""
    span = spans_of(TUNE, metre=metre)[0]
    start = -2 * metre.bar_beats
    notes = Click().play(replace(span, start=start, end=0.0, bars=Bars(metre.bar_beats)))
    assert [n.beat for n in notes] == beats
