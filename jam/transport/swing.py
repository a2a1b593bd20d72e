"""Swing as a bending of the beat.

A swing ratio r is the length of the first eighth over that of the second; the off-beat eighth then
falls at r / (1 + r) of the beat. Straight eighths are r = 1, a triplet's outer notes r = 2.
Definition: beat-upbeat ratio, Benadon 2006, "Slicing the beat", Ethnomusicology 50(1).
"""

from __future__ import annotations

from bisect import bisect_right
from math import floor

_CYMBAL = ((60.0, 2.6), (120.0, 2.5), (150.0, 2.4), (180.0, 2.2), (200.0, 2.0), (240.0, 1.5),
           (280.0, 1.14), (300.0, 1.0))  # fmt: skip


def swing_beat(beat: float, ratio: float) -> float:
    """Return where a written place in the beat sounds when only its off-beat eighth is bent.

    Places before the middle of the beat are stretched, places after it squeezed; triplet places
    (1/3 and 2/3 of a beat) are left where they are, since they are written as they sound.
    """
    whole = floor(beat + 1e-9)
    part = beat - whole
    if min(abs(part - 1 / 3), abs(part - 2 / 3)) < 0.02:
        return beat
    middle = ratio / (1.0 + ratio)
    if part <= 0.5:
        return whole + part * 2.0 * middle
    return whole + middle + (part - 0.5) * 2.0 * (1.0 - middle)


def cymbal_ratio(bpm: float) -> float:
    """Return the band's swing ratio at ``bpm``: wide when slow, straight at 300.

    From 180 bpm on it keeps the short note near 100 ms, and 2:1 falls at 200 bpm, as drummers do;
    slower than that it stays below their widest (up to 3.5), for a plain time-keeper (Friberg &
    Sundström 2002, "Swing ratios and ensemble timing in jazz performance", Music Perception 19(3)).
    """
    if bpm <= _CYMBAL[0][0]:
        return _CYMBAL[0][1]
    if bpm >= _CYMBAL[-1][0]:
        return _CYMBAL[-1][1]
    right = bisect_right([tempo for tempo, _ in _CYMBAL], bpm)
    (t0, r0), (t1, r1) = _CYMBAL[right - 1], _CYMBAL[right]
    return r0 + (r1 - r0) * (bpm - t0) / (t1 - t0)
