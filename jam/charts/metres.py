"""The metres a chart may have, their counts and their pulses.

A *count* is what a musician counts aloud in a bar: a quarter, or a dotted quarter in compound
metres (6/8, 9/8, 12/8). The *pulse* is what the foot taps. Lengths are in quarter notes.
"""

from __future__ import annotations

from typing import Final

from jam.transport.metre import Metre

PULSES: Final = {"quarter": 1.0, "dotted quarter": 1.5, "half": 2.0}
"""Pulses by name, in quarter notes; ``bar`` is the length of the bar."""

_USUAL_PULSE: Final = {
    "2/4": 1.0,
    "3/4": 1.0,
    "4/4": 1.0,
    "5/4": 1.0,
    "6/4": 1.0,
    "7/4": 1.0,
    "2/2": 2.0,
    "6/8": 1.5,
    "9/8": 1.5,
    "12/8": 1.5,
}
METRES: Final = tuple(_USUAL_PULSE)
"""The metres that can be played, as they are written."""

TEMPO_BPM: Final = (30.0, 400.0)
"""Slowest and fastest tempo of a tune, in quarter notes a minute."""


def metre_of(written: str, pulse: str | None = None) -> Metre:
    """Return the metre ``written`` as ``4/4`` with the named pulse, or with its usual one.

    Raises ValueError when the metre cannot be played, or the pulse does not divide its bar.
    """
    written = written.replace(" ", "")
    if written.replace(":", "/") in _USUAL_PULSE and ":" in written:
        raise ValueError(f"{written!r} is no metre: write {written.replace(':', '/')}")
    if written not in _USUAL_PULSE:
        raise ValueError(f"the metre {written!r} cannot be played")
    numerator, denominator = (int(part) for part in written.split("/"))
    bar_beats = numerator * 4.0 / denominator
    if pulse == "bar":
        return Metre(numerator, denominator, bar_beats)
    pulse_beats = _USUAL_PULSE[written] if pulse is None else PULSES[pulse]
    if bar_beats % pulse_beats:
        raise ValueError(f"the pulse {pulse!r} does not divide a bar of {written}")
    return Metre(numerator, denominator, pulse_beats)


def count_beats(metre: Metre) -> float:
    """Return the length of a count in quarter notes."""
    return 1.5 if metre.denominator == 8 else 1.0
