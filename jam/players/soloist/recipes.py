"""Phrase recipes played: a line of degrees and devices on any chord, in any key and register.

`realise` plays a recipe once, exactly as written; `through` plays it over changes, wherever
`jam.players.soloist.recipe_sayings` has it said; `varied` returns a recipe that differs in small
things and lands on the same degrees; `statement_of` hands it to the soloist as a stock phrase. The
line lies within the range: all of it moved by octaves, or from a rest on where it would not fit
otherwise; a stretch wider than the range is folded back note by note, and these notes say so.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from jam.harmony.changes import Change, Changes
from jam.harmony.chord import Chord
from jam.harmony.keys import Key
from jam.players.soloist.recipe_line import LineNote, in_time, start_tick
from jam.players.soloist.recipe_sayings import sayings
from jam.players.soloist.recipe_vary import varied
from jam.players.soloist.slots import TICKS, folded
from jam.players.soloist.statement import Statement
from jam.styles.recipe_text import LineRecipe
from jam.transport.metre import Bars

__all__ = ["RecipeNote", "given_way", "realise", "statement_of", "through", "varied"]

FEWEST_NOTES = 2
"""A recipe that a short chord leaves fewer notes of is not played there."""

_REST_TICKS = TICKS // 4


@dataclass(frozen=True, slots=True)
class RecipeNote:
    """A note of a recipe as it is played.

    ``tick`` and ``ticks`` are its place since the session's first downbeat and its length, on the
    written grid (`slots.TICKS` a beat). ``degree`` is what the pitch is on ``chord``, ``asked``
    what the recipe says there (``9``, ``step above 5``; empty inside a run), ``device`` the item
    of its line; ``folded`` tells that it lies in another octave than the line has it.
    """

    tick: int
    ticks: int
    pitch: int
    chord: Chord
    degree: str
    asked: str
    device: str
    landing: bool = False
    folded: bool = False

    @property
    def end(self) -> int:
        """Return the tick at which it ends."""
        return self.tick + self.ticks


def realise(
    recipe: LineRecipe,
    changes: Changes,
    start_beat: float,
    bars: Bars,
    *,
    low: int,
    high: int,
    near: int | None = None,
    beyond: int = 0,
    key: Key | None = None,
) -> tuple[RecipeNote, ...]:
    """Return the recipe as written, its first chord being the one that holds at ``start_beat``.

    ``low`` to ``high`` is the range in MIDI numbers (an octave at least), ``beyond`` the semitones
    it may be left by, at either end, by a line that does not fit in otherwise; ``near`` is the
    pitch the phrase is to begin near, None for the middle of the range.
    """
    line = in_time(recipe, changes, start_beat, bars, key)
    return _in_range(line, low, high, near, beyond)


def through(
    recipe: LineRecipe,
    changes: Changes,
    start: float,
    end: float,
    bars: Bars,
    *,
    low: int,
    high: int,
    beyond: int = 0,
    key: Key | None = None,
    rng: np.random.Generator | None = None,
    first_as_written: bool = True,
) -> tuple[RecipeNote, ...]:
    """Return the recipe over the changes from beat ``start`` until ``end``, wherever it is said.

    Where one time still sounds when the next would begin, the next is left out; before a pickup it
    gives way. A pickup may begin before ``start``. With ``rng`` it is varied each time, but the
    first unless ``first_as_written`` is off. ``low``, ``high``, ``beyond``: as in `realise`.
    """
    found: list[RecipeNote] = []
    for saying in sayings(recipe, changes, start, end, bars, key):
        first = start_tick(recipe, saying.beat)
        if found and first < found[-1].end:
            if not recipe.start.before:
                continue
            found = given_way(found, first)
        as_written = rng is None or (first_as_written and not found)
        once = recipe if rng is None or as_written else varied(recipe, rng)
        near = found[-1].pitch if found else None
        line = _cut(in_time(once, saying.changes, saying.beat, bars, key), saying.until)
        if len(line) >= FEWEST_NOTES:
            found += _in_range(line, low, high, near, beyond)
    return tuple(found)


AS_WRITTEN = 90
"""What bending an interval of a recipe by a semitone costs: only hard rules do."""


def given_way(notes: Sequence[RecipeNote], tick: int) -> list[RecipeNote]:
    """Return the notes that begin before ``tick``, none sounding past it."""
    kept = [note for note in notes if note.tick < tick]
    return [replace(note, ticks=min(note.ticks, tick - note.tick)) for note in kept]


def statement_of(
    recipe: LineRecipe,
    change: Change,
    phase: int | None = None,
    *,
    following: Sequence[Change] = (),
    key: Key | None = None,
) -> Statement:
    """Return the recipe as a statement for the soloist, on the chord of ``change``.

    ``phase`` is the tick within the bar of its first note, None for where the recipe says.
    ``following`` are the changes after it: a progression says its part over those that are its own,
    and without them only its first chord's.
    """
    if recipe.meant_for.chords:
        heard = [one.chord for one in (change, *following)]
        following = following[: max(1, recipe.meant_for.occurs(heard)) - 1]
    # A recipe's own bars are of four beats from its first chord on.
    bars = Bars(starts=(change.beat,))
    notes = in_time(recipe, Changes([change, *following]), change.beat, bars, key)
    first = notes[0].tick
    rises: list[int | None] = [b.height - a.height for a, b in itertools.pairwise(notes)]
    return Statement(
        "recipe",
        tuple(note.tick - first for note in notes),
        tuple(note.ticks for note in notes),
        (None, *rises),
        firm=AS_WRITTEN,
        phase=recipe.start.ticks if phase is None else phase,
        said_at=recipe.start.ticks if phase is None else phase,
        start=notes[0].height,
        note=f"stock phrase '{recipe.name}'",
    )


def _cut(line: list[LineNote], end: int) -> list[LineNote]:
    """Return what begins before ``end``, none sounding past it."""
    kept = [note for note in line if note.tick < end]
    for note in kept:
        note.ticks = min(note.ticks, end - note.tick)
    return kept


def _in_range(
    line: list[LineNote], low: int, high: int, near: int | None, beyond: int
) -> tuple[RecipeNote, ...]:
    if high - low < 11:
        raise ValueError(f"{low} to {high} is less than an octave")
    aim = (low + high) // 2 if near is None else near
    if _shift(line, low, high, aim) is None:
        low, high = low - beyond, high + beyond
    whole = _shift(line, low, high, aim) is not None
    return tuple(
        RecipeNote(
            note.tick,
            note.ticks,
            pitch,
            note.change.chord,
            note.change.chord.degree(pitch),
            note.asked,
            note.device,
            note.landing,
            folded,
        )
        for stretch in ([line] if whole else _stretches(line))
        for note, (pitch, folded) in zip(stretch, _placed(stretch, low, high, aim), strict=True)
    )


def _shift(line: Sequence[LineNote], low: int, high: int, aim: int) -> int | None:
    """Return the octaves (in semitones) that bring the line into the range, its first note nearest
    to ``aim`` while its middle stays near the range's; None where it is too wide."""
    if not line:
        return 0
    heights = [note.height for note in line]
    fitting = [
        shift
        for shift in range(-48, 133, 12)
        if low <= min(heights) + shift and max(heights) + shift <= high
    ]
    middle = (low + high) // 2
    centre = (min(heights) + max(heights)) // 2

    def away(shift: int) -> tuple[int, int]:
        return abs(heights[0] + shift - aim) + abs(centre + shift - middle), shift

    return min(fitting, key=away, default=None)


def _placed(stretch: Sequence[LineNote], low: int, high: int, aim: int) -> list[tuple[int, bool]]:
    """Return the pitch of each note, and whether it is folded."""
    shift = _shift(stretch, low, high, aim)
    if shift is not None:
        return [(note.height + shift, False) for note in stretch]
    shift = 12 * round((aim - stretch[0].height) / 12)
    wide = [note.height + shift for note in stretch]
    pitches = [folded(pitch, low, high) for pitch in wide]
    return [(pitch, pitch != one) for pitch, one in zip(pitches, wide, strict=True)]


def _stretches(line: Sequence[LineNote]) -> list[list[LineNote]]:
    """Return the line cut at its rests."""
    found: list[list[LineNote]] = []
    for note in line:
        if found and note.tick - found[-1][-1].end < _REST_TICKS:
            found[-1].append(note)
        else:
            found.append([note])
    return found
