"""What each note and each step of a reply would cost: hard rules forbid, taste is a number.

Costs are integers in twelfths of a doubling. Hard rules (H1 landing, H2 ending, H3 approach) appear
only as `FORBIDDEN`, so that no weight of any style can buy them off. How usual a step is comes from
the idiom's step tables; here a style, a statement of the player's idea and a figure pull at it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import pi, sin

import numpy as np
from numpy.typing import NDArray

from jam.idiom.classes import (
    INTERVALS,
    family_class,
    gap_class,
    place_class,
)
from jam.idiom.model import Idiom
from jam.idiom.plain import plain_idiom
from jam.players.soloist.chord_tables import USUAL, Bools, Tables, Taste, sounding, taste_of
from jam.players.soloist.grounds import (
    CLOSED,
    Ground,
    ground_of,
    open_classes,
    passing_row,
    resolving_row,
    ringing_row,
    standing_row,
)
from jam.players.soloist.lattice import Costs, Floats, Ints
from jam.players.soloist.manner import Ending
from jam.players.soloist.places import Place
from jam.players.soloist.request import Request
from jam.players.soloist.slots import TICKS, Slot, pulse_ticks, to_ticks
from jam.players.soloist.statement import FIRM
from jam.styles.profile import Style

_HAIR = 1e-6
_OTHER_CLASS = 110
_OTHER_WAY = 60
_FIRM_PITCH, _NEXT_PITCH = 30, 6
"""What each semitone costs by which a statement begins elsewhere, up to four, and beyond; a tonal
one may lie a semitone off for as little."""


_DOUBT = 72
"""What is weak on a chord that is only forecast costs, if it is sure to come."""
_NEAR = 7.0
_ONWARD = 1.25
"""How much likelier a line goes on as it went than habit by two notes says: people's runs are
longer than their pairs of intervals tell."""

_LINE_REST = 2 * TICKS
_ENDS = {None: "as it comes", "closed": "at rest", "open": "open"}
_SIZES = np.abs(np.array(INTERVALS))
_SIGNS = np.sign(np.array(INTERVALS))


@lru_cache(maxsize=64)
def _keyboard(low: int, high: int) -> tuple[Ints, Ints, Ints]:
    """Return the pitches of a range, their classes, and what each costs for being near an edge."""
    pitches = np.arange(low, high + 1)
    inward = np.minimum(pitches - low, high - pitches)
    return pitches, pitches % 12, np.maximum(0, 3 - inward) * 5


@dataclass(frozen=True)
class Priced:
    """The costs of one candidate line and the step tables that go with them."""

    costs: Costs
    steps: list[Floats]


class Pricing:
    """Prices candidate lines of one request over the range of its instrument."""

    def __init__(self, request: Request) -> None:
        style = request.style
        self.request = request
        self.style = style
        self.low, self.high = style.instrument.low, style.instrument.high
        self.pitches, self.classes, self.edges = _keyboard(self.low, self.high)
        self.tables = Tables(request)
        self.taste = taste_of(style.lines)
        self.beat_ticks = pulse_ticks(request.pulse_beats)
        longest = max(request.pulse_beats / 2.0, 0.25 * request.bpm / 60.0)
        self.longest_approach = int(longest * TICKS + _HAIR)

    def price(
        self,
        slots: Sequence[Slot],
        where: Sequence[Place],
        centres: NDArray[np.float64],
        curves: Sequence[int],
        before: Slot | None = None,
        *,
        ends: Ending | None = None,
        settled: int | None = None,
    ) -> Priced:
        """Return the costs of a line through ``slots``.

        ``centres`` (slots,) is the middle of the register and ``curves`` (slots,) the wanted
        tension (0 to 4); ``before`` the note that sounded before the first slot; ``ends`` how the
        reply should stop; up to the tick ``settled`` no note may pass: a chord has just arrived.
        """
        grounds = [ground_of(place, self.tables, blues=self.request.blues) for place in where]
        passes = [self._may_pass(i, slots, where) for i in range(len(slots))]
        if settled is not None:
            passes = [p and s.tick > settled for p, s in zip(passes, slots, strict=True)]
        free, approach, enclosing, resolving = [], [], [], []
        for i, (slot, ground) in enumerate(zip(slots, grounds, strict=True)):
            on_beat = slot.tick % self.beat_ticks == 0
            how = _ENDS[ends] if ground.last else ""
            row = standing_row(ground, self.taste, curves[i], how, on_beat=on_beat)
            passing = ringing = CLOSED
            if passes[i]:
                passing = passing_row(ground, self.taste, on_beat=on_beat)
                if i + 2 < len(slots) and not ground.lands and passes[i + 1]:
                    ringing = self._ringing(i, slots, grounds)
            if slot.wanted_class is not None:
                row, passing, ringing = (
                    _only(r, slot.wanted_class) for r in (row, passing, ringing)
                )
            if self.request.alternatives:
                row = row + self._doubt(slot.beat)
            free.append(row)
            approach.append(passing)
            enclosing.append(ringing)
            leans = i > 0 and grounds[i - 1].lands and passes[i - 1]
            resolving.append(resolving_row(ground.now, leans=leans))
        register = self._register(slots, centres)
        fresh = _fresh(slots, before)
        costs = Costs(
            np.array(free).take(self.classes, axis=1) + register,
            np.array(approach).take(self.classes, axis=2) + register[:, None, :],
            np.array(enclosing).take(self.classes, axis=2) + register[:, None, :],
            self._intervals(slots),
            np.array(resolving).take(self.classes, axis=1),
            fresh,
        )
        return Priced(costs, self._steps(slots, where, before))

    # --- one slot ------------------------------------------------------------------------

    def free_mask(self, place: Place) -> Bools:
        """Return which pitch classes (12,) may stand by themselves in a slot."""
        return open_classes(ground_of(place, self.tables, blues=self.request.blues))

    def _doubt(self, beat: float) -> Ints:
        """Return the cost (12,) of what would be weak if another chord came than foreseen."""
        cost = np.zeros(12)
        for likely, changes in self.request.alternatives:
            other = self.tables.of(sounding(changes, beat))
            cost += np.where(other.strong, 0.0, _DOUBT * likely)
        rounded: Ints = np.rint(cost).astype(np.int64)
        return rounded

    def _ringing(self, index: int, slots: Sequence[Slot], grounds: Sequence[Ground]) -> Ints:
        target = slots[index + 2]
        if grounds[index + 1].lands or target.tick - slots[index].tick > 2 * TICKS:
            return CLOSED
        good = grounds[index + 2].lands or target.tick % self.beat_ticks == 0
        return ringing_row(grounds[index], self.taste, good=good)

    def _may_pass(self, index: int, slots: Sequence[Slot], where: Sequence[Place]) -> bool:
        slot, place = slots[index], where[index]
        if place.last or place.under or place.crosses or slot.ticks > self.longest_approach:
            return False
        if self.style.material not in ("everything", "approaches"):
            return False
        if place.owed or place.outside or (index and where[index - 1].outside):
            return False
        gap = slots[index + 1].tick - slot.tick
        if gap > TICKS + TICKS // 2 or where[index + 1].outside:
            return False
        if place.lands:
            return place.on_change and gap <= to_ticks(self.request.pulse_beats)
        return True

    # --- the whole line ------------------------------------------------------------------

    def _register(self, slots: Sequence[Slot], centres: NDArray[np.float64]) -> Ints:
        distance = np.maximum(0.0, np.abs(self.pitches - centres[:, None]) - _NEAR)
        cost: Ints = np.minimum(3.0 * distance, 60.0).astype(np.int64) + self.edges
        for number, slot in enumerate(slots):
            if slot.wanted_pitch is not None:
                off = np.abs(self.pitches - slot.wanted_pitch)
                far = _FIRM_PITCH * np.minimum(off, 4) + _NEXT_PITCH * np.maximum(off - 4, 0)
                far = far * max(slot.firm, FIRM) // FIRM
                cost[number] += np.where(slot.tonal & (off == 1), _NEXT_PITCH, far)
        return cost

    def _intervals(self, slots: Sequence[Slot]) -> Ints:
        usual = _style_intervals(self.taste)
        cost = np.repeat(usual[None, :], len(slots), axis=0)
        for number, slot in enumerate(slots):
            if not slot.place:
                continue
            if slot.wanted is not None and slot.firm:
                cost[number] = _bent(slot.wanted, slot.firm, slot.tonal)
            if slot.direction:
                cost[number] += np.where(slot.direction == _SIGNS, 0, _OTHER_WAY)
        return cost

    def _steps(
        self, slots: Sequence[Slot], where: Sequence[Place], before: Slot | None
    ) -> list[Floats]:
        idiom, weight = self.request.idiom, self.style.idiom.weight
        bar = to_ticks(self.request.bars.bar_beats)
        found = []
        earlier = before
        for slot, place in zip(slots, where, strict=True):
            gap = slot.tick - earlier.tick if earlier is not None else TICKS // 2
            earlier = slot
            inside = to_ticks(self.request.bars.at(slot.beat)[1])
            found.append(
                step_table(
                    idiom,
                    weight,
                    family_class(place.now.chord),
                    place_class(inside, bar, self.beat_ticks),
                    gap_class(gap),
                    (self.low - place.now.chord.root) % 12,
                )
            )
        return found


@lru_cache(maxsize=16)
def weighed_steps(idiom: Idiom, weight: float) -> Floats:
    """Return the weight (5, 4, 4, 11, 12, 25) of each step, by family, place and gap, class of the
    interval before, degree and interval. Class 10 is the mean over the others.

    ``weight`` is how much the idiom counts: at 0 only what holds for every idiom does.
    """
    own, plain = _logarithms(idiom), _logarithms(plain_idiom())
    shares = np.exp2(plain + weight * (own - plain))
    shares *= _onward()[:, None, :]
    return np.concatenate((shares, shares.mean(axis=3, keepdims=True)), axis=3)


@lru_cache(maxsize=8)
def _logarithms(idiom: Idiom) -> Floats:
    return np.log2(idiom.steps)


@lru_cache(maxsize=1024)
def step_table(idiom: Idiom, weight: float, family: int, place: int, gap: int, turn: int) -> Floats:
    """Return the weight (11, 12, 25) of each interval into a note over a chord, by the class of
    the pitch it leaves, counted from the lowest: ``turn`` is that one's degree (0 to 11)."""
    table = weighed_steps(idiom, weight)[family, place, gap]
    return np.concatenate((table[:, turn:], table[:, :turn]), axis=1)


