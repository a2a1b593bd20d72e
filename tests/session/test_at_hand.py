"""What is at hand, as the I/O process tells it, and what is said where nothing is."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

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


BLOCK = """\
import sys
for name in ("rtmidi", "supriya_midi", "sounddevice", "miniaudio"):
    sys.modules[name] = None
"""
START = """\
from time import perf_counter, sleep
from jam.ports.spawn import spawn
from jam.ports.wire import News, Ready
from jam.session.at_hand import can_play, missing_lines
from jam.session.live_options import LiveOptions
from jam.session.live_plan import plan_live

process = spawn(plan_live(LiveOptions()).wishes)
said, until = [], perf_counter() + 20.0
while not process.gone and perf_counter() < until and not any(type(s) is Ready for s in said):
    said += process.receive()
    sleep(0.002)
facts = [record for record in said if isinstance(record, News)]
print(can_play(facts), *missing_lines(facts), sep="\\n")
process.quit(5.0)
process.close()
"""


def test_a_machine_without_native_libraries_is_told_what_mends_it(tmp_path: Path) -> None:
    """The I/O process starts all the same, and each thing that is missing names one command."""
    (tmp_path / "sitecustomize.py").write_text(BLOCK)
    path = os.pathsep.join(filter(None, [str(tmp_path), os.environ.get("PYTHONPATH")]))
    done = subprocess.run(
        [sys.executable, "-c", START],
        env={**os.environ, "PYTHONPATH": path},
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert (done.returncode, done.stderr) == (0, "")
    playable, midi, sound, *rest = done.stdout.splitlines()
    assert playable == "False"
    assert "pip install" in midi
    assert "sounddevice does not load" in sound
    assert rest == [DEMO]
