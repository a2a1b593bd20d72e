"""A statement: a few notes of an idea as the reply is to say them, before they have pitches.

Ticks are twelfths of a beat, intervals semitones.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

from jam.listening.phrase import GridNote
from jam.players.soloist.slots import TICKS, Slot, to_ticks
from jam.transport.metre import Bars

FIRM = 50
"""What bending an interval by a semitone costs, in twelfths of a doubling."""

SHORTEST = 2

_ONWARD = "in your rhythm"
"""What is said of a note whose interval is left open."""


@dataclass(frozen=True)
class Statement:
    """``onsets`` and ``lengths`` in ticks from its first note, and the interval wanted into each
    note (None: any).

    ``firm`` is the cost of bending an interval by a semitone; in a ``tonal`` one the first is
    nearly free, so that it can stay on the degrees of the chord. ``said_at`` is the tick within the
    bar on which it was said first, ``phase`` that on which it is to be said now. ``start`` is the
    pitch it would like to begin on. ``lates`` are how far off the grid the player had its notes, in
    beats (empty: not taken over). ``note`` says in words what was done.
    """

    move: str
    onsets: tuple[int, ...]
    lengths: tuple[int, ...]
    intervals: tuple[int | None, ...]
    firm: int = FIRM
    phase: int = 0
    said_at: int = 0
    tonal: bool = False
    start: int | None = None
    lates: tuple[float, ...] = ()
    note: str = ""

    def __len__(self) -> int:
        return len(self.onsets)

    @property
    def span(self) -> int:
        """Return the ticks from its first onset to its last release."""
        return self.onsets[-1] + self.lengths[-1]

    def at(self, tick: int, group: int) -> list[Slot]:
        """Return its slots with the first note on ``tick``."""
        return [
            Slot(
                tick + onset, length, self.move, group, place, wanted, self.firm,
                tonal=self.tonal,
                wanted_pitch=None if place else self.start,
                late=self.lates[place] if self.lates else None,
                why=self.note if wanted is not None or not place or not self.firm else _ONWARD,
            )
            for place, (onset, length, wanted) in enumerate(
                zip(self.onsets, self.lengths, self.intervals, strict=True)
            )
        ]  # fmt: skip

    def part(self, first: int, end: int) -> Statement:
        """Return the notes ``first <= i < end`` as a statement of their own."""
        if first == 0 and end >= len(self):
            return self
        kept = slice(first, end)
        begin = self.onsets[first]
        return replace(
            self,
            onsets=tuple(onset - begin for onset in self.onsets[kept]),
            lengths=self.lengths[kept],
            intervals=(None, *self.intervals[first + 1 : end]),
            phase=self.phase + begin,
            said_at=self.said_at + begin,
            start=self._pitch_of(first),
            lates=self.lates[kept],
        )

    def _pitch_of(self, index: int) -> int | None:
        led = self.intervals[1 : index + 1]
        if self.start is None or None in led:
            return None if index else self.start
        return self.start + sum(step for step in led if step is not None)


def stated(notes: Sequence[GridNote], bars: Bars) -> Statement:
    """Return notes as they were played, as a statement."""
    first = to_ticks(notes[0].beat)
    onsets = tuple(to_ticks(note.beat) - first for note in notes)
    gaps = [b - a for a, b in itertools.pairwise(onsets)] + [TICKS]
    lengths = tuple(
        max(SHORTEST, min(to_ticks(note.beats), gap)) for note, gap in zip(notes, gaps, strict=True)
    )
    _, inside = bars.at(notes[0].beat)
    steps = tuple(b.pitch - a.pitch for a, b in itertools.pairwise(notes))
    return Statement(
        "restate", onsets, lengths, (None, *steps), phase=to_ticks(inside),
        said_at=to_ticks(inside),
        start=notes[0].pitch, lates=tuple(note.late_beats for note in notes),
    )  # fmt: skip
