"""The built-in sound of the I/O process: notes go in ahead of time, sound comes out on the frame.

The main thread only queues; samples are made by a thread of their own (`jam.ports.preparing`),
and the device's call for sound slices and adds (`jam.ports.sound_stream`). Nothing here raises
once the device was opened: a device that is lost is told in `SoundOut.poll` and tried again,
what is asked meanwhile is dropped. Times are machine seconds (`jam.ports.wire`).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from math import inf
from time import perf_counter, sleep
from typing import Final

import numpy as np
from numpy.typing import NDArray

from jam.errors import PortError
from jam.events import Part
from jam.players.bends import Point, bend_points
from jam.ports.audio import AudioDevice, AudioFacts, FirstThatOpens
from jam.ports.audio_clock import DEAD_BAND_SEC, AudioClock
from jam.ports.miniaudio_audio import MiniAudio
from jam.ports.preparing import Preparing
from jam.ports.sound_stream import SoundStream
from jam.ports.sounddevice_audio import SoundDeviceAudio
from jam.ports.wire import PlayNote
from jam.ports.wishes import PartWish, SoundWish
from jam.sound.live_bank import NoteBank, all_colours_of_keys
from jam.sound.live_keys import LiveKeys
from jam.sound.live_mixer import LiveMixer
from jam.sound.live_voice import LiveVoice
from jam.sound.mixer import Colour, level_of
from jam.sound.recipes import SoundPart, voice_of
from jam.sound.voices import RATE_HZ, Noise, bent

RETRY_SEC: Final = 2.0
_LOST_AFTER_SEC: Final = 1.5
_HEAD_SEC: Final = 0.25
_LONGEST_THRU_SEC: Final = 4.0
_MOST_HEAD_FRAMES: Final = 2_000_000
_STROKES: Final = (36, 38, 42, 44, 51, 76, 77)
_MIDDLE_BAND: Final = 5
_DRIFT_NEWS_SEC: Final = 60.0
_HOLE_NEWS_SEC: Final = 10.0
_HOLE_SEC: Final = 0.005
_CLOSING_SEC: Final = 0.06


class SoundOut:
    """See the module. All methods are called by one thread; ``facts`` says what is open.

    ``latency_sec`` is what lies between the sound's leaving, as the device tells it, and the ear:
    everything planned leaves so much earlier. A part whose output channels the device has not is
    not heard (a click meant for headphones must not come out of the speakers), which is told.
    """

    def __init__(
        self,
        wish: SoundWish,
        parts: Sequence[PartWish],
        *,
        latency_sec: float,
        device: AudioDevice | None = None,
    ) -> None:
        self._wish = wish
        self._pairs = {p.part: p.sound for p in parts if p.sound is not None}
        self._programs: dict[SoundPart, int | None] = {p.part: p.program for p in parts}
        self._levels: dict[Part | None, float] = {p.part: p.level for p in parts}
        self._levels[None] = wish.master
        self._latency_sec = latency_sec
        self._device = device or FirstThatOpens([SoundDeviceAudio(), MiniAudio()])
        self._noise = Noise(np.random.default_rng(wish.seed))
        self._bank = NoteBank(self._noise, RATE_HZ)
        self._keys = LiveKeys()
        self._thru_id = 0
        self._stream: SoundStream | None = None
        self._found: SoundStream | None = None
        self._trying = False
        self._try_at = 0.0
        self._clock_news = (0, -inf)
        self._faults = 0
        self._news: list[str] = []
        self.facts = ""
        self._stream = self._open()
        self._preparing = Preparing()
        self._warm_voices()

    # --- orders ----------------------------------------------------------------------------

    def play(self, note: PlayNote) -> None:
        """Play a note at its moment; it replaces one of the same id that has not begun."""
        stream = self._stream
        if stream is None or note.part not in self._pairs or not 1 <= note.velocity <= 127:
            return
        voice, colour = self._voice(note.id, note.part, note.pitch, note.velocity)
        stream.play(voice, note.t, note.end)
        frames = max(1, round((note.end - note.t) * self._rate_hz) + 1)
        bend = bend_points(note.bend, note.end - note.t)
        self._preparing.ask(note.t, partial(self._prepare, voice, colour, frames, bend))

    def revoke(self, id: int) -> None:
        """Forget a note that has not begun."""
        if self._stream is not None:
            self._stream.revoke(id)

    def cut(self, id: int, t: float) -> None:
        """End a note at ``t``, at once if that has passed; strokes of drums ring on."""
        if self._stream is not None:
            self._stream.cut(id, t)

    def silence(self, t: float) -> None:
        """End every note at ``t``, strokes too, and forget those to come."""
        self._keys.clear()
        if self._stream is not None:
            self._stream.silence(t)

    def level(self, part: Part | None, level: float) -> None:
        """Set the level of a part, of everything if None, from 0 to 1."""
        self._levels[part] = level
        if self._stream is not None:
            self._stream.level(part, level)

    def thru(self, pitch: int, velocity: int, t: float) -> None:
        """Sound the player's own key at once; velocity 0 lets it go. ``t`` is when it was."""
        stream = self._stream
        if stream is None:
            return
        if velocity == 0:
            self._end(self._keys.release(pitch))
            return
        if self._thru_id == 0:
            self._warm_keys()
        self._thru_id -= 1
        self._end(self._keys.press(pitch, self._thru_id))
        voice, colour = self._voice(self._thru_id, "player", pitch, velocity)
        voice.samples = self._bank.find(colour)
        stream.strike(voice)
        for ahead, sec in enumerate((_HEAD_SEC, _LONGEST_THRU_SEC)):
            job = partial(self._prepare, voice, colour, round(sec * self._rate_hz))
            self._preparing.ask(t - 1.0 + ahead, job)

    def thru_damper(self, down: bool) -> None:
        """Move the player's damper pedal, which holds his own notes only."""
        self._end(self._keys.damper(down=down))

    # --- looking after the device ------------------------------------------------------------

    def poll(self, now: float) -> list[str]:
        """Return news in plain words; look whether the device lives, try one that was lost."""
        if self._found is not None:
            self._stream, self._found = self._found, None
            self._news.append(f"the sound is back: {self.facts}")
        stream = self._stream
        if stream is not None and self._is_lost(stream, now):
            self._lose(now)
        elif stream is None and not self._trying and now >= self._try_at:
            self._trying = True
            self._try_at = now + RETRY_SEC
            self._preparing.ask(now, self._try)
        elif stream is not None:
            self._look(stream, now)
        news, self._news = self._news, []
        return news

    def wait_prepared(self, timeout_sec: float = 5.0) -> bool:
        """Wait until all that was handed over is prepared; False if that took too long."""
        until = perf_counter() + timeout_sec
        while not self._preparing.is_done and perf_counter() < until:
            sleep(0.001)
        return self._preparing.is_done

    def close(self) -> None:
        """End what sounds, softly, and close the device; twice is once."""
        stream, self._stream = self._stream, None
        if stream is not None:
            stream.silence(-1.0)
            until = perf_counter() + _CLOSING_SEC
            while stream.sounds and perf_counter() < until:
                sleep(0.005)
        self._preparing.ask(0.0, self._device.close)
        self._preparing.close()

    # --- inside ------------------------------------------------------------------------------

    def _open(self) -> SoundStream:
        """Open the device; raises PortError."""
        gate: list[SoundStream] = []

        def fill(out: NDArray[np.float32], first_frame: int, t: float) -> None:
            if gate:
                gate[0].fill(out, first_frame, t)
            else:
                out[:] = 0.0

        channels = 1 + max((max(pair) for pair in self._pairs.values()), default=1)
        wish = self._wish
        facts = self._device.open(wish.device, max(2, channels), wish.block_frames, fill)
        stream = self._stream_for(facts)
        self.facts = str(facts)
        gate.append(stream)
        return stream

    def _stream_for(self, facts: AudioFacts) -> SoundStream:
        self._rate_hz = facts.rate_hz
        if facts.rate_hz != self._bank.rate_hz:
            self._bank = NoteBank(self._noise, facts.rate_hz)
        outputs: dict[SoundPart, tuple[int, int]] = {}
        for part, pair in self._pairs.items():
            if max(pair) < facts.channels:
                outputs[part] = pair
            else:
                wanted = f"{pair[0] + 1} and {pair[1] + 1}"
                has = f"{facts.device} has {facts.channels}"
                self._news.append(f"{part} is not heard: it wants outputs {wanted}, {has}")
        main = (0, min(1, facts.channels - 1))
        outputs["player"] = outputs.get("companion", main)
        levels: dict[SoundPart, float] = {part: self._levels.get(part, 1.0) for part in self._pairs}
        mixer = LiveMixer(outputs, self._noise, levels=levels, master=self._levels[None])
        band = DEAD_BAND_SEC
        if facts.block_frames:
            band = max(band, 0.5 * facts.block_frames / facts.rate_hz)
        clock = AudioClock(facts.rate_hz, facts.latency_sec, dead_band_sec=band)
        return SoundStream(mixer, clock, self._latency_sec)

    def _voice(
        self, id: int, part: SoundPart, pitch: int, velocity: int
    ) -> tuple[LiveVoice, Colour]:
        colour = self._bank.colour(part, pitch, velocity, self._programs.get(part))
        release = self._bank.release(colour.voice)
        return LiveVoice(id, part, colour.voice, np.float32(level_of(velocity)), release), colour

    def _prepare(
        self, voice: LiveVoice, colour: Colour, frames: int, bend: Sequence[Point] = ()
    ) -> None:
        if not voice.gone:
            voice.samples = bent(self._bank.make(colour, frames), bend, self._bank.rate_hz)

    def _end(self, ids: Sequence[int]) -> None:
        if self._stream is not None:
            for id in ids:
                self._stream.end(id)

    def _is_lost(self, stream: SoundStream, now: float) -> bool:
        if stream.called_at == -inf:
            stream.called_at = now
        return not self._device.lives() or now - stream.called_at > _LOST_AFTER_SEC

    def _lose(self, now: float) -> None:
        self._news.append(f"the sound device is lost: {self.facts}")
        self._stream = None
        self._keys.clear()
        self._try_at = now + RETRY_SEC
        self._preparing.ask(now, self._device.close)

    def _try(self) -> None:
        """Open the device again, in the preparing thread: it may take long."""
        try:
            self._found = self._open()
        except PortError:
            pass
        finally:
            self._trying = False

    def _look(self, stream: SoundStream, now: float) -> None:
        """Tell of a clock that moved, seldom if it only drifts, and of faults."""
        told, told_at = self._clock_news
        moves, by_sec = stream.clock.moves, stream.clock.last_move_sec
        quiet_sec = _HOLE_NEWS_SEC if abs(by_sec) > _HOLE_SEC else _DRIFT_NEWS_SEC
        if moves > told and now - told_at >= quiet_sec:
            self._clock_news = (moves, now)
            self._news.append(f"the sound's clock was moved by {1000.0 * by_sec:+.1f} ms")
        faults = stream.faults + self._preparing.faults
        if faults > self._faults:
            self._faults = faults
            fault = stream.fault or self._preparing.fault
            self._news.append(f"a fault in the sound, number {faults}: {fault}")

    def _warm_voices(self) -> None:
        """Make a note of each voice when there is time: their noises take longest."""
        for part in self._pairs:
            for pitch in _STROKES if part in ("drums", "click") else (50,):
                colour = Colour(voice_of(part, pitch, self._programs[part]), pitch, _MIDDLE_BAND, 0)
                self._preparing.later(partial(self._warm_one, colour))

    def _warm_keys(self) -> None:
        """Make the beginnings of the player's notes when there is time."""
        for colour in all_colours_of_keys():
            self._preparing.later(partial(self._warm_one, colour))

    def _warm_one(self, colour: Colour) -> None:
        if self._bank.frames < _MOST_HEAD_FRAMES:
            self._bank.make(colour, round(_HEAD_SEC * self._rate_hz))
