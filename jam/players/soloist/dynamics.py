"""How loud each note of a reply is: the swell of a phrase, accents, the level of the player.

Accents lie on the tops of the contour and off the beat, approach notes are lighter, the last note
of a phrase too, and ghosted notes are only hinted at (common practice of bebop lines).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import pi, sin

from jam.events import Role
from jam.players.soloist.slots import TICKS, Slot, stretches
from jam.styles.profile import Dynamics

GHOSTED = 0.5
"""Velocity of a ghosted note against what it would else be."""

_MIRRORED = 0.8
_USUAL_RANGE = 40.0
"""Loudest less softest velocity in a phrase on a keyboard (from memory, common practice)."""


def velocities(
    slots: Sequence[Slot],
    pitches: Sequence[int],
    roles: Sequence[Role],
    ghosted: Sequence[bool],
    dynamics: Dynamics,
    *,
    heard_velocity: float | None,
    heard_range: float | None,
) -> list[int]:
    """Return the velocities, 1 to 127; ``heard_...`` are mean and range of the call's; a range of 0
    says nothing (a keyboard without touch)."""
    level, accent = float(dynamics.level), float(dynamics.accent)
    if heard_velocity is not None:
        level += dynamics.mirror * (heard_velocity - level) * _MIRRORED
    if heard_range:
        wide = min(1.6, max(0.5, heard_range / _USUAL_RANGE))
        accent *= 1.0 + dynamics.mirror * (wide - 1.0)
    found: list[int] = []
    for first, last in stretches(slots, TICKS):
        low, high = min(pitches[first : last + 1]), max(pitches[first : last + 1])
        for i in range(first, last + 1):
            value = level + accent * (
                _swell((i - first) / max(1, last - first))
                + _accent(i, slots, pitches, first, last)
                + 0.2 * (pitches[i] - low) / max(1, high - low)
                - (0.5 if roles[i] in ("approach", "free") else 0.0)
            )
            value *= GHOSTED if ghosted[i] else 1.0
            found.append(min(127, max(1, round(value))))
    return found


def _swell(place: float) -> float:
    """Return the arch of a phrase, in accents; the top lies behind the middle."""
    return 0.4 * sin(pi * place**1.3) - 0.5


def _accent(i: int, slots: Sequence[Slot], pitches: Sequence[int], first: int, last: int) -> float:
    """Return how much a note stands out, in accents."""
    value = 0.0
    rises = i == first or pitches[i] > pitches[i - 1]
    if rises and (i == last or pitches[i] > pitches[i + 1]):
        value += 0.7
    if slots[i].tick % TICKS == TICKS // 2:
        value += 0.5
    if i == last and first < last:
        value -= 0.5
    return value
