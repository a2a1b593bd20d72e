"""What each note of a reply would cost: the hard rules as forbidden entries, taste as numbers.

Costs are integers; a hundred is roughly the cost of one clearly wrong choice. Hard rules (H1
landing, H2 ending, H3 approach) appear only as `FORBIDDEN`, so that no weight of any style can
buy them off.
"""

from __future__ import annotations

from collections.abc import Sequence
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
from jam.players.soloist.landings import Landing, landings
from jam.players.soloist.lattice import FORBIDDEN, OFFSETS, WIDEST, Column, Ints
from jam.players.soloist.request import Request
from jam.players.soloist.slots import TICKS, Slot, pulse_ticks, to_ticks
from jam.styles.profile import Style

Bools = NDArray[np.bool_]

_HAIR = 1e-6
_PREFERENCE = np.array([0, 4, 10, 22, 40, 0, 0, 0, 0, 0], dtype=np.int64)


@dataclass(frozen=True)
class ChordTable:
    """One chord in its function, by absolute pitch class (12,)."""

    chord: Chord
    strong: Bools
    tension: Bools
    altered: Bools
    liking: Ints
    scale: Bools
    blue: Bools
    landing: Ints


@lru_cache(maxsize=4096)
def chord_table(
    chord: Chord, function: Function, key: Key | None, blues: bool, landing: tuple[str, ...]
) -> ChordTable:
    """Return what every pitch class is to ``chord``; ``landing`` is the style's order of taste."""
    classes = range(12)
    liking = preference(chord, function)
    scale = scale_of(chord, function, key)
    blue = blue_tones(chord, key) if blues else frozenset()
    taste = np.full(12, 14 * len(landing), dtype=np.int64)
    for place in range(len(landing) - 1, -1, -1):
        for semitones in STEPS[landing[place]]:
            pitch_class = (chord.root + semitones) % 12
            if (pitch_class in chord.tones) == (landing[place] in TONES):
                taste[pitch_class] = 14 * place
    above = [(c - chord.root) % 12 for c in classes]
    return ChordTable(
        chord,
        np.array([c in chord.strong for c in classes]),
        np.array([c in chord.tensions and c not in chord.tones for c in classes]),
        np.array(
            [a in (1, 3, 6, 8) and c in chord.tensions for a, c in zip(above, classes, strict=True)]
        ),
        _PREFERENCE[np.array([min(9, liking[a]) for a in above])],
        np.array([c in scale for c in classes]),
        np.array([c in blue for c in classes]),
        taste,
    )


class Tables:
    """The chord tables of one request; a chord that is none is stood in for by its neighbour."""

    def __init__(self, request: Request) -> None:
        self._request = request
        self._landing = tuple(request.style.landing)

    def of(self, change: Change) -> ChordTable:
        """Return the table of the chord that sounds from ``change`` on."""
        request = self._request
        real = sounding(request.changes, change.beat)
        return chord_table(real.chord, real.function, request.key, request.blues, self._landing)


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


@dataclass(frozen=True)
class Place:
    """What the changes mean for one slot.

    ``now`` holds at its onset; ``under`` are the changes that come while it sounds; ``coming`` is
    the change it may anticipate (within a pulse, reaching up to it or over it). ``lands`` says
    that the slot is the first note after a structural change, ``on_change`` that it is exactly on
    it, ``crosses`` that it is held across one, ``last`` that it ends the reply.
    """

    now: Change
    under: tuple[Change, ...]
    coming: Change | None
    lands: bool
    on_change: bool
    crosses: bool
    last: bool


def places(
    request: Request, slots: Sequence[Slot], held: tuple[float, float] | None = None
) -> list[Place]:
    """Return the place of every slot among the changes.

    ``held`` is where the note before the first slot begins and ends (for a new tail).
    """
    marks = landings(request)
    found = []
    begun, ended = held if held is not None else (-1e9, -1e9)
    for index, slot in enumerate(slots):
        mark = next(
            (
                mark
                for mark in marks
                if mark.takes(slot.beat)
                and begun < mark.beat - _HAIR
                and ended <= mark.beat + _HAIR
            ),
            None,
        )
        crosses = any(slot.beat < other.beat < slot.end / TICKS for other in marks)
        last = index == len(slots) - 1
        found.append(_place(request, slot, mark, crosses=crosses, last=last))
        begun, ended = slot.beat, slot.end / TICKS
    return found


