"""Changes: which chord holds from which beat on.

``beat`` is absolute, in quarter notes since the session's first downbeat. A change is structural
when it lasts a pulse or more and is not marked passing; only structural changes are landed on.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, overload

from jam.harmony.chord import Chord
from jam.harmony.functions import Function

Source = Literal["chart", "heard", "forecast"]


@dataclass(frozen=True, slots=True)
class Change:
    """``chord`` holds from ``beat`` until the next change."""

    beat: float
    chord: Chord
    passing: bool = False
    function: Function = "none"
    source: Source = "chart"
    confidence: float = 1.0


class Changes(Sequence[Change]):
    """Changes in order of their beats (strictly rising)."""

    def __init__(self, changes: Sequence[Change]) -> None:
        self._changes = tuple(changes)
        self._beats = [change.beat for change in self._changes]

    def __len__(self) -> int:
        return len(self._changes)

    def __iter__(self) -> Iterator[Change]:
        return iter(self._changes)

    @overload
    def __getitem__(self, index: int) -> Change: ...

    @overload
    def __getitem__(self, index: slice) -> tuple[Change, ...]: ...

    def __getitem__(self, index: int | slice) -> Change | tuple[Change, ...]:
        return self._changes[index]

    def index_at(self, beat: float) -> int:
        """Return the index of the change that holds at ``beat`` (the first one before it begins).

        Raises IndexError when there are none.
        """
        if not self._changes:
            raise IndexError("no changes")
        return max(0, bisect_right(self._beats, beat + 1e-6) - 1)

    def at(self, beat: float) -> Change:
        """Return the change that holds at ``beat``; the first one holds before its beat too."""
        return self._changes[self.index_at(beat)]

    def after(self, beat: float) -> Change | None:
        """Return the first change later than ``beat``, or None."""
        index = bisect_right(self._beats, beat + 1e-6)
        return self._changes[index] if index < len(self._changes) else None

    def between(self, start: float, end: float) -> tuple[Change, ...]:
        """Return the changes with ``start <= beat < end``."""
        first, last = bisect_left(self._beats, start - 1e-6), bisect_left(self._beats, end - 1e-6)
        return self._changes[first:last]

    def structural(self, start: float, end: float, pulse_beats: float) -> list[Change]:
        """Return the structural changes of chord with ``start <= beat < end``.

        A change to the same chord is none; nor is one that lasts less than ``pulse_beats``.
        """
        found = []
        first, stop = bisect_left(self._beats, start - 1e-6), bisect_left(self._beats, end - 1e-6)
        for index in range(first, stop):
            change = self._changes[index]
            if change.passing:
                continue
            if index and self._changes[index - 1].chord == change.chord:
                continue
            last = index + 1 == len(self._changes)
            if last or self._changes[index + 1].beat - change.beat > pulse_beats - 1e-6:
                found.append(change)
        return found
