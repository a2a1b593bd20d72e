"""A sound device in memory: blocks are pulled by hand, at times that are given. For tests, and
wherever a sound is wanted that nobody hears."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from jam.errors import PortError
from jam.ports.audio import AudioFacts, Fill, device_mend


class MemoryAudio:
    """See `jam.ports.audio.AudioDevice`. While ``there`` is False it is lost and does not open."""

    def __init__(
        self, *, rate_hz: int = 48_000, channels: int = 2, latency_sec: float = 0.0
    ) -> None:
        self.there = True
        self.openings = 0
        self._rate_hz = rate_hz
        self._channels = channels
        self._latency_sec = latency_sec
        self._fill: Fill | None = None
        self._frames = 0

    def open(self, pattern: str, channels: int, block_frames: int, fill: Fill) -> AudioFacts:
        """See `jam.ports.audio.AudioDevice`."""
        if not self.there:
            raise PortError("there is no sound device", device_mend())
        self.openings += 1
        self._fill, self._frames = fill, 0
        channels = min(channels, self._channels)
        self._channels = channels
        return AudioFacts("memory", self._rate_hz, channels, block_frames, self._latency_sec)

    def lives(self) -> bool:
        """See `jam.ports.audio.AudioDevice`."""
        return self.there and self._fill is not None

    def close(self) -> None:
        """See `jam.ports.audio.AudioDevice`."""
        self._fill = None

    def pull(self, frames: int, t: float) -> NDArray[np.float32]:
        """Call for the next ``frames`` at ``t`` (machine seconds) and return them."""
        out = np.zeros((frames, self._channels), np.float32)
        if self.lives() and self._fill is not None:
            self._fill(out, self._frames, t)
            self._frames += frames
        return out
