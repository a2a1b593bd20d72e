"""What every pitch class is to a chord in its function, and what a style would pay for it.

Costs are integers in twelfths of a doubling (see `jam.players.soloist.lattice`). A style's weight
at its default costs nothing either way: people's usual share is the idiom's business.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from jam.harmony.changes import Change, Changes
from jam.harmony.chord import Chord
from jam.harmony.functions import Function, blue_tones, preference
from jam.harmony.keys import Key
from jam.harmony.scales import scale_of
from jam.players.soloist.degrees import STEPS, TONES
from jam.players.soloist.lattice import FORBIDDEN, OFFSETS, Ints
from jam.players.soloist.request import Request
from jam.styles.profile import Lines, Material

Bools = NDArray[np.bool_]

USUAL = Lines()
"""The weights that ask for neither more nor less of anything."""


@dataclass(frozen=True, eq=False)
class Taste:
    """A style's weights for lines, to look tables up by: equal weights are one object."""

    lines: Lines


@lru_cache(maxsize=256)
def taste_of(lines: Lines) -> Taste:
    """Return the taste of a style's weights."""
    return Taste(lines)


_DISLIKED = np.array([0, 0, 2, 5, 30, 0, 0, 0, 0, 0], dtype=np.int64)
_NOT_TAUGHT = 4
"""Tensions that are available but disliked in the chord's function are left to other styles."""

_WINDS = 14
"""How much dearer than habit tells it would be to go straight home at once."""

_LANDING_STEP = 6
_RESTING = (0, 3, 4, 6, 7, 8)
_LANDING_MOST = 24
_OTHER_END = 48


@dataclass(frozen=True, eq=False)
class ChordTable:
    """One chord in its function, by absolute pitch class (12,)."""

    chord: Chord
    tones: Bools
    resting: Bools
    strong: Bools
    tension: Bools
    altered: Bools
    liking: Ints
    scale: Bools
    blue: Bools
    landing: Ints


@lru_cache(maxsize=4096)
def chord_table(
    chord: Chord,
    function: Function,
    key: Key | None,
    blues: bool,
    landing: tuple[str, ...],
    material: Material = "everything",
) -> ChordTable:
    """Return what every pitch class is to ``chord``; ``landing`` is the style's order of taste and
    ``material`` what its lines may stand on."""
    liking = preference(chord, function)
    scale = scale_of(chord, function, key)
    blue = blue_tones(chord, key) if blues and material == "everything" else frozenset()
    strong = _standing(chord, liking, material)
    taste = np.full(12, _LANDING_MOST, dtype=np.int64)
    for place in range(len(landing) - 1, -1, -1):
        for semitones in STEPS[landing[place]]:
            pitch_class = (chord.root + semitones) % 12
            if (pitch_class in chord.tones) == (landing[place] in TONES):
                taste[pitch_class] = min(_LANDING_MOST, _LANDING_STEP * place)
    above = [(c - chord.root) % 12 for c in range(12)]
    return ChordTable(
        chord,
        _mask(chord.tones),
        _mask(c for c, a in enumerate(above) if c in chord.tones and a in _RESTING),
        _mask(strong),
        _mask(strong & chord.tensions - chord.tones),
        _mask(c for c, a in enumerate(above) if a in (1, 3, 6, 8) and c in chord.tensions),
        _DISLIKED[np.array([min(9, liking[a]) for a in above])],
        _mask(scale),
        _mask(blue),
        taste,
    )


def _standing(chord: Chord, liking: tuple[int, ...], material: Material) -> frozenset[int]:
    """Return the pitch classes that may stand by themselves: never none."""
    if material == "everything" or chord.is_none:
        return chord.strong
    if material == "guide tones":
        guides = {c for c in chord.tones if liking[(c - chord.root) % 12] == 0}
        return frozenset(guides) or chord.tones
    if material == "chord tones":
        return chord.tones
    return frozenset(c for c in chord.strong if liking[(c - chord.root) % 12] < _NOT_TAUGHT)


