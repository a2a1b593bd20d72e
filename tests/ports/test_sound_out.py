"""The built-in sound on a device in memory, whose blocks are pulled at given times."""

from __future__ import annotations

import sys
import threading
import types
from dataclasses import replace

import numpy as np
import pytest

from jam.errors import PortError
from jam.ports.audio import FirstThatOpens, library_mend, named
from jam.ports.memory_audio import MemoryAudio
from jam.ports.miniaudio_audio import MiniAudio
from jam.ports.preparing import Preparing
from jam.ports.sound_out import RETRY_SEC, SoundOut
from jam.ports.sounddevice_audio import SoundDeviceAudio
from jam.ports.wire import PlayNote
from jam.ports.wishes import PartWish, SoundWish
from jam.sound.live_limiter import DELAY

RATE_HZ = 48_000
BLOCK = 256
BLOCK_SEC = BLOCK / RATE_HZ
START = 500.0
PARTS = (PartWish("companion"), PartWish("click"), PartWish("bass"))


class Player:
    """A sound with its device and a hand-driven clock."""

    def __init__(self, device=None, parts=PARTS, latency_sec=0.0):
        self.device = device or MemoryAudio()
        self.out = SoundOut(SoundWish(), parts, latency_sec=latency_sec, device=self.device)
        self.blocks = 0
        self.pull(0.3)

    @property
    def now(self):
        return START + self.blocks * BLOCK_SEC

    def pull(self, sec):
        """Return ``sec`` of sound, called for in time."""
        self.out.wait_prepared()
        pieces = []
        for _ in range(round(sec / BLOCK_SEC)):
            pieces.append(self.device.pull(BLOCK, self.now))
            self.blocks += 1
        return np.concatenate(pieces)

    def poll(self):
        return self.out.poll(self.now)


@pytest.fixture
def player():
    player = Player()
    yield player
    player.out.close()


def note(id, t, end, part="companion", pitch=69, velocity=90):
    return PlayNote(id, part, t, end, 0, pitch, velocity, t - 1.0)


def first_heard(sound):
    return int(np.argmax(np.abs(sound).max(axis=1) > 0))


def test_clicks_lie_on_their_frames(player):
    """Times that are whole frames apart are heard exactly so, error 0 samples."""
    rng = np.random.default_rng(1)
    frames = 9000 + np.cumsum(rng.integers(5000, 8000, 20))
    base = player.now
    for id, frame in enumerate(frames):
        t = base + frame / RATE_HZ
        player.out.play(note(id, t, t + 0.02, "click", 77))
    sound = np.abs(player.pull(frames[-1] / RATE_HZ + 0.2)).max(axis=1)
    loud = np.flatnonzero(sound > 0)
    onsets = loud[np.diff(loud, prepend=-9999) > 400]
    assert list(onsets - 1) == list(frames)  # a click's own first sample is 0


@pytest.mark.parametrize(("device_sec", "ear_sec"), [(0.010, 0.0), (0.0, 0.015), (0.010, 0.005)])
def test_latencies_make_it_leave_earlier(device_sec, ear_sec):
    """What the device says of itself, and what was set on top, is taken off the time."""
    player = Player(MemoryAudio(latency_sec=device_sec), latency_sec=ear_sec)
    t = player.now + 0.5
    player.out.play(note(1, t, t + 0.02, "click", 77))
    heard = first_heard(player.pull(0.6)) - 1
    assert heard == round((0.5 - device_sec - ear_sec) * RATE_HZ)
    player.out.close()


def test_revoke_cut_and_replace(player):
    """A note revoked is not heard; one cut ends there; a second one of an id replaces it."""
    t = player.now + 0.5
    player.out.play(note(1, t, t + 1.0))
    player.out.revoke(1)
    player.out.play(note(2, t, t + 1.0))
    player.out.play(note(2, t + 0.2, t + 1.0))
    player.out.cut(2, t + 0.4)
    sound = np.abs(player.pull(2.5)).max(axis=1)
    loud = np.flatnonzero(sound > 1e-5)
    assert loud[0] == pytest.approx(0.7 * RATE_HZ, abs=60)
    assert loud[-1] < (0.9 + 0.07 + 0.55) * RATE_HZ


def pitch_of(sound):
    """Return the strongest frequency between 350 and 480 Hz, in semitones from A (440 Hz)."""
    mono = sound.sum(axis=1)
    power = np.abs(np.fft.rfft(mono * np.hanning(mono.size), 1 << 18)) ** 2
    hz = np.fft.rfftfreq(1 << 18, 1.0 / RATE_HZ)
    near = (hz > 350.0) & (hz < 480.0)
    return 12.0 * np.log2(hz[near][np.argmax(power[near])] / 440.0)


