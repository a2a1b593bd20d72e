"""The only bridge between beats and seconds.

A beat is a quarter note, always. `Timeline` is one stretch of constant tempo; `TempoMap` is a
run of such stretches (a file's tempo changes, beats tapped by people). Both have the same two
inverse methods and extend without end in both directions, so a count-in at negative beats works.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Protocol


class BeatTime(Protocol):
    """Anything that maps beats to seconds and back."""

    def sec(self, beat: float) -> float:
        """Return the second at which ``beat`` falls."""

    def beat(self, sec: float) -> float:
        """Return the beat that sounds at ``sec``."""

    def bpm_at(self, beat: float) -> float:
        """Return the tempo at ``beat`` in quarter notes a minute."""


@dataclass(frozen=True, slots=True)
class Timeline:
    """Constant tempo through one known point."""

    bpm: float
    origin_beats: float = 0.0
    origin_sec: float = 0.0

    def sec(self, beat: float) -> float:
        return self.origin_sec + (beat - self.origin_beats) * 60.0 / self.bpm

    def beat(self, sec: float) -> float:
        return self.origin_beats + (sec - self.origin_sec) * self.bpm / 60.0

    def bpm_at(self, beat: float) -> float:
        return self.bpm


@dataclass(frozen=True)
class TempoMap:
    """Stretches of constant tempo, each holding from its origin on.

    ``stretches`` must have strictly rising origins, in beats and in seconds. Before the first
    origin the first tempo holds.
    """

    stretches: tuple[Timeline, ...]
    _beats: tuple[float, ...] = field(init=False, repr=False, compare=False)
    _secs: tuple[float, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if not self.stretches:
            raise ValueError("a tempo map needs at least one stretch")
        beats = tuple(s.origin_beats for s in self.stretches)
        secs = tuple(s.origin_sec for s in self.stretches)
        if not (_rise(beats) and _rise(secs)):
            raise ValueError("the origins of a tempo map must rise")
        object.__setattr__(self, "_beats", beats)
        object.__setattr__(self, "_secs", secs)

    @classmethod
    def through(cls, points: Sequence[tuple[float, float]]) -> TempoMap:
        """Return the map that passes through ``(beat, sec)`` points, straight between them.

        Needs two points at least; the last tempo goes on after the last point.
        """
        if len(points) < 2:
            raise ValueError("a tempo map through points needs two of them")
        if not (_rise([beat for beat, _ in points]) and _rise([sec for _, sec in points])):
            raise ValueError("the points of a tempo map must rise")
        stretches = tuple(
            Timeline(60.0 * (b1 - b0) / (s1 - s0), b0, s0)
            for (b0, s0), (b1, s1) in pairwise(points)
        )
        return cls(stretches)

    def sec(self, beat: float) -> float:
        return self._at(self._beats, beat).sec(beat)

    def beat(self, sec: float) -> float:
        return self._at(self._secs, sec).beat(sec)

    def bpm_at(self, beat: float) -> float:
        return self._at(self._beats, beat).bpm

    def _at(self, origins: tuple[float, ...], value: float) -> Timeline:
        return self.stretches[max(0, bisect_right(origins, value) - 1)]


def _rise(values: Sequence[float]) -> bool:
    return all(a < b for a, b in pairwise(values))