@lru_cache(maxsize=1)
def _onward() -> Floats:
    """Return the factor (10, 25) by which steps and thirds are liked that go on as it went."""
    ways = np.array([0, -1, -1, -1, -1, 0, 1, 1, 1, 1])
    goes_on = (ways[:, None] == _SIGNS[None, :]) & (ways[:, None] != 0) & (_SIZES <= 4)
    return np.where(goes_on, _ONWARD, 1.0)


@lru_cache(maxsize=256)
def _style_intervals(taste: Taste) -> Ints:
    lines = taste.lines
    cost = np.zeros(len(INTERVALS))
    cost += np.where(_SIZES == 0, 60 * (USUAL.repeats - lines.repeats), 0)
    cost += np.where((_SIZES >= 1) & (_SIZES <= 2), 20 * (USUAL.scale - lines.scale), 0)
    cost += np.where((_SIZES >= 3) & (_SIZES <= 4), 30 * (USUAL.arpeggios - lines.arpeggios), 0)
    cost += np.where(_SIZES >= 5, 36 * (USUAL.leaps - lines.leaps), 0)
    rounded: Ints = np.rint(cost).astype(np.int64)
    return rounded


@lru_cache(maxsize=4096)
def _bent(wanted: int, firm: int, tonal: bool) -> Ints:
    """Return the cost (25,) of every interval where ``wanted`` is asked for."""
    wanted = max(-12, min(12, wanted))
    off = np.abs(np.array(INTERVALS) - wanted)
    if not tonal:
        exact: Ints = firm * np.minimum(off, 3) + (firm // 2) * (off > 0)
        return exact
    near = np.array([_like(m, wanted) for m in INTERVALS])
    bent: Ints = np.where(near, 4 * off, firm * np.minimum(off + 1, 4))
    return bent


def _like(one: int, other: int) -> bool:
    """Tell whether intervals are of one kind: both seconds, thirds and so on, up or down."""
    kinds = ((0,), (1, 2), (3, 4), (5, 6), (6, 7), (8, 9), (10, 11), (12,))
    alike = any(abs(one) in kind and abs(other) in kind for kind in kinds)
    return alike and one * other >= 0


def _only(row: Ints, wanted: int) -> Ints:
    """Return a row (.., 12) in which every pitch class but one is dear."""
    found = row + _OTHER_CLASS
    found[..., wanted] -= _OTHER_CLASS
    return found


def _fresh(slots: Sequence[Slot], before: Slot | None) -> Bools:
    """Tell before which slots there was a rest of two beats or more."""
    ends = [before.end if before is not None else slots[0].tick, *(s.end for s in slots[:-1])]
    return np.array([slot.tick - end >= _LINE_REST for slot, end in zip(slots, ends, strict=True)])


def curve_of(style: Style, slots: Sequence[Slot], lift: float = 0.0) -> list[int]:
    """Return the wanted tension (0..4) at each slot: low, high, low unless the style says else.

    ``lift`` (-1 to 1) raises or lowers the whole curve.
    """
    begin, end = slots[0].tick, max(slots[-1].tick, slots[0].tick + 1)
    found = []
    for slot in slots:
        t = (slot.tick - begin) / (end - begin)
        height = {"level": 0.5, "rising": t}.get(style.tension_curve, sin(pi * t))
        found.append(min(4, max(0, round(4.0 * height + 1.5 * lift - 0.5))))
    return found