@pytest.mark.parametrize(
    ("bend", "begins", "ends"), [(None, 0, 0), ("fall", 0, -2), ("scoop", -1, 0)]
)
def test_the_voice_follows_the_bend(bend, begins, ends):
    """A fall is heard to end two semitones down, a scoop to begin one down, on the player's
    program (71: clarinet, from 0, General MIDI); a steady note stays."""
    player = Player(parts=(PartWish("companion", program=71),))
    t = player.now + 0.5
    player.out.play(replace(note(1, t, t + 1.0), bend=bend))
    sound = player.pull(2.0)
    first = round(0.5 * RATE_HZ)
    middle, last = first + RATE_HZ // 2, first + RATE_HZ
    assert pitch_of(sound[first : first + 1200]) == pytest.approx(begins, abs=0.6)
    assert pitch_of(sound[middle - 4800 : middle]) == pytest.approx(0.0, abs=0.1)
    assert pitch_of(sound[last - 960 : last + 1500]) == pytest.approx(ends, abs=0.4)
    player.out.close()


def test_silence_ends_all(player):
    """After panic nothing is heard but the room, and nothing that was to come."""
    t = player.now
    player.out.play(note(1, t + 0.1, t + 9.0))
    player.out.play(note(2, t + 1.0, t + 9.0))
    assert player.pull(0.5).any()
    player.out.silence(player.now)
    player.pull(0.6)
    assert not player.pull(1.0).any()


def test_own_key_sounds_at_once_and_as_long_as_it_is_down(player):
    """A key is heard with the next block after its samples are there, and ends when let go."""
    player.pull(0.1)
    player.out.thru(60, 90, player.now)
    player.out.wait_prepared()
    assert first_heard(player.pull(0.1)) <= DELAY + 1
    assert player.pull(1.0)[-1000:].any()
    player.out.thru(60, 0, player.now)
    player.pull(0.8)
    assert not player.pull(0.2).any()


def test_damper_holds_own_keys_only(player):
    """Keys let go while the pedal is down sound on until it comes up; the companion's do not."""
    player.out.thru_damper(True)
    player.out.thru(60, 90, player.now)
    player.pull(0.2)
    player.out.thru(60, 0, player.now)
    assert player.pull(1.0)[-1000:].any()
    player.out.thru_damper(False)
    player.pull(0.8)
    assert not player.pull(0.1).any()
    player.out.thru_damper(True)
    t = player.now
    player.out.play(note(9, t + 0.1, t + 0.3))
    player.pull(1.2)
    assert not player.pull(0.1).any()


def test_lost_device_is_told_and_taken_again():
    """News of the loss; two seconds later, or when it is there again, of the return; in between
    every order is dropped without a word; afterwards there is sound again, levels as set."""
    player = Player()
    player.out.level("companion", 0.0)
    player.device.there = False
    assert "lost" in player.poll()[0]
    t = player.now
    player.out.play(note(1, t + 0.1, t + 0.2))
    player.out.thru(60, 90, t)
    player.out.cut(1, t)
    player.out.silence(t)
    for later in (RETRY_SEC, 2 * RETRY_SEC):
        assert player.out.poll(t + later) == []
        player.out.wait_prepared()
    player.device.there = True
    player.out.poll(t + 3 * RETRY_SEC)
    player.out.wait_prepared()
    assert "back" in player.out.poll(t + 3 * RETRY_SEC + 0.1)[0]
    assert player.device.openings == 2
    player.blocks += round(4 * RETRY_SEC / BLOCK_SEC)
    player.pull(0.3)
    t = player.now + 0.3
    player.out.play(note(2, t, t + 0.2))
    assert not player.pull(0.6).any()
    player.out.play(note(3, player.now + 0.1, player.now + 0.2, "bass", 40))
    assert player.pull(0.4).any()
    player.out.close()


def test_device_that_stops_calling_is_lost(player):
    """A device that is open but calls for nothing for 1.5 s counts as lost."""
    assert player.poll() == []
    assert "lost" in player.out.poll(player.now + 1.6)[0]


def test_moved_clock_is_told(player):
    """A hole of 40 ms is told once, and notes lie right after it."""
    player.pull(1.0)
    player.blocks += 8
    player.pull(0.6)
    assert "moved by +42.7 ms" in " ".join(player.poll())
    t = player.now + 0.25
    player.out.play(note(1, t, t + 0.02, "click", 77))
    assert first_heard(player.pull(0.4)) - 1 == pytest.approx(0.25 * RATE_HZ, abs=1)
    assert player.poll() == []


