"""What is at hand, as the I/O process tells it, and what is said where nothing is."""

from __future__ import annotations

import pytest

from jam.ports.wire import News
from jam.session.at_hand import DEMO, can_play, missing_lines

NO_MIDI = News(
    "missing", "ALSA: the kernel's MIDI sequencer is not there. sudo modprobe snd-seq", 0
)
NO_SOUND = News("missing", "there is no sound device. Connect one", 0)
NO_OUT = News("missing", "companion, melody: neither sound nor a MIDI output is there", 0)
PRIORITY = News("priority", "real-time priority 20", 0)


def test_with_nothing_at_hand_the_demo_is_offered() -> None:
    """A line for each thing that is missing, with its mend, and the offer at the end."""
    facts = [NO_MIDI, NO_SOUND, NO_OUT, PRIORITY]
    assert not can_play(facts)
    assert missing_lines(facts) == [NO_MIDI.text, NO_SOUND.text, DEMO]


@pytest.mark.parametrize("topic", ["input", "output", "sound"])
def test_one_thing_is_enough_to_wait_for_the_others(topic: str) -> None:
    """With a port or with sound it plays, and still says what is missing."""
    facts = [NO_MIDI, News(topic, "player=Keys", 0)]
    assert can_play(facts)
    assert missing_lines(facts) == [NO_MIDI.text]


def test_with_everything_there_nothing_is_said() -> None:
    """No line where nothing is missing."""
    assert missing_lines([News("input", "player=Keys", 0), News("sound", "Speakers", 0)]) == []
