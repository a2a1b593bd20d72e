"""What bytes mean, against the MIDI 1.0 Detailed Specification and mido."""

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from jam.events import (
    BAND,
    CLOCK,
    PLAYER,
    ClockContinue,
    ClockStart,
    ClockStop,
    ClockTick,
    Control,
    MidiIn,
    NoteOff,
    NoteOn,
    Program,
    SongPosition,
    decode,
)


@pytest.mark.parametrize("channel", range(16))
def test_every_channel_is_heard(channel: int) -> None:
    """Channel messages of all sixteen channels say what mido says they say (mido 1.3)."""
    note = tuple(mido.Message("note_on", channel=channel, note=60, velocity=90).bytes())
    off = tuple(mido.Message("note_off", channel=channel, note=60, velocity=64).bytes())
    control = tuple(mido.Message("control_change", channel=channel, control=64, value=127).bytes())
    program = tuple(mido.Message("program_change", channel=channel, program=26).bytes())
    assert decode(MidiIn(1.0, BAND, note)) == NoteOn(1.0, BAND, channel, 60, 90)
    assert decode(MidiIn(1.0, BAND, off)) == NoteOff(1.0, BAND, channel, 60)
    assert decode(MidiIn(1.0, BAND, control)) == Control(1.0, BAND, channel, 64, 127)
    assert decode(MidiIn(1.0, BAND, program)) == Program(1.0, BAND, channel, 26)


def test_velocity_zero_is_a_note_off() -> None:
    """A note-on with velocity 0 ends the note (MIDI 1.0, note on)."""
    assert decode(MidiIn(0.5, PLAYER, (0x93, 61, 0))) == NoteOff(0.5, PLAYER, 3, 61)


@pytest.mark.parametrize(
    ("data", "meant"),
    # System real time F8 FA FB FC and song position F2 lsb msb (MIDI 1.0).
    [
        ((0xF8,), ClockTick(2.0)),
        ((0xFA,), ClockStart(2.0)),
        ((0xFB,), ClockContinue(2.0)),
        ((0xFC,), ClockStop(2.0)),
        ((0xF2, 10, 0), SongPosition(2.0, 10)),
        ((0xF2, 0x7F, 0x7F), SongPosition(2.0, 16383)),
    ],
)
def test_clock_messages_are_told_apart(data: tuple[int, ...], meant: object) -> None:
    """Each clock byte has its meaning; a song position has fourteen bits, low seven first."""
    assert decode(MidiIn(2.0, CLOCK, data)) == meant


@pytest.mark.parametrize(
    "data",
    [(), (0x90,), (0x90, 60), (0x90, 60, 200), (0x90, -1, 3), (60, 60, 60), (0xFE,), (0xF2, 1)],
)
def test_broken_or_useless_messages_mean_nothing(data: tuple[int, ...]) -> None:
    """What is too short, out of range or of no use is None, never an exception."""
    assert decode(MidiIn(0.0, PLAYER, data)) is None


@given(st.lists(st.integers(-5, 300), max_size=5))
def test_any_bytes_at_all_are_survived(data: list[int]) -> None:
    """A port may deliver anything."""
    decode(MidiIn(0.0, PLAYER, tuple(data)))