def _place(
    request: Request, slot: Slot, mark: Landing | None, *, crosses: bool, last: bool
) -> Place:
    begin, end = slot.beat, slot.end / TICKS
    later = [c for c in request.changes if begin + _HAIR < c.beat <= end + _HAIR and not c.passing]
    coming = later[0] if later and later[0].beat - begin <= request.pulse_beats + _HAIR else None
    return Place(
        sounding(request.changes, begin),
        tuple(change for change in later if change.beat < end - _HAIR),
        coming,
        lands=mark is not None,
        on_change=mark is not None and abs(mark.beat - begin) < _HAIR,
        crosses=crosses,
        last=last,
    )


class Pricing:
    """Builds the columns of one candidate line over the pitches ``low`` to ``high``."""

    def __init__(self, request: Request, low: int, high: int, rng: np.random.Generator) -> None:
        self.request = request
        self.style = request.style
        self.low = low
        self.pitches = np.arange(low, high + 1)
        self.classes = self.pitches % 12
        inward = np.minimum(np.arange(len(self.pitches)), np.arange(len(self.pitches))[::-1])
        self.edges = np.maximum(0, 3 - inward) * 14
        self.tables = Tables(request)
        self.rng = rng
        self.beat_ticks = pulse_ticks(request.pulse_beats)
        longest = max(request.pulse_beats / 2.0, 0.25 * request.bpm / 60.0)
        self.longest_approach = int(longest * TICKS + _HAIR)

    def columns(self, slots: Sequence[Slot], where: Sequence[Place]) -> list[Column]:
        """Return a column for each slot."""
        size = len(slots)
        noise = self.rng.integers(0, 16, (size, len(self.pitches)))
        centres = self._centres(slots)
        return [
            self._column(i, slots, where, noise[i], centres[i], _curve(self.style, slots, i))
            for i in range(size)
        ]

    def free_mask(self, slot: Slot, place: Place) -> Bools:
        """Return which pitch classes (12,) may stand by themselves in this slot."""
        now = self.tables.of(place.now).strong
        mask = now
        if place.coming is not None and not (place.last or place.lands):
            mask = mask | self.tables.of(place.coming).strong
        for change in place.under:
            near = change is place.coming and not place.lands
            new = self.tables.of(change).strong
            mask = (now | new if near else mask) & new
        plain = not (place.lands or place.last or place.under or place.crosses)
        if plain and self.tables.of(place.now).blue.any():
            mask = mask | self.tables.of(place.now).blue
        return mask

    def _column(
        self,
        index: int,
        slots: Sequence[Slot],
        where: Sequence[Place],
        noise: Ints,
        centre: float,
        curve: float,
    ) -> Column:
        slot, place = slots[index], where[index]
        table = self.tables.of(place.now)
        distance = np.maximum(0, np.abs(self.pitches - centre) - 4)
        common = noise + (3 * distance).astype(np.int64) + self.edges
        if slot.wanted_class is not None:
            common = common + np.where(self.classes == slot.wanted_class, 0, 150)
        mask = self.free_mask(slot, place)
        free = common + self._taste_of(slot, place, table, curve)[self.classes]
        free = np.where(mask[self.classes], free, FORBIDDEN)
        approach = self._approach(index, slots, where, common, table, mask)
        enclosing = self._enclosing(index, slots, where, common, table)
        blue = table.blue & ~table.strong
        resolving = np.where(blue[self.classes], FORBIDDEN, 0)
        return Column(free, approach, enclosing, self._arrival(slot), resolving)

    def _taste_of(self, slot: Slot, place: Place, table: ChordTable, curve: float) -> Ints:
        """Return the cost (12,) of each pitch class as a note that stands by itself."""
        lines = self.style.lines
        cost = table.liking.copy()
        on_beat = slot.tick % self.beat_ticks == 0
        tension = int(40 * (0.9 - lines.tensions) - 26 * curve * lines.tensions + 6 * on_beat)
        cost += np.where(table.tension, tension, 0)
        cost += np.where(table.altered & table.tension, int(34 * (0.7 - lines.altered)), 0)
        if place.lands or place.last:
            cost += table.landing if place.lands else table.landing // 2
        if place.coming is not None:
            new = self.tables.of(place.coming)
            early = int(60 * (0.75 - lines.anticipations))
            cost = np.where(table.strong, cost, new.liking + new.landing // 2 + early)
        if table.blue.any():
            blue = table.blue & ~table.strong
            cost = np.where(blue, int(50 * (1.0 - lines.blue)) + 20 * on_beat, cost)
        return cost

    def _approach(
        self,
        index: int,
        slots: Sequence[Slot],
        where: Sequence[Place],
        common: Ints,
        table: ChordTable,
        mask: Bools,
    ) -> Ints:
        cost = np.full((4, len(self.pitches)), FORBIDDEN, dtype=np.int64)
        slot, place = slots[index], where[index]
        if not self._may_pass(index, slots, where):
            return cost
        lines = self.style.lines
        base = 30 - 50 * lines.approach + (24 if slot.tick % self.beat_ticks == 0 else 0)
        if place.lands:
            base = 90 - 70 * lines.leaning
        in_scale = table.scale[self.classes]
        closed = mask[self.classes]
        for number, offset in enumerate(OFFSETS):
            step = np.where(in_scale, 12, 60) if abs(offset) == 2 else np.where(in_scale, 0, 8)
            value = common + int(base) + step + (8 if offset == -1 else 0)
            cost[number] = np.where(closed, FORBIDDEN, value)
        return cost

    def _may_pass(self, index: int, slots: Sequence[Slot], where: Sequence[Place]) -> bool:
        slot, place = slots[index], where[index]
        if place.last or place.under or place.crosses or slot.ticks > self.longest_approach:
            return False
        gap = slots[index + 1].tick - slot.tick
        if gap > TICKS + TICKS // 2:
            return False
        if place.lands:
            return place.on_change and gap <= to_ticks(self.request.pulse_beats)
        return True

    def _enclosing(
        self,
        index: int,
        slots: Sequence[Slot],
        where: Sequence[Place],
        common: Ints,
        table: ChordTable,
    ) -> Ints:
        cost = np.full((4, len(self.pitches)), FORBIDDEN, dtype=np.int64)
        if index + 2 >= len(slots) or where[index].lands or where[index + 1].lands:
            return cost
        if not (self._may_pass(index, slots, where) and self._may_pass(index + 1, slots, where)):
            return cost
        target = slots[index + 2]
        good = where[index + 2].lands or target.tick % self.beat_ticks == 0
        base = int(60 - 85 * self.style.lines.enclosures + (0 if good else 30))
        in_scale = table.scale[self.classes]
        for number, offset in enumerate(OFFSETS):
            above = offset < 0
            step = np.where(in_scale, 0, 25) if above else np.where(in_scale, 10, 10)
            cost[number] = common + base + step + (0 if above else 15)
        return cost

    def _arrival(self, slot: Slot) -> Ints:
        intervals = np.arange(WIDEST, -WIDEST - 1, -1)
        cost = np.zeros(len(intervals), dtype=np.int64)
        if slot.wanted is not None and slot.place:
            wanted = int(np.clip(slot.wanted, -WIDEST, WIDEST))
            off = np.abs(intervals - wanted)
            cost += slot.firm * np.minimum(off, 3) + slot.firm * (off > 0)
        if slot.direction and slot.place:
            cost += np.where(np.sign(intervals) == slot.direction, 0, 90)
        return cost

    def _centres(self, slots: Sequence[Slot]) -> NDArray[np.float64]:
        """Return the middle of the register (slots,): near the call, arched over the phrase."""
        low, high = int(self.pitches[0]), int(self.pitches[-1])
        middle = (low + high) / 2.0
        if self.request.call is not None and self.request.call.notes:
            heard = (self.request.call.low + self.request.call.high) / 2.0
            while heard > high - 5:
                heard -= 12
            while heard < low + 5:
                heard += 12
            middle = 0.5 * middle + 0.5 * min(max(heard, low + 5), high - 5)
        t = np.linspace(0.0, 1.0, len(slots))
        tilt = float(self.rng.uniform(-4, 4))
        return middle + tilt * (0.5 - t) * 2 + 5.0 * np.sin(np.pi * t) - 2.0


def _curve(style: Style, slots: Sequence[Slot], index: int) -> float:
    """Return the wanted tension (0..1) at a slot: low, high, low unless the style says else."""
    if len(slots) < 2 or style.tension_curve == "level":
        return 0.5
    begin, end = slots[0].tick, slots[-1].tick
    t = (slots[index].tick - begin) / max(1, end - begin)
    if style.tension_curve == "rising":
        return t
    return float(np.sin(np.pi * t))
