"""The role, degree and reason of every note of a reply."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from jam.events import Role
from jam.harmony.chord import Chord
from jam.players.soloist.costs import Place, Tables
from jam.players.soloist.lattice import Point
from jam.players.soloist.moves import FIRST_STATEMENT, WORDS
from jam.players.soloist.slots import Slot


@dataclass(frozen=True, slots=True)
class Label:
    """``degree`` and ``role`` against ``chord``, and why the note is there."""

    chord: str
    degree: str
    role: Role
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
        labels.append(Label(chord.symbol, chord.degree(pitches[index]), role, why))
    return labels


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
    slot, place, point, pitch = slots[index], where[index], points[index], pitches[index]
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
    if slot.move == "arpeggio":
        return f"{said} reaching the {chord.degree(pitch)}"
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
    begin = index
    while begin and slots[begin - 1].group == slot.group:
        begin -= 1
    if slot.move == "sequence" and first_of_idea is not None:
        return f"{words}, {_interval_words(pitches[begin] - pitches[first_of_idea])}"
    if slot.move in ("restate", "recipe"):
        return f"{words}, on {tables.of(where[index].now).chord.symbol}"
    if slot.move == "arpeggio":
        chord = tables.of(where[begin].now).chord
        return f"{words} from the {chord.degree(pitches[begin])}"
    return words


_SIZES = (
    "at the same pitch", "a half step", "a step", "a minor third", "a third", "a fourth",
    "a tritone", "a fifth", "a minor sixth", "a sixth", "a minor seventh", "a seventh",
    "an octave",
)  # fmt: skip


def _interval_words(semitones: int) -> str:
    size = abs(semitones)
    if size == 0:
        return _SIZES[0]
    name = _SIZES[size] if size <= 12 else f"{size} half steps"
    return f"{name} {'up' if semitones > 0 else 'down'}"
