"""Where in a line is there room for figures?

A room is a stretch of notes that lie close together and whose pitches nothing has asked for yet:
what fills a phrase, and the rest of a statement that keeps the player's rhythm only. It may run
over several chords; a part of it lies over one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from jam.harmony.changes import Change
from jam.harmony.chord import Chord
from jam.players.soloist.chord_tables import sounding
from jam.players.soloist.request import Request
from jam.players.soloist.slots import FIGURES, RUNS, TICKS, Slot

FEWEST = 3
"""No figure has fewer notes."""

_CLOSE = 2 * TICKS
_TOLD = 3
"""So many notes of a statement stay its own, even where only its rhythm is kept."""

_FILLS = ("run", "landing", "close")


@dataclass(frozen=True, slots=True)
class Room:
    """Free slots ``first <= i < end``."""

    first: int
    end: int


def is_free(slot: Slot) -> bool:
    """Tell whether nothing has asked for the slot's pitch."""
    if slot.move in _FILLS:
        return slot.wanted_class is None
    rhythm_only = slot.wanted is None and slot.wanted_pitch is None
    return rhythm_only and slot.group < RUNS and slot.place >= _TOLD


def rooms_of(slots: Sequence[Slot]) -> list[Room]:
    """Return the rooms of three slots or more, in order; how the line ends is not theirs."""
    found: list[Room] = []
    first, last = 0, len(slots) - 1
    for index in range(len(slots)):
        inside = index < last and is_free(slots[index])
        near = index == first or (inside and slots[index].tick - slots[index - 1].tick <= _CLOSE)
        if inside and near:
            continue
        if index - first >= FEWEST:
            found.append(Room(first, index))
        first = index if inside else index + 1
    return found


def chords_of(slots: Sequence[Slot], request: Request) -> list[Change]:
    """Return for each slot the change that sounds; the same chord again is no new one."""
    found: list[Change] = []
    for slot in slots:
        change = sounding(request.changes, slot.beat)
        if found and change is not found[-1] and same(change, found[-1]):
            change = found[-1]
        found.append(change)
    return found


def same(one: Change, other: Change) -> bool:
    """Tell whether two changes bring the same chord in the same function."""
    return one.chord == other.chord and one.function == other.function


def asked(
    slot: Slot,
    index: int,
    place: int,
    name: str,
    wanted: int | None,
    direction: int,
    implied: Chord | None,
    why: str,
) -> Slot:
    """Return the slot as note ``place`` of the figure that begins at slot ``index``."""
    words = why if slot.move in _FILLS else f"{why}, in your rhythm"
    return Slot(
        slot.tick, slot.ticks, name, FIGURES + index, place, wanted_class=wanted,
        direction=direction, implied=implied, late=slot.late, why=words,
    )  # fmt: skip
