"""Where in its range a reply lies: near the call, shaped over each phrase, higher as it builds."""

from __future__ import annotations

from collections.abc import Sequence
from math import pi, sin

import numpy as np
from numpy.typing import NDArray

from jam.players.soloist.manner import Manner
from jam.players.soloist.request import Request
from jam.players.soloist.slots import TICKS, Slot

_MARGIN = 5
_ARCH = 5.0
_RISES, _FALLS = -5.0, 9.0
"""Phrases fall more often than they rise."""

_WANDER = 3.0


def centres_of(
    request: Request, manner: Manner, slots: Sequence[Slot], rng: np.random.Generator
) -> NDArray[np.float64]:
    """Return the middle of the register (slots,) as MIDI pitches.

    Each phrase (set off by a beat of rest) has its own tilt and its own arch.
    """
    middle = _middle(request) + manner.register
    low, high = request.style.instrument.low, request.style.instrument.high
    found: list[float] = []
    for first, last in _phrases(slots):
        tilt, arch = rng.uniform(_RISES, _FALLS), rng.uniform(-0.5, 1.0) * _ARCH
        base = middle + rng.uniform(-_WANDER, _WANDER)
        for place in range(last - first + 1):
            t = place / max(1, last - first)
            centre = base + tilt * (1.0 - 2.0 * t) + arch * (2.0 * sin(pi * t) - 1.0)
            found.append(min(max(centre, low + _MARGIN), high - _MARGIN))
    return np.array(found)


def _middle(request: Request) -> float:
    low, high = request.style.instrument.low, request.style.instrument.high
    middle = (low + high) / 2.0
    call = request.call
    if call is None or not call.notes:
        return middle
    heard = (call.low + call.high) / 2.0
    while heard > high - _MARGIN:
        heard -= 12
    while heard < low + _MARGIN:
        heard += 12
    return 0.5 * middle + 0.5 * min(max(heard, low + _MARGIN), high - _MARGIN)


def _phrases(slots: Sequence[Slot]) -> list[tuple[int, int]]:
    found, first = [], 0
    for index in range(1, len(slots) + 1):
        if index == len(slots) or slots[index].tick - slots[index - 1].end >= TICKS:
            found.append((first, index - 1))
            first = index
    return found
