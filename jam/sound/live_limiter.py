"""Keeps a stereo sound under the ceiling of `jam.sound.levels` as it comes, `DELAY` frames late.

The gain is found per hop of 32 frames: the lowest that this hop or the next two need, recovering
slowly, averaged over three hops. So it has fallen when the peak arrives, and is never higher
than a hop needs: what leaves is below the ceiling whatever comes in.
"""

from __future__ import annotations

from collections import deque
from typing import Final

import numpy as np
from numpy.typing import NDArray

from jam.sound.levels import CEILING_DBFS
from jam.sound.voices import Samples

_HOP: Final = 32
_AHEAD: Final = 2
_RECOVERY: Final = 1.0 - float(np.exp(-_HOP / (0.12 * 48_000)))
_AT_REST: Final = 0.9999

DELAY: Final = (_AHEAD + 2) * _HOP
"""Frames by which the sound comes out later than it went in."""

CEILING: Final = 10.0 ** (CEILING_DBFS / 20.0)

_COUNT: Final = np.arange(1 << 12)


class LiveLimiter:
    """Takes pieces of any size, at most ``most_frames``; gives back as many frames."""

    def __init__(self, most_frames: int) -> None:
        self._held = np.zeros((2, DELAY + most_frames), np.float32)
        self._taken = 0
        self._peak = 0.0
        self._needed = deque([1.0] * (_AHEAD + 1), maxlen=_AHEAD + 1)
        self._lowest = deque([1.0] * (_AHEAD + 1), maxlen=_AHEAD + 1)
        self._gain = 1.0
        # Gain at the border before each hop, from the one that leaves first on.
        self._edges = [1.0, 1.0]

    def limit(self, sound: NDArray[np.float32]) -> None:
        """Put the next frames that leave in place of ``sound``, shape (2, frames)."""
        frames = sound.shape[1]
        self._held[:, DELAY : DELAY + frames] = sound
        peaks = np.abs(sound).max(axis=0)
        if self._at_rest and float(peaks.max()) <= CEILING:
            self._taken += frames
            sound[:] = self._held[:, :frames]
        else:
            hops_before = self._taken // _HOP
            phase = self._taken % _HOP
            self._measure(peaks)
            np.multiply(self._held[:, :frames], self._curve(phase, frames), out=sound)
            del self._edges[: self._taken // _HOP - hops_before]
        self._held[:, :DELAY] = self._held[:, frames : frames + DELAY]

    @property
    def _at_rest(self) -> bool:
        return self._peak <= CEILING and min(self._edges) >= 1.0 and min(self._lowest) >= 1.0

    def _measure(self, peaks: Samples) -> None:
        """Take the highest sample of each frame, hop by hop."""
        done = 0
        while done < peaks.size:
            take = min(_HOP - self._taken % _HOP, peaks.size - done)
            self._peak = max(self._peak, float(peaks[done : done + take].max()))
            self._taken += take
            done += take
            if self._taken % _HOP == 0:
                self._turn()

    def _turn(self) -> None:
        """Find the gain of the hop that everything it needs is now known of."""
        self._needed.append(CEILING / max(self._peak, CEILING))
        self._peak = 0.0
        before = self._lowest[-1]
        recovered = before + (1.0 - before) * _RECOVERY
        self._lowest.append(min(*self._needed, recovered if recovered < _AT_REST else 1.0))
        gain = sum(self._lowest) / (_AHEAD + 1)
        self._edges.append(min(self._gain, gain))
        self._gain = gain

    def _curve(self, phase: int, frames: int) -> Samples:
        """Return the gain of the frames that leave: straight lines between the edges of hops."""
        edges = np.array(self._edges)
        place = _COUNT[:frames] + phase
        hop = place // _HOP
        low = edges[hop]
        curve: Samples = (low + (edges[hop + 1] - low) * (place % _HOP / _HOP)).astype(np.float32)
        return curve