def _mask(classes: object) -> Bools:
    found = np.zeros(12, dtype=bool)
    found[list(classes)] = True  # type: ignore[call-overload]
    return found


class Tables:
    """The chord tables of one request; a chord that is none is stood in for by its neighbour."""

    def __init__(self, request: Request) -> None:
        self._request = request
        self._landing = tuple(request.style.landing)
        self._material = request.style.material
        self._known: dict[int, tuple[Change, ChordTable]] = {}

    def of(self, change: Change) -> ChordTable:
        """Return the table of a change."""
        known = self._known.get(id(change))
        if known is not None:
            return known[1]
        request = self._request
        table = chord_table(
            change.chord,
            change.function,
            request.key,
            request.blues,
            self._landing,
            self._material,
        )
        self._known[id(change)] = change, table  # kept, so that its id stays its own
        return table


def sounding(changes: Changes, beat: float) -> Change:
    """Return the change that holds at ``beat``; over N.C. the one before it, else the next."""
    index = changes.index_at(beat)
    for before in range(index, -1, -1):
        if not changes[before].chord.is_none:
            return changes[before]
    for after in range(index + 1, len(changes)):
        if not changes[after].chord.is_none:
            return changes[after]
    return changes[index]


@lru_cache(maxsize=8192)
def standing_cost(
    table: ChordTable, taste: Taste, curve: int, *, on_beat: bool, lands: bool, ends: str
) -> Ints:
    """Return the cost (12,) of each pitch class as a note that stands by itself.

    ``curve`` is the wanted tension there, 0 to 4. ``ends`` is empty, or how a reply ends there: "at
    rest" (1, 3 or 5), "open" (any other) or "as it comes".
    """
    lines = taste.lines
    cost = table.liking.copy()
    wish = 60.0 * (USUAL.tensions - lines.tensions) + 6.5 * (2 - curve)
    cost[table.tension] += round(wish)
    cost[table.altered & table.tension] += round(45 * (USUAL.altered - lines.altered))
    if lands or ends:
        cost += table.landing
    if ends in ("at rest", "open"):
        cost[table.resting != (ends == "at rest")] += _OTHER_END
    bluish = round(50 * (0.6 - lines.blue)) + 8 * on_beat
    cost[table.blue & ~table.strong] = bluish
    tension = table.blue & table.tension
    cost[tension] = np.minimum(cost[tension], max(0, bluish))
    return cost


@lru_cache(maxsize=4096)
def early_cost(coming: ChordTable, taste: Taste) -> Ints:
    """Return the cost (12,) of each pitch class as an anticipation of a chord to come."""
    early = round(24 * (USUAL.anticipations - taste.lines.anticipations))
    cost: Ints = coming.liking + coming.landing // 2 + early
    return cost


@lru_cache(maxsize=8192)
def passing_cost(table: ChordTable, taste: Taste, *, on_beat: bool, lands: bool) -> Ints:
    """Return the cost (4, 12) of each pitch class as an approach note, by its offset."""
    lines = taste.lines
    base = round(40 * (USUAL.approach - lines.approach)) + 4 * on_beat
    if lands:
        base = round(24 - 40 * lines.leaning)
    cost = np.full((len(OFFSETS), 12), base, dtype=np.int64)
    for number, offset in enumerate(OFFSETS):
        if abs(offset) == 2:
            cost[number] += np.where(table.scale, 2, 16)
    cost[:, table.strong] = FORBIDDEN
    return cost


@lru_cache(maxsize=8192)
def ringing_cost(table: ChordTable, taste: Taste, *, good: bool) -> Ints:
    """Return the cost (4, 12) of each pitch class as the first note of an enclosure.

    ``good`` says that the target lies where it is well heard.
    """
    lines = taste.lines
    base = round(40 * (USUAL.enclosures - lines.enclosures)) - _WINDS + (0 if good else 6)
    cost = np.full((len(OFFSETS), 12), base, dtype=np.int64)
    for number, offset in enumerate(OFFSETS):
        if abs(offset) == 2:
            cost[number] += np.where(table.scale, 2, 16)
    return cost
