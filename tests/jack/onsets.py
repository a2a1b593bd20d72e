"""When did sounds begin in a recording, to the frame? Arithmetic on arrays alone.

Frames count from the start of the recording. Two ways: a rise above a floor (coarse, for any
sound), and a matched filter (a sound that comes again, to a fraction of a frame).
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Frames = NDArray[np.float64]


def read_wav(path: Path) -> tuple[Frames, int]:
    """Return a PCM file as ``(frames, channels)`` from -1 to 1, and its rate in hertz.

    A recorder that was stopped leaves a header without sizes: what follows it is the sound.
    """
    raw = path.read_bytes()
    form, data = raw.index(b"fmt ") + 8, raw.index(b"data") + 8
    _, channels, rate, _, _, bits = struct.unpack_from("<HHIIHH", raw, form)
    width = bits // 8
    count = (len(raw) - data) // (width * channels) * channels
    padded = np.zeros((count, 4), np.uint8)
    padded[:, 4 - width :] = np.frombuffer(raw, np.uint8, count * width, data).reshape(-1, width)
    samples = padded.view("<i4").reshape(-1, channels)
    return samples / 2.0**31, rate


def rises(signal: Frames, floor: float, quiet_frames: int) -> NDArray[np.int64]:
    """Return each frame at which the signal rises above ``floor`` after ``quiet_frames`` below."""
    loud = np.flatnonzero(np.abs(signal) > floor)
    if not len(loud):
        return loud
    return loud[np.diff(loud, prepend=-quiet_frames - 1) > quiet_frames]


def matched(signal: Frames, template: Frames, near: float, reach: int) -> tuple[float, float]:
    """Return the frame within ``reach`` of ``near`` where most of the template is found, to a
    fraction (a parabola through the three best), and how well it fits: 1 is the same shape."""
    first = max(0, round(near) - reach)
    piece = signal[first : first + 2 * reach + len(template)]
    if len(piece) < len(template):
        return float("nan"), 0.0
    windows = np.lib.stride_tricks.sliding_window_view(piece, len(template))
    strength = windows @ template / np.linalg.norm(template)
    best = int(np.argmax(strength))
    fit = strength[best] / (np.linalg.norm(windows[best]) + 1e-12)
    return first + best + _top(strength, best), float(fit)


def _top(strength: Frames, best: int) -> float:
    if not 0 < best < len(strength) - 1:
        return 0.0
    left, mid, right = strength[best - 1 : best + 2]
    bend = left - 2 * mid + right
    return float(0.5 * (left - right) / bend) if bend < 0 else 0.0


def scatter(found: Sequence[float], meant: Sequence[float]) -> tuple[float, Frames]:
    """Return the constant offset (median) of found against meant, and what each differs from it."""
    apart = np.asarray(found, float) - np.asarray(meant, float)
    offset = float(np.median(apart)) if len(apart) else 0.0
    return offset, apart - offset
