"""How loud a sound is, and keeping it within bounds.

Sounds here have shape (2, frames). Loudness is gated as in ITU-R BS.1770 (blocks of 400 ms every
100 ms, those below -70 dB and those 10 dB below the mean left out; figures from memory) but
unweighted by frequency: the sum of both channels' mean squares in dB.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from jam.sound.voices import RATE_HZ

Stereo = NDArray[np.float32]

CEILING_DBFS: Final = -1.5
TARGET_DB: Final = -19.0

_HIGHEST_LIFT_DB: Final = 9.0
_FADE_SEC: Final = 1.0
_FADE_FROM_DB: Final = -24.0
_HOP: Final = RATE_HZ // 10
_LIMIT_FRAMES: Final = 48
_LIMIT_REACH: Final = 20


@dataclass(frozen=True, slots=True)
class Levels:
    """Highest sample in dB of full scale, and gated loudness in dB (see the module)."""

    peak_dbfs: float
    loudness_db: float


def measure(sound: Stereo) -> Levels:
    """Return the levels of ``sound``; silence is -120 dB in both."""
    peak = float(np.max(np.abs(sound), initial=0.0))
    return Levels(_db(peak**2), loudness_db(sound))


def loudness_db(sound: Stereo) -> float:
    """Return the gated loudness in dB."""
    hops = sound.shape[1] // _HOP
    power = sound[:, : hops * _HOP].reshape(2, hops, _HOP)
    by_hop = np.einsum("chn,chn->h", power, power, dtype=np.float64) / _HOP
    by_hop = np.pad(by_hop, (0, max(0, 4 - hops)))
    blocks = np.convolve(by_hop, np.full(4, 0.25), mode="valid")
    loud = blocks[blocks > 10.0**-7]
    if not loud.size:
        return -120.0
    return _db(float(np.mean(loud[loud > 0.1 * np.mean(loud)])))


def finish(sound: Stereo) -> None:
    """Bring ``sound`` to a moderate level in place: loudness, quiet start, limiter.

    What is far too soft is lifted only so far, so that a lone click stays a click.
    """
    lift_db = min(TARGET_DB - loudness_db(sound), _HIGHEST_LIFT_DB)
    sound *= np.float32(10.0 ** (lift_db / 20.0))
    fade = quiet_start()[: sound.shape[1]]
    sound[:, : fade.size] *= fade
    limit(sound)


def quiet_start() -> NDArray[np.float32]:
    """Return the gains of the frames a sound starts with, until it is at its full level."""
    curve_db = np.linspace(_FADE_FROM_DB, 0.0, round(_FADE_SEC * RATE_HZ))
    return (10.0 ** (curve_db / 20.0)).astype(np.float32)


def limit(sound: Stereo) -> None:
    """Keep every sample under `CEILING_DBFS`, in place, without shifting anything in time.

    The gain is found per millisecond: the lowest one needed within 20 ms on either side, averaged
    over the same stretch, so it is never higher than needed at its own place and moves slowly.
    """
    ceiling = 10.0 ** (CEILING_DBFS / 20.0)
    blocks = -(-sound.shape[1] // _LIMIT_FRAMES)
    peaks = np.zeros(blocks * _LIMIT_FRAMES, dtype=np.float32)
    np.max(np.abs(sound), axis=0, out=peaks[: sound.shape[1]])
    needed = ceiling / np.maximum(peaks.reshape(blocks, _LIMIT_FRAMES).max(axis=1), ceiling)
    if needed.min(initial=1.0) >= 1.0:
        return
    width = 2 * _LIMIT_REACH + 1
    lowest = _windows(needed, width).min(axis=1)
    gain = _windows(lowest, width).mean(axis=1)
    edges = np.minimum(np.append(gain, gain[-1]), np.append(gain[0], gain))
    slope = np.arange(_LIMIT_FRAMES) / _LIMIT_FRAMES
    curve = edges[:-1, None] + (edges[1:] - edges[:-1])[:, None] * slope
    sound *= curve.ravel()[: sound.shape[1]].astype(np.float32)


def _windows(values: NDArray[np.float64], width: int) -> NDArray[np.float64]:
    padded = np.pad(values, width // 2, mode="edge")
    return np.lib.stride_tricks.sliding_window_view(padded, width)


def _db(power: float) -> float:
    return 10.0 * float(np.log10(max(power, 1e-12)))
