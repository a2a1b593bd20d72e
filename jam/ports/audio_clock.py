"""Which frame of a sound device is heard at which machine second. Pure.

All that is known is when the device called for which frame. A call is often late and seldom
early, so the earliest of a quarter of a second tells where the clock is. It is held where it
was found while it agrees within a dead band: notes then lie exact to the sample relative to each
other. It is moved, by whole frames, when the two clocks have drifted apart or frames were lost
in a hole; whoever planned by it shifts his plans by as much.
"""

from __future__ import annotations

from math import inf
from typing import Final

DEAD_BAND_SEC: Final = 0.002
_WINDOW_SEC: Final = 0.25


class AudioClock:
    """Frames of ``rate_hz``; a frame is heard ``latency_sec`` after the call for it."""

    def __init__(
        self, rate_hz: int, latency_sec: float = 0.0, *, dead_band_sec: float = DEAD_BAND_SEC
    ) -> None:
        self._rate_hz = rate_hz
        self._latency_sec = latency_sec
        self._dead_band_sec = dead_band_sec
        self._zero = inf
        self._earliest = inf
        self._window_from = inf
        self._settled = False
        self.moves = 0
        self.last_move_sec = 0.0

    @property
    def runs(self) -> bool:
        """Whether there was a call yet."""
        return self._zero < inf

    def frame_at(self, t: float) -> int:
        """Return the frame heard at ``t`` (machine seconds)."""
        return round((t - self._zero) * self._rate_hz)

    def time_at(self, frame: int) -> float:
        """Return when a frame is heard (machine seconds)."""
        return self._zero + frame / self._rate_hz

    def observe(self, frame: int, t: float) -> int:
        """Take that ``frame`` was called for at ``t``; return by how many frames what is planned
        has to be shifted: 0, but for a settling or moving clock."""
        heard = t + self._latency_sec
        if not self.runs:
            self._zero = heard - frame / self._rate_hz
            self._window_from = t
        late = heard - self.time_at(frame)
        self._earliest = min(self._earliest, late)
        if not self._settled and late < 0.0:
            return self._move(late)
        if t - self._window_from < _WINDOW_SEC:
            return 0
        earliest, self._earliest = self._earliest, inf
        self._window_from = t
        if not self._settled:
            self._settled = True
        elif abs(earliest) > self._dead_band_sec:
            self.moves += 1
            self.last_move_sec = earliest
            return self._move(earliest)
        return 0

    def _move(self, late_sec: float) -> int:
        frames = round(late_sec * self._rate_hz)
        self._zero += frames / self._rate_hz
        self._earliest = inf
        return -frames
