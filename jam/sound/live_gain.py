"""A gain that moves without steps: a straight ramp between two values, the same however the
frames are cut into blocks."""

from __future__ import annotations

from typing import Final

import numpy as np

from jam.sound.voices import Samples

_RAMP_FRAMES: Final = 1440  # 30 ms at 48 kHz: no step is heard, a fader still answers at once
_COUNT: Final = np.arange(1 << 12, dtype=np.float64)


class LiveGain:
    """Linear gain over frames; ``set`` moves it, from the frame it is told on."""

    def __init__(self, value: float) -> None:
        self._from = self._to = value
        self._start = -_RAMP_FRAMES

    def set(self, value: float, frame: int) -> None:
        """Move to ``value``, beginning at ``frame``."""
        part = min(1.0, max(0.0, (frame - self._start) / _RAMP_FRAMES))
        self._from += (self._to - self._from) * part
        self._to = value
        self._start = frame

    def over(self, frame: int, frames: int) -> Samples | np.float32:
        """Return the gain from ``frame`` on: one value if it does not move."""
        if frame >= self._start + _RAMP_FRAMES:
            return np.float32(self._to)
        part = np.clip((_COUNT[:frames] + (frame - self._start)) / _RAMP_FRAMES, 0.0, 1.0)
        gain: Samples = (self._from + (self._to - self._from) * part).astype(np.float32)
        return gain


def gain_of_level(level: float) -> float:
    """Return the linear gain of a level from 0 to 1: its square.

    So a fader feels alike here and on a MIDI module: 40 log10 of the controller's value over 127
    is what the MIDI Association recommends for channel volume (from memory).
    """
    return min(1.0, max(0.0, level)) ** 2
