"""The role, degree and reason of every note of a reply."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from jam.events import Role
from jam.harmony.chord import Chord
from jam.players.soloist.chord_tables import Tables
from jam.players.soloist.lattice import Point
from jam.players.soloist.moves import FIRST_STATEMENT, WORDS
from jam.players.soloist.places import Place
from jam.players.soloist.slots import Slot


@dataclass(frozen=True, slots=True)
class Label:
    """``degree`` and ``role`` against ``chord``, the move it belongs to, and why it is there.

    A sequence that comes out at the pitch of the first statement is none: it is called restated.
    """

    chord: str
    degree: str
    role: Role
    move: str
    why: str


def label(
    slots: Sequence[Slot],
    where: Sequence[Place],
    points: Sequence[Point],
    pitches: Sequence[int],
    tables: Tables,
) -> list[Label]:
    """Return a label for each note of a line."""
    first_of_idea = next((i for i, slot in enumerate(slots) if slot.group == FIRST_STATEMENT), None)
    labels = []
    for index, point in enumerate(points):
        chord, role = _judged(where[index], point, pitches[index], tables)
        why = _reason(index, slots, where, points, pitches, tables, role, first_of_idea)
        begin = first_of_group(slots, index)
        again = first_of_idea is not None and pitches[begin] == pitches[first_of_idea]
        move = "restate" if slots[index].move == "sequence" and again else slots[index].move
        labels.append(Label(chord.symbol, chord.degree(pitches[index]), role, move, why))
    return labels


def first_of_group(slots: Sequence[Slot], index: int) -> int:
    """Return the index of the first slot of the statement or run that a slot belongs to."""
    while index and slots[index - 1].group == slots[index].group:
        index -= 1
    return index


def _judged(place: Place, point: Point, pitch: int, tables: Tables) -> tuple[Chord, Role]:
    table = tables.of(place.now)
    chord = table.chord
    if table.strong[pitch % 12]:
        return chord, "chord tone" if pitch % 12 in chord.tones else "tension"
    if point.kind != "free":
        return chord, "leaning" if place.lands else "approach"
    if place.coming is not None and tables.of(place.coming).strong[pitch % 12]:
        return tables.of(place.coming).chord, "anticipation"
    return chord, "blue"


def _reason(
    index: int,
    slots: Sequence[Slot],
    where: Sequence[Place],
    points: Sequence[Point],
    pitches: Sequence[int],
    tables: Tables,
    role: Role,
    first_of_idea: int | None,
) -> str:
    place, point, pitch = where[index], points[index], pitches[index]
    said = _move_words(index, slots, where, pitches, tables, first_of_idea)
    chord = tables.of(place.now).chord
    if point.kind == "enclosing":
        return f"{said}; encloses {_target(index + 2, where, pitches, tables)}"
    if point.kind == "approach":
        side = "below" if point.offset > 0 else "above"
        kind = "chromatic approach" if abs(point.offset) == 1 else "step"
        if role == "leaning":
            kind = "leans"
        return f"{said}; {kind} from {side} to {_target(index + 1, where, pitches, tables)}"
    if role == "anticipation" and place.coming is not None:
        new = tables.of(place.coming).chord
        return f"{said}; anticipates the {new.degree(pitch)} of {new.symbol}"
    if role == "blue":
        return f"{said}; blue note on {chord.symbol}"
    if place.last:
        return f"{said}; ends on the {chord.degree(pitch)} of {chord.symbol}"
    if place.lands:
        return f"{said}; lands on the {chord.degree(pitch)} of {chord.symbol}"
    return said


def _target(index: int, where: Sequence[Place], pitches: Sequence[int], tables: Tables) -> str:
    place, pitch = where[index], pitches[index]
    chord = tables.of(place.now).chord
    if place.coming is not None and not chord.is_strong(pitch):
        chord = tables.of(place.coming).chord
    return f"the {chord.degree(pitch)} of {chord.symbol}"


def _move_words(
    index: int,
    slots: Sequence[Slot],
    where: Sequence[Place],
    pitches: Sequence[int],
    tables: Tables,
    first_of_idea: int | None,
) -> str:
    slot = slots[index]
    words = WORDS[slot.move]
    begin = first_of_group(slots, index)
    if slot.move == "sequence" and first_of_idea is not None:
        moved = pitches[begin] - pitches[first_of_idea]
        if moved:
            return f"{words}, {_interval_words(moved)}"
        return f"{WORDS['restate']}, on {tables.of(where[index].now).chord.symbol}"
    if slot.move in ("restate", "recipe"):
        return f"{words}, on {tables.of(where[index].now).chord.symbol}"
    if slot.move == "arpeggio":
        chord = tables.of(where[begin].now).chord
        end = begin
        while end + 1 < len(slots) and slots[end + 1].group == slot.group:
            end += 1
        first, last = chord.degree(pitches[begin]), chord.degree(pitches[end])
        return f"{words} from the {first} to the {last}"
    return words


_SIZES = (
    "", "a half step", "a step", "a minor third", "a third", "a fourth",
    "a tritone", "a fifth", "a minor sixth", "a sixth", "a minor seventh", "a seventh",
    "an octave",
)  # fmt: skip


def _interval_words(semitones: int) -> str:
    size = abs(semitones)
    name = _SIZES[size] if size <= 12 else f"{size} half steps"
    return f"{name} {'up' if semitones > 0 else 'down'}"
