"""The role, degree and reason of every note of a reply."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from jam.events import Role
from jam.harmony.chord import Chord
from jam.players.soloist.chord_tables import Tables
from jam.players.soloist.lattice import Point
from jam.players.soloist.places import Place
from jam.players.soloist.slots import Slot
from jam.players.soloist.telling import words_of

WORDS = {
    "run": "sets out",
    "landing": "a note for the change",
    "close": "closes the phrase",
}
"""What is said of notes that no statement and no figure asked for."""


@dataclass(frozen=True, slots=True)
class Label:
    """``degree`` and ``role`` against ``chord``, the move it belongs to, and why it is there."""

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
    labels = []
    said = words_of(slots, pitches)
    for index, point in enumerate(points):
        chord, role = _judged(where[index], point, pitches[index], tables)
        why = _reason(index, said[index], slots, where, points, pitches, tables, role)
        labels.append(
            Label(chord.symbol, chord.degree(pitches[index]), role, slots[index].move, why)
        )
    return labels


def _judged(place: Place, point: Point, pitch: int, tables: Tables) -> tuple[Chord, Role]:
    table = tables.of(place.now)
    chord = table.chord
    if place.outside:
        return chord, "free"
    if pitch % 12 in chord.tones:
        return chord, "chord tone"
    if table.strong[pitch % 12]:
        return chord, "blue" if table.blue[pitch % 12] and point.kind == "free" else "tension"
    if point.kind != "free":
        return chord, "leaning" if place.lands else "approach"
    if place.coming is not None and tables.of(place.coming).strong[pitch % 12]:
        return tables.of(place.coming).chord, "anticipation"
    return chord, "blue"


def _reason(
    index: int,
    said: str,
    slots: Sequence[Slot],
    where: Sequence[Place],
    points: Sequence[Point],
    pitches: Sequence[int],
    tables: Tables,
    role: Role,
) -> str:
    place, point, pitch = where[index], points[index], pitches[index]
    said = said or WORDS[slots[index].move]
    chord = tables.of(place.now).chord
    if point.kind == "enclosing":
        goal = _target(index + 2, where, pitches, tables)
        above, then = (pitches[index + n] > pitches[index + 2] for n in (0, 1))
        if above != then:
            return f"{said}; encloses {goal}"
        return f"{said}; two notes from {'above' if above else 'below'} to {goal}"
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
