"""At what pitch is an idea said? Where its notes suit the chords they fall on.

An idea that is said again on other chords is moved as a whole, so that most of its notes are strong
there; what is left over is bent note by note when the line is drawn. All statements of a reply move
together, so that a sequence goes where it says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import accumulate

import numpy as np

from jam.players.soloist.chances import pick_by
from jam.players.soloist.chord_tables import ChordTable, Tables, sounding
from jam.players.soloist.lattice import Floats, Ints
from jam.players.soloist.request import Request
from jam.players.soloist.slots import TICKS, Slot, folded, pulse_ticks

_ANYWHERE = np.arange(-12, 13)
_WAYS = {"contrast": np.arange(-3, 4), "recipe": np.array([-12, 0, 12])}
"""By how many semitones an idea may be moved: one that is to lie in another register is only
adjusted, and a recipe keeps its degrees."""

_WEAK, _BENT = 1.0, 0.45
"""What a note that is not strong costs, and one that is a half step away from a strong one."""

_HEAVY = 2.0
"""A note on the beat, or one that lasts, counts so many times."""

_FAR, _FREE = 0.09, 7
"""What each semitone away from the middle of the instrument costs, the first few left out."""

_EDGE = 2.0
_SURE = 0.16
"""How much worse, as a share of all its notes, makes a place e times less likely."""

_OWN_PITCH = 0.6
"""How much dearer than its own pitch another one is, for a style that takes all literally."""


def set_idea(
    request: Request,
    slots: Sequence[Slot],
    tables: Tables,
    register: float,
    rng: np.random.Generator,
) -> list[Slot]:
    """Return the slots with all wanted pitches moved by one interval, drawn by how well the first
    statement then suits its chords; ``register`` is how far off the middle it is to lie."""
    first = next((i for i, slot in enumerate(slots) if slot.wanted_pitch is not None), None)
    if first is None:
        return list(slots)
    group = slots[first].group
    said = [slot for slot in slots[first:] if slot.group == group]
    start = slots[first].wanted_pitch
    assert start is not None
    steps = [0 if not n or slot.wanted is None else slot.wanted for n, slot in enumerate(said)]
    pitches = start + np.array(list(accumulate(steps)))
    moved = _WAYS.get(said[0].move, _ANYWHERE)
    cost = _unsuited(request, said, pitches, tables)[moved % 12] / _SURE
    cost += _out_of_the_way(request, pitches, moved, register)
    cost += _OWN_PITCH * request.style.idea.literal * (moved != 0)
    low, high = request.style.instrument.low, request.style.instrument.high
    by = int(pick_by(moved.tolist(), np.exp(cost.min() - cost).tolist(), rng))
    return [
        slot
        if slot.wanted_pitch is None
        else replace(slot, wanted_pitch=folded(slot.wanted_pitch + by, low, high))
        for slot in slots
    ]


def _unsuited(request: Request, said: Sequence[Slot], pitches: Ints, tables: Tables) -> Floats:
    """Return what share (12,) of the notes is weak on its chord, by the interval moved."""
    width = pulse_ticks(request.pulse_beats)
    total, cost = 0.0, np.zeros(12)
    for slot, pitch in zip(said, pitches.tolist(), strict=True):
        heavy = _HEAVY if slot.tick % width == 0 or slot.ticks >= TICKS else 1.0
        cost += heavy * _weak(tables.of(sounding(request.changes, slot.beat)))[pitch % 12]
        total += heavy
    return cost / total


@lru_cache(maxsize=1024)
def _weak(table: ChordTable) -> Floats:
    """Return how ill (12, 12) each pitch class suits a chord when moved by each interval."""
    near = np.roll(table.strong, 1) | np.roll(table.strong, -1)
    weak = np.where(table.strong, 0.0, np.where(near, _BENT, _WEAK))
    turned: Floats = weak[np.add.outer(np.arange(12), np.arange(12)) % 12]
    return turned


def _out_of_the_way(request: Request, pitches: Ints, moved: Ints, register: float) -> Floats:
    """Return what it costs to lie far from the middle of the instrument, or beyond its ends."""
    low, high = request.style.instrument.low, request.style.instrument.high
    middle = np.abs(pitches.mean() + moved - (low + high) / 2.0 - register)
    over = np.maximum(0, pitches.max() + moved - high) + np.maximum(0, low - pitches.min() - moved)
    cost: Floats = _FAR * np.maximum(0.0, middle - _FREE) + _EDGE * over
    return cost
