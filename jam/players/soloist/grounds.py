"""The ground a slot stands on: which pitch classes may stand, pass or ring there, and at what cost.

Rows are (12,) or (4, 12) by absolute pitch class, in twelfths of a doubling; they depend on the
chords and the style only, are worked out once and must not be written to.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from jam.players.soloist.chord_tables import (
    Bools,
    ChordTable,
    Tables,
    Taste,
    early_cost,
    passing_cost,
    ringing_cost,
    standing_cost,
)
from jam.players.soloist.lattice import FORBIDDEN, OFFSETS, Ints
from jam.players.soloist.places import Place


class Ground(NamedTuple):
    """A place among the changes, by the tables of its chords (see `jam.players.soloist.places`).

    ``anticipated`` says that what it may anticipate is the first change that comes under it.
    """

    now: ChordTable
    coming: ChordTable | None
    under: tuple[ChordTable, ...]
    anticipated: bool
    owed: ChordTable | None
    lands: bool
    last: bool
    crosses: bool
    outside: bool
    blues: bool


def ground_of(place: Place, tables: Tables, *, blues: bool) -> Ground:
    """Return the ground of a place."""
    return Ground(
        tables.of(place.now),
        tables.of(place.coming) if place.coming is not None else None,
        tuple(tables.of(change) for change in place.under),
        bool(place.under) and place.under[0] is place.coming and not place.lands,
        tables.of(place.owed) if place.owed is not None else None,
        place.lands,
        place.last,
        place.crosses,
        place.outside,
        blues,
    )


@lru_cache(maxsize=8192)
def open_classes(ground: Ground) -> Bools:
    """Return which pitch classes (12,) may stand by themselves."""
    now = ground.now
    mask = now.strong
    if ground.coming is not None and not (ground.last or ground.lands):
        mask = mask | ground.coming.strong
    for number, new in enumerate(ground.under):
        near = ground.anticipated and number == 0
        mask = (now.strong | new.strong if near else mask) & new.strong
    if ground.owed is not None:
        both = mask & ground.owed.strong
        mask = both if both.any() else mask
    held = ground.lands or ground.last or ground.under or ground.crosses or ground.outside
    return mask | now.blue if ground.blues and not held else mask


@lru_cache(maxsize=8192)
def standing_row(ground: Ground, taste: Taste, curve: int, ends: str, *, on_beat: bool) -> Ints:
    """Return the cost (12,) of each pitch class that stands by itself."""
    now = ground.now
    cost = standing_cost(now, taste, curve, on_beat=on_beat, lands=ground.lands, ends=ends)
    if ground.coming is not None:
        cost = np.where(now.strong | now.blue, cost, early_cost(ground.coming, taste))
    return np.where(open_classes(ground), cost, FORBIDDEN)


@lru_cache(maxsize=8192)
def passing_row(ground: Ground, taste: Taste, *, on_beat: bool) -> Ints:
    """Return the cost (4, 12) of each pitch class as an approach note, by its offset."""
    cost = passing_cost(ground.now, taste, on_beat=on_beat, lands=ground.lands)
    return np.where(open_classes(ground), FORBIDDEN, cost)


@lru_cache(maxsize=8192)
def ringing_row(ground: Ground, taste: Taste, *, good: bool) -> Ints:
    """Return the cost (4, 12) of each pitch class as the first note of an enclosure."""
    cost = ringing_cost(ground.now, taste, good=good)
    return np.where(open_classes(ground) | ground.now.strong, FORBIDDEN, cost)


@lru_cache(maxsize=4096)
def resolving_row(now: ChordTable, *, leans: bool) -> Ints:
    """Return what is added (12,) where an approach note resolves: no blue note ends one, and what
    leans on a chord goes on to that chord, not to one that is to come."""
    closed = ~now.strong if leans else now.blue & ~now.strong
    return np.where(closed, FORBIDDEN, 0)


CLOSED = np.full((len(OFFSETS), 12), FORBIDDEN, dtype=np.int64)
"""The row of what may neither pass nor ring."""
