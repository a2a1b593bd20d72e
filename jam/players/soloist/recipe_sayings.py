"""Where over changes a recipe is said.

A recipe for a family of chords is said on each chord, and again as often as it fits while the chord
stays, a bar left free between. One that lands is said so late that it lands on the change; earlier
on a long chord it lands on that chord itself. A progression is said where it occurs: chords in a
row of its kinds, with roots that move as its own do; elsewhere there is silence.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from jam.harmony.changes import Change, Changes
from jam.harmony.keys import Key
from jam.players.soloist.recipe_line import LineNote, in_time
from jam.players.soloist.slots import TICKS, to_ticks
from jam.styles.recipe_text import LineRecipe
from jam.transport.metre import Bars


@dataclass(frozen=True, slots=True)
class Saying:
    """One time: the beat its bar begins on, the changes it hears, the tick it is cut at."""

    beat: float
    changes: Changes
    until: int


def occurrences(recipe: LineRecipe, changes: Sequence[Change]) -> list[int]:
    """Return where in ``changes`` the recipe's chords occur, one time after the other: the index
    of the first chord of each. For a family that is every chord."""
    own = recipe.meant_for
    found: list[int] = []
    for index in range(len(changes)):
        chords = [change.chord for change in changes[index : index + own.count]]
        free = not found or index >= found[-1] + own.count
        if free and (not own.chords or own.occurs(chords) == own.count):
            found.append(index)
    return found


def sayings(
    recipe: LineRecipe,
    changes: Changes,
    start: float,
    end: float,
    bars: Bars,
    key: Key | None = None,
) -> Iterator[Saying]:
    """Yield every time the recipe is to be said from beat ``start`` until ``end``, in order."""
    heard = list(changes.between(start, end))
    if len(changes) and changes.at(start).beat < start:
        heard.insert(0, changes.at(start))
    count = recipe.meant_for.count
    for index in occurrences(recipe, heard):
        change = heard[index]
        beat = max(change.beat, start)
        if change.chord.is_none:
            continue
        after = changes.after(heard[index + count - 1].beat)
        leaves = end if after is None else min(end, after.beat)
        if count > 1:
            yield Saying(beat, changes, to_ticks(leaves))
        else:
            yield from _on_one(recipe, change, beat, leaves, changes, end, bars, key)


def _on_one(
    recipe: LineRecipe,
    change: Change,
    beat: float,
    leaves: float,
    changes: Changes,
    end: float,
    bars: Bars,
    key: Key | None,
) -> Iterator[Saying]:
    """Yield the times on one chord that stays from ``beat`` until ``leaves``."""
    alone = Changes([change])

    def said_on(beat: float) -> list[LineNote]:
        return in_time(recipe, alone, beat, bars, key)

    def free_after(beat: float) -> float:
        bar, _ = bars.at((said_on(beat)[-1].end - 1) / TICKS)
        return bars.start(bar + 2)

    if not said_on(beat):
        return
    landing = next((note.tick for note in said_on(beat) if note.landing), None)
    after = changes.after(change.beat)
    at = beat
    if landing is not None and after is not None:
        last = max(beat, leaves - (landing / TICKS - beat))
        while free_after(at) <= last:
            yield Saying(at, alone, to_ticks(leaves))
            at = free_after(at)
        follows = changes.after(after.beat)
        yield Saying(last, changes, to_ticks(end if follows is None else min(end, follows.beat)))
        return
    yield Saying(beat, changes, to_ticks(leaves))
    at = free_after(at)
    while said_on(at)[-1].end <= to_ticks(leaves):
        yield Saying(at, alone, to_ticks(leaves))
        at = free_after(at)
