"""The pitch of a bent note: a scoop slides up into it, a fall drops off its end.

A bend goes out as pitch-wheel messages (status E0, 14 bits, centre 8192), with the receiver's range
at two semitones either way (MIDI 1.0 Detailed Specification; the range is common practice). The
wheel is set before the note begins, and goes back to its centre `BACK_SEC` after the note's end, so
that what rings on does not jump, or when the next note of its channel begins, if that is sooner.
"""

from __future__ import annotations

from collections.abc import Sequence

from jam.events import Bend
from jam.log import rounded

RANGE_SEMITONES = 2.0
CENTRE = 0x2000
"""Value of a wheel at rest."""

BACK_SEC = 0.1

_SCOOP_SEC, _SCOOP_SHARE, _SCOOP_SEMITONES = 0.12, 0.4, -1.0
_FALL_SEC, _FALL_SHARE, _FALL_SEMITONES = 0.3, 0.45, -2.0
_STEPS = 10
_BEFORE_END_SEC = 0.01

Point = tuple[float, float]
"""Seconds after a note's onset, and semitones from its pitch."""


def bend_points(bend: Bend | None, length_sec: float) -> tuple[Point, ...]:
    """Return the pitch of a note over its length; empty for a steady one.

    All moments are whole millionths, as those of the notes are: whoever counts from another zero
    comes to the same ones.
    """
    if bend is None:
        return ()
    length_sec = rounded(length_sec)
    steps = [step / _STEPS for step in range(_STEPS + 1)]
    if bend == "scoop":
        rise_sec = min(_SCOOP_SEC, _SCOOP_SHARE * length_sec)
        return tuple((rounded(x * rise_sec), _SCOOP_SEMITONES * (1.0 - x) ** 1.5) for x in steps)
    fall_sec = min(_FALL_SEC, _FALL_SHARE * length_sec)
    begin_sec = length_sec - fall_sec
    span_sec = max(0.5 * fall_sec, fall_sec - _BEFORE_END_SEC)
    return tuple((rounded(begin_sec + x * span_sec), _FALL_SEMITONES * x**1.5) for x in steps)


def wheel_value(semitones: float) -> int:
    """Return the 14-bit value for a pitch so many semitones off, within the range."""
    return min(2 * CENTRE - 1, max(0, round(CENTRE * (1.0 + semitones / RANGE_SEMITONES))))


def wheel_message(channel: int, value: int) -> tuple[int, int, int]:
    """Return the message that sets the wheel of a channel (0 to 15)."""
    return (0xE0 | channel, value & 0x7F, value >> 7)


def is_wheel(data: Sequence[int]) -> bool:
    """Return whether a message sets a wheel."""
    return len(data) == 3 and data[0] & 0xF0 == 0xE0


def value_of(data: Sequence[int]) -> int:
    """Return the 14-bit value in a message that sets a wheel."""
    return int(data[1] | data[2] << 7)


def semitones_of(value: int) -> float:
    """Return how many semitones off a wheel value is."""
    return (value - CENTRE) * RANGE_SEMITONES / CENTRE