def test_fault_in_the_call_is_survived_and_told(player, monkeypatch):
    """An exception while rendering gives silence and news, and the next block sounds."""
    t = player.now
    player.out.play(note(1, t + 0.05, t + 3.0))
    player.pull(0.3)
    with monkeypatch.context() as broken:
        broken.setattr("jam.sound.live_bus.LiveBus.clear", lambda self: 1 / 0)
        assert not player.pull(0.05).any()
    assert "ZeroDivisionError" in player.poll()[0]
    assert player.pull(0.3).any()


def test_click_without_its_channels_is_not_heard_and_told():
    """A click for outputs 3 and 4 stays silent on a stereo device, with a word."""
    parts = (PartWish("companion"), PartWish("click", sound=(2, 3)))
    player = Player(parts=parts)
    assert any("click is not heard" in line for line in player.poll())
    t = player.now + 0.1
    player.out.play(note(1, t, t + 0.05, "click", 77))
    assert not player.pull(0.4).any()
    player.out.close()


def test_other_rates_keep_time_and_pitch():
    """On a device at 44.1 kHz a note begins on its frame and has its pitch."""
    device = MemoryAudio(rate_hz=44_100)
    out = SoundOut(SoundWish(), PARTS, latency_sec=0.0, device=device)
    out.play(note(1, START + 0.2, START + 3.2, "bass", 57))
    assert out.wait_prepared()
    sound = np.concatenate([device.pull(441, START + k * 0.01) for k in range(300)])
    assert abs(first_heard(sound) - 0.2 * 44_100) < 3
    piece = sound[44_100 : 3 * 44_100, 0]
    power = np.abs(np.fft.rfft(piece * np.hanning(piece.size)))
    hz = np.fft.rfftfreq(piece.size, 1 / 44_100)
    near = (hz > 200) & (hz < 240)
    assert hz[near][np.argmax(power[near])] == pytest.approx(220.0, abs=1.0)
    out.close()


def test_no_device_is_a_port_error_in_plain_words():
    """Opening without any device raises, says so, and how to mend it; no thread is left."""
    device = MemoryAudio()
    device.there = False
    threads = threading.active_count()
    with pytest.raises(PortError, match="there is no sound device") as caught:
        SoundOut(SoundWish(), PARTS, latency_sec=0.0, device=FirstThatOpens([device, device]))
    assert caught.value.mend
    assert threading.active_count() == threads


def test_devices_are_found_by_name():
    """Exactly named, else in part, whatever the case; otherwise the names there are are told."""
    names = ["Built-in Output", "USB Audio", "USB Audio 2"]
    assert named("auto", names) == "Built-in Output"
    assert named("USB Audio", names) == "USB Audio"
    assert named("audio 2", names) == "USB Audio 2"
    with pytest.raises(PortError, match='no sound device is called "Horn"'):
        named("Horn", names)


def test_close_ends_the_thread(player):
    """Closing twice is once, and the preparing thread is gone."""
    player.out.close()
    player.out.close()
    assert not [t for t in threading.enumerate() if t.name == "preparing"]


def test_bank_makes_soonest_first_and_survives_faults():
    """What is wanted first is made first whatever the order of asking; a fault is only counted."""
    preparing, done, gate = Preparing(), [], threading.Event()
    preparing.later(lambda: done.append("idle"))
    preparing.ask(0.0, lambda: gate.wait(5.0))
    for t in (3.0, 1.0, 2.0):
        preparing.ask(t, lambda t=t: done.append(t))
    preparing.ask(1.5, lambda: 1 / 0)
    gate.set()
    preparing.close()
    assert [t for t in done if t != "idle"] == [1.0, 2.0, 3.0]
    assert preparing.faults == 1
    assert preparing.is_done


def test_devices_that_nobody_hears_are_refused(monkeypatch):
    """miniaudio's device without a sound counts as no device."""

    class Nobody:
        backend = "Null"
        closed = False

        def __init__(self, **how):
            Nobody.made = self

        def close(self):
            self.closed = True

    library = types.SimpleNamespace(
        PlaybackDevice=Nobody,
        MiniaudioError=RuntimeError,
        SampleFormat=types.SimpleNamespace(FLOAT32=5),
        Backend=types.SimpleNamespace(JACK=9),
    )
    monkeypatch.setitem(sys.modules, "miniaudio", library)
    with pytest.raises(PortError, match="there is no sound device"):
        MiniAudio().open("auto", 2, 256, lambda out, frame, t: None)
    assert Nobody.made.closed


def test_libraries_that_do_not_load_are_named(monkeypatch):
    """Without PortAudio and miniaudio, one error says both and the one command that mends it."""
    for name in ("sounddevice", "miniaudio"):
        monkeypatch.setitem(sys.modules, name, None)
    with pytest.raises(PortError, match=r"sounddevice does not load.*miniaudio does not load") as e:
        FirstThatOpens([SoundDeviceAudio(), MiniAudio()]).open("auto", 2, 256, lambda *a: None)
    assert e.value.mend == library_mend()
