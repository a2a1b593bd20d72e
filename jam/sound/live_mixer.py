"""Notes to sound block after block: what `jam.sound.mixer` does for a whole piece, live.

Frames count from 0 at the first block. A note begins on its frame exactly; one that comes too
late, or whose samples are not made yet, begins with the next piece that is mixed and keeps its
true end. However the frames are cut into blocks, the same notes give the same samples.

The mixer works `DELAY` frames ahead of what leaves it, so that the limiter costs no punctuality:
a note planned for frame n is heard in frame n. Only what is to sound at once is that much late.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from jam.sound.levels import quiet_start
from jam.sound.live_bus import PIECE, LiveBus, LiveLane
from jam.sound.live_gain import LiveGain, gain_of_level
from jam.sound.live_limiter import CEILING, DELAY
from jam.sound.live_room import LiveRoom
from jam.sound.live_voice import LiveVoice
from jam.sound.recipes import PLACES, SoundPart
from jam.sound.voices import Noise, Samples

MOST_VOICES: Final = 48
"""Notes that sound at once at most; when more are begun, the oldest are silenced."""

# A band that plays along comes out at the target loudness of `jam.sound.levels` when the master
# is at half its way.
_FULL_GAIN: Final = 2.6
_COUNT: Final = np.arange(PIECE)

Outputs = Mapping[SoundPart, tuple[int, int]]
"""Which pair of output channels (from 0) a part leaves on."""


class LiveMixer:
    """See the module. Every method is called by one thread, the one that calls `render`.

    ``levels`` and ``master`` are from 0 to 1, see `gain_of_level`; ``room`` False leaves it dry.
    """

    def __init__(
        self,
        outputs: Outputs,
        noise: Noise,
        *,
        levels: Mapping[SoundPart, float] | None = None,
        master: float = 0.5,
        room: bool = True,
    ) -> None:
        self._buses: dict[tuple[int, int], LiveBus] = {}
        wet = {pair for part, pair in outputs.items() if part != "click" and room}
        for pair in dict.fromkeys(outputs.values()):
            self._buses[pair] = LiveBus(pair, LiveRoom(noise) if pair in wet else None)
        self._levels = {
            part: LiveGain(gain_of_level((levels or {}).get(part, 1.0))) for part in outputs
        }
        self._outputs = dict(outputs)
        self._master = LiveGain(_FULL_GAIN * gain_of_level(master))
        self._lanes: dict[tuple[SoundPart, str], LiveLane] = {}
        self._coming: dict[int, LiveVoice] = {}
        self._sounding: list[tuple[LiveVoice, LiveLane]] = []
        self._scratch = np.zeros(PIECE, np.float32)
        self._fade = quiet_start()
        self._first: int | None = None
        self._mixed = DELAY

    @property
    def frame(self) -> int:
        """The next frame that leaves."""
        return self._mixed - DELAY

    @property
    def voices(self) -> tuple[int, int]:
        """How many notes are to come, and how many sound."""
        return len(self._coming), len(self._sounding)

    # --- orders ----------------------------------------------------------------------------

    def add(self, voice: LiveVoice, start: int, end: int) -> None:
        """Play ``voice`` from ``start`` to ``end``; it replaces one of the same id to come."""
        voice.start, voice.end = start, end
        if voice.part in self._outputs and not any(v.id == voice.id for v, _ in self._sounding):
            self.revoke(voice.id)
            self._coming[voice.id] = voice

    def revoke(self, id: int) -> None:
        """Forget a note that has not begun."""
        voice = self._coming.pop(id, None)
        if voice is not None:
            voice.gone = True

    def cut(self, id: int, frame: int) -> None:
        """End a note at ``frame``, at once if that has passed; a stroke that rings, rings on."""
        voice = self._coming.get(id)
        if voice is not None:
            voice.end = min(voice.end, frame)
            if voice.end <= voice.start:
                self.revoke(id)
        for voice, _ in self._sounding:
            if voice.id == id and self._mixed < voice.end:
                voice.end = min(voice.end, max(frame, self._mixed))

    def end(self, id: int) -> None:
        """End a note as soon as it can be; one that waits for its samples is not begun."""
        self.cut(id, self._mixed)

    def silence(self, frame: int) -> None:
        """End all at ``frame`` by a short ramp, strokes too, and forget what was to come."""
        for id in list(self._coming):
            self.revoke(id)
        for voice, _ in self._sounding:
            voice.hushed = min(voice.hushed, max(frame, self._mixed))

    def shift(self, frames: int) -> None:
        """Move all that is planned by ``frames``: the device's clock was not where it seemed."""
        for voice in self._coming.values():
            voice.start += frames
            voice.end += frames
        for voice, _ in self._sounding:
            if voice.end > self._mixed:
                voice.end = max(self._mixed, voice.end + frames)

    def level(self, part: SoundPart | None, level: float) -> None:
        """Set the level of a part, of everything if None, from 0 to 1."""
        if part is None:
            self._master.set(_FULL_GAIN * gain_of_level(level), self._mixed)
        elif part in self._levels:
            self._levels[part].set(gain_of_level(level), self._mixed)

    # --- sound -----------------------------------------------------------------------------

    def render(self, out: NDArray[np.float32]) -> None:
        """Fill ``out``, shape (frames, channels), with the next frames."""
        out[:] = 0.0
        for done in range(0, out.shape[0], PIECE):
            self._piece(out[done : done + PIECE])

    def _piece(self, out: NDArray[np.float32]) -> None:
        frames = out.shape[0]
        self._begin(self._mixed + frames)
        for bus in self._buses.values():
            bus.clear()
        scratch = self._scratch[:frames]
        ended = False
        for voice, lane in self._sounding:
            more = lane.lay(voice, self._mixed, frames, scratch)
            voice.gone = not more
            ended = ended or not more
        for lane in self._lanes.values():
            lane.finish(self._mixed, frames, scratch)
        gain = self._master.over(self._mixed, frames) * self._fading(frames)
        for bus in self._buses.values():
            bus.finish(out, gain)
        np.clip(out, -CEILING, CEILING, out=out)  # pairs may share a channel
        if ended:
            self._sounding = [pair for pair in self._sounding if not pair[0].gone]
        self._mixed += frames

    def _begin(self, before: int) -> None:
        """Let the notes sound that are due before a frame and have samples."""
        due = [voice for voice in self._coming.values() if voice.start < before]
        due.sort(key=lambda voice: voice.start)
        for voice in due:
            late = max(voice.start, self._mixed)
            if voice.end <= late:
                self.revoke(voice.id)
            elif voice.samples is not None:
                del self._coming[voice.id]
                voice.begin(self._mixed)
                self._sounding.append((voice, self._lane(voice)))
                self._first = voice.start if self._first is None else self._first
        if len(self._sounding) > MOST_VOICES:
            for voice, _ in self._sounding[:-MOST_VOICES]:
                voice.hushed = min(voice.hushed, self._mixed)

    def _lane(self, voice: LiveVoice) -> LiveLane:
        lane = self._lanes.get((voice.part, voice.name))
        if lane is None:
            bus = self._buses[self._outputs[voice.part]]
            lane = LiveLane(bus, PLACES[voice.name], self._levels[voice.part])
            self._lanes[voice.part, voice.name] = lane
        return lane

    def _fading(self, frames: int) -> Samples | np.float32:
        """Return the gain of the quiet start, which runs from the first note on."""
        if self._first is None or self._mixed - self._first >= self._fade.size:
            return np.float32(1.0)
        place = _COUNT[:frames] + (self._mixed - self._first)
        return self._fade[np.clip(place, 0, self._fade.size - 1)]
