"""Moves of the conversation: how a cell of the call is taken up, as statements in time.

Each move turns one cell into one `Statement`: a rhythm and the intervals it wants. Where it is
placed, and on which pitch it begins, is decided elsewhere.

- *restate*: the cell as it was played, on the chord now sounding;
- *sequence*: the same shape again on a later chord, moved to where it fits;
- *same rhythm*: its rhythm with other pitches;
- *invert*: its intervals turned upside down;
- *displace*: the cell moved against the bar by half a beat;
- *fragment*: its last notes only;
- *recipe*: a stock phrase of the style, when the call has nothing to take up.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

from jam.harmony.chord import Chord
from jam.listening.phrase import Cell
from jam.players.soloist.degrees import on_chord
from jam.players.soloist.slots import TICKS, Slot, to_ticks
from jam.styles.profile import Recipe

FIRM = 60
"""Cost of bending an interval of a firm cell by a semitone (see `jam.players.soloist.costs`)."""

FIRST_STATEMENT = 0
"""The group of the slots in which a reply first says its idea."""

WORDS = {
    "restate": "the call's cell again",
    "sequence": "the cell in sequence",
    "same_rhythm": "the cell's rhythm, other pitches",
    "invert": "the cell upside down",
    "displace": "the cell, half a beat off",
    "fragment": "the tail of the cell",
    "recipe": "stock phrase",
    "run": "running line",
    "arpeggio": "arpeggio",
    "landing": "a note for the change",
    "close": "close",
}
"""Each move in words, for the reasons in the log."""


@dataclass(frozen=True)
class Statement:
    """Onsets and lengths in ticks from its first note, and the interval into each note."""

    move: str
    onsets: tuple[int, ...]
    lengths: tuple[int, ...]
    intervals: tuple[int | None, ...]
    firm: int
    phase: int

    @property
    def span(self) -> int:
        """Ticks from first onset to last release."""
        return self.onsets[-1] + self.lengths[-1]

    def at(self, tick: int, group: int) -> list[Slot]:
        """Return the statement's slots with its first note on ``tick``."""
        rows = zip(self.onsets, self.lengths, self.intervals, strict=True)
        return [
            Slot(tick + onset, length, self.move, group, place, wanted, self.firm)
            for place, (onset, length, wanted) in enumerate(rows)
        ]


def restated(cell: Cell, *, move: str = "restate", firm: int = FIRM) -> Statement:
    """Return the cell as a statement. ``phase`` is its place in the bar, in ticks."""
    onsets = tuple(to_ticks(onset) for onset in cell.onsets)
    gaps = [b - a for a, b in itertools.pairwise(onsets)] + [TICKS]
    lengths = tuple(
        max(2, min(to_ticks(length), gap)) for length, gap in zip(cell.lengths, gaps, strict=True)
    )
    return Statement(
        move, onsets, lengths, (None, *cell.intervals), firm, to_ticks(cell.beat_in_bar)
    )


def moved(statement: Statement, move: str) -> Statement:
    """Return the statement changed by one of the moves named in this module's docstring."""
    intervals = statement.intervals
    if move == "invert":
        turned = tuple(None if i is None else -i for i in intervals)
        return replace(statement, move=move, intervals=turned)
    if move == "same_rhythm":
        return replace(statement, move=move, intervals=(None,) * len(intervals), firm=0)
    if move == "displace":
        return replace(statement, move=move, phase=statement.phase + TICKS // 2)
    if move == "fragment" and len(intervals) > 3:
        start = statement.onsets[-3]
        return Statement(
            move,
            tuple(onset - start for onset in statement.onsets[-3:]),
            statement.lengths[-3:],
            (None, *intervals[-2:]),
            statement.firm,
            statement.phase + start,
        )
    return replace(statement, move=move)


def from_recipe(recipe: Recipe, chord: Chord, phase: int) -> Statement:
    """Return a style's stock phrase over ``chord``, each degree by the shorter way."""
    steps = [on_chord(degree, chord) for degree in recipe.degrees]
    intervals: list[int | None] = [None]
    for before, after in itertools.pairwise(steps):
        intervals.append((after - before + 6) % 12 - 6 if after != before else 0)
    onsets, place = [], 0
    for beats in recipe.beats:
        onsets.append(place)
        place += max(2, to_ticks(beats))
    lengths = tuple(max(2, to_ticks(beats)) for beats in recipe.beats)
    return Statement("recipe", tuple(onsets), lengths, tuple(intervals), FIRM // 2, phase)
