"""A pair of output channels of the live mixer, with its room and its limiter, and the lanes that
lead to it: one for each part and voice, so that place and level are applied once for all notes."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from jam.sound.live_gain import LiveGain
from jam.sound.live_limiter import LiveLimiter
from jam.sound.live_room import LiveRoom
from jam.sound.live_voice import LiveVoice
from jam.sound.mixer import stereo
from jam.sound.recipe import Place
from jam.sound.voices import Samples

PIECE: Final = 512
"""The most frames that are mixed at once."""


class LiveBus:
    """Sums lanes into a stereo pair that leaves on output ``channels``."""

    def __init__(self, channels: tuple[int, int], room: LiveRoom | None) -> None:
        self.channels = channels
        self._room = room
        self._limiter = LiveLimiter(PIECE)
        self._sound = np.zeros((2, PIECE), np.float32)
        self._send = np.zeros(PIECE, np.float32)

    def clear(self) -> None:
        """Begin a new piece."""
        self._sound[:] = 0.0
        self._send[:] = 0.0

    def add(self, row: Samples, place: tuple[np.float32, ...], scratch: Samples) -> None:
        """Add a lane's frames at their place: gains to the left, to the right, into the room."""
        for target, gain in zip((*self._sound, self._send), place, strict=True):
            if gain:
                np.multiply(row, gain, out=scratch)
                target[: row.size] += scratch

    def finish(self, out: NDArray[np.float32], gain: Samples | np.float32) -> None:
        """Add room and gain, limit, and add the result to ``out``, shape (frames, channels)."""
        sound = self._sound[:, : out.shape[0]]
        if self._room is not None:
            self._room.add(sound, self._send[: out.shape[0]])
        sound *= gain
        self._limiter.limit(sound)
        for side, channel in enumerate(self.channels):
            out[:, channel] += sound[side]


class LiveLane:
    """The notes of one part and voice, before they are placed."""

    def __init__(self, bus: LiveBus, place: Place, level: LiveGain) -> None:
        self._bus = bus
        self._place = tuple(map(np.float32, stereo(place)))
        self._level = level
        self._row = np.zeros(PIECE, np.float32)
        self._used = False

    def lay(self, voice: LiveVoice, frame: int, frames: int, scratch: Samples) -> bool:
        """Add the frames of a voice; say whether more of it will come."""
        row = self._row[:frames]
        if not self._used:
            row[:] = 0.0
            self._used = True
        return voice.lay(row, frame, scratch)

    def finish(self, frame: int, frames: int, scratch: Samples) -> None:
        """Hand the piece to the bus."""
        if self._used:
            row = self._row[:frames]
            row *= self._level.over(frame, frames)
            self._bus.add(row, self._place, scratch)
            self._used = False
