"""The bank of notes and the player's keys: bounded, shared, and ended by key or damper."""

from __future__ import annotations

import numpy as np

from jam.sound.live_bank import NoteBank
from jam.sound.live_keys import LiveKeys
from jam.sound.voices import RATE_HZ, Noise


def test_bank_stays_within_its_bounds_and_forgets_the_oldest():
    """However many notes are made, no more frames are kept than allowed; the newest are there."""
    bank = NoteBank(Noise(np.random.default_rng(1)), RATE_HZ, most_frames=200_000)
    colours = [bank.colour("comping", pitch, 80) for pitch in range(40, 60)]
    for colour in colours:
        bank.make(colour, 20_000)
        assert bank.frames <= 200_000
    assert bank.find(colours[0]) is None
    assert bank.find(colours[-1]) is not None


def test_notes_of_one_colour_share_their_samples():
    """The same colour is made once; asked for longer, it is made anew and begins alike."""
    bank = NoteBank(Noise(np.random.default_rng(1)), RATE_HZ)
    colour = bank.colour("comping", 60, 80)
    short = bank.make(colour, 10_000)
    assert bank.make(colour, 9_000) is short
    longer = bank.make(colour, 50_000)
    assert np.allclose(longer[: short.size], short, atol=1e-6)
    assert bank.frames == longer.size


def test_takes_follow_one_another():
    """Strokes of a voice with several takes are not copies of each other."""
    bank = NoteBank(Noise(np.random.default_rng(1)), RATE_HZ)
    assert [bank.colour("drums", 51, 80).take for _ in range(5)] == [0, 1, 2, 3, 0]


def test_keys_and_damper_end_what_they_held():
    """A key ends its note when let go or struck again; the damper keeps those let go until it
    comes up, and not those whose keys are still down."""
    keys = LiveKeys()
    assert keys.press(60, 1) == []
    assert keys.press(60, 2) == [1]
    assert keys.release(60) == [2]
    assert keys.release(60) == []
    keys.damper(down=True)
    keys.press(62, 3)
    keys.press(64, 4)
    assert keys.release(62) == []
    assert keys.damper(down=False) == [3]
    assert keys.release(64) == [4]
