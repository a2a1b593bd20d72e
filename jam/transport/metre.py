"""Bars, and the pulse that a foot taps.

A beat is a quarter note; ``bar`` counts from 0 at the session's first downbeat and is negative
in a count-in. The pulse is what the foot taps: a quarter in 4/4, a dotted quarter in 12/8, a half
in a fast two, a bar in a fast waltz.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from math import floor


@dataclass(frozen=True, slots=True)
class Metre:
    """A time signature with its pulse in quarter notes."""

    numerator: int = 4
    denominator: int = 4
    pulse_beats: float = 1.0

    @property
    def bar_beats(self) -> float:
        """Length of a bar in quarter notes."""
        return self.numerator * 4.0 / self.denominator

    def __str__(self) -> str:
        return f"{self.numerator}/{self.denominator}"


@dataclass(frozen=True)
class Bars:
    """Where the bars begin: listed, then regular before the first and after the last of the list.

    ``starts`` are beats, rising; bar number ``first`` begins at ``starts[0]``.
    """

    bar_beats: float = 4.0
    starts: tuple[float, ...] = (0.0,)
    first: int = 0

    def start(self, bar: int) -> float:
        """Return the beat on which ``bar`` begins."""
        index = bar - self.first
        if index < 0:
            return self.starts[0] + index * self.bar_beats
        if index < len(self.starts):
            return self.starts[index]
        return self.starts[-1] + (index - len(self.starts) + 1) * self.bar_beats

    def at(self, beat: float) -> tuple[int, float]:
        """Return ``(bar, beats into that bar)``; a beat a hair before a bar line belongs to it."""
        soon = beat + 1e-9
        if soon < self.starts[0]:
            bar = self.first + floor((soon - self.starts[0]) / self.bar_beats)
        elif soon >= self.starts[-1]:
            over = floor((soon - self.starts[-1]) / self.bar_beats)
            bar = self.first + len(self.starts) - 1 + over
        else:
            bar = self.first + bisect_right(self.starts, soon) - 1
        return bar, max(0.0, beat - self.start(bar))

    def length(self, bar: int) -> float:
        """Return the length of ``bar`` in beats."""
        return self.start(bar + 1) - self.start(bar)
