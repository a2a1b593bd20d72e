"""Swing as a bending of the beat.

A swing ratio r is the length of the first eighth over that of the second; the off-beat eighth then
falls at r / (1 + r) of the beat. Straight eighths are r = 1, a triplet's outer notes r = 2.
Definition: beat-upbeat ratio, Benadon 2006, "Slicing the beat", Ethnomusicology 50(1).
"""

from __future__ import annotations

from math import floor


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
