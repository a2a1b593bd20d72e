"""Lines drawn through slots and pitches.

A line is a path over slots (one per note) of pitches. What each step weighs is given; one backward
pass sums the weight of all that may still follow each note (sum-product, as in a forward-backward
algorithm: Rabiner 1989, Proceedings of the IEEE 77(2)), and a line is then drawn note by note, each
step in proportion to its own weight times that of its futures. What is forbidden weighs nothing, so
that no drawn line can hold it. Four kinds of state carry the rule of the approach note:

- *free*: the note stands by itself (strong, anticipating or blue); it remembers by which class of
  interval it was reached;
- *approach*: the note must move by its own offset (-2, -1, 1 or 2 semitones) to a free note next;
- *enclosing*: the note has a target a step away that comes after one more note: an approach note
  to the same target, or a free note from which the line turns back;
- *turning back*: the free note between an enclosing note and its target.

Weights are floats made from integer costs (twelve to a doubling), and every sum runs in one order:
one request gives one line on one machine.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from jam.idiom.classes import INTERVALS, interval_class

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

FORBIDDEN = 1 << 20
PER_DOUBLING = 12
"""A cost of so much halves a weight."""

WIDEST = 12
"""The widest interval of a line, in semitones."""

OFFSETS = (-2, -1, 1, 2)
"""How an approach note may resolve, in semitones."""

TURNS = (-4, -3, -2, -1, 1, 2, 3, 4)
"""How far from its target, in semitones, a line may turn back to it."""

CLASSES = 10
_WAYS = len(INTERVALS)
_CLASS_OF = np.array([interval_class(m) for m in INTERVALS])
_ANY = CLASSES
"""The row of a step table for a note whose own interval is not remembered."""

# Where an enclosing note may go: rows of the stacked approach (0..3) and turning (4..11) states,
# with the interval that leads there, for each of the four offsets.
_ROUTES = tuple(
    tuple(
        (row, offset - left)
        for row, left in enumerate((*OFFSETS, *TURNS))
        if offset != left and not (row >= len(OFFSETS) and abs(offset - left) > 5)
    )
    for offset in OFFSETS
)
_ROWS = len(OFFSETS) + len(TURNS)
_MOST_ROUTES = max(len(routes) for routes in _ROUTES)
_SPARE = ((_ROWS, 0),) * _MOST_ROUTES
_ROUTE_ROWS = np.array([[row for row, _ in (*rs, *_SPARE)[:_MOST_ROUTES]] for rs in _ROUTES])
_ROUTE_STEPS = np.array([[step for _, step in (*rs, *_SPARE)[:_MOST_ROUTES]] for rs in _ROUTES])
_ROUTE_WAYS = _ROUTE_STEPS + WIDEST
_OFFSET_ROWS = slice(TURNS.index(OFFSETS[0]), TURNS.index(OFFSETS[-1]) + 1)

_CHEAPEST = 1 << 9
_WEIGHTS = np.append(np.exp2(np.arange(-_CHEAPEST, 1 << 12) / -float(PER_DOUBLING)), 0.0)
"""The weight of each cost; from so much on (over three hundred halvings) nothing is left."""

_SCALED_EVERY = 4
"""Sums are brought back to one every so many slots, long before they are too small for a float."""


@dataclass(frozen=True)
class Costs:
    """Costs of every slot, in twelfths of a doubling; ``FORBIDDEN`` or more forbids.

    ``free`` (slots, pitches); ``approach`` and ``enclosing`` (slots, 4, pitches) in the order of
    `OFFSETS`; ``interval`` (slots, 25) by the interval into the slot, -12 to 12; ``resolving``
    (slots, pitches) is added where an approach resolves into the slot. ``fresh`` (slots,) tells
    after which rest a line begins anew.
    """

    free: Ints
    approach: Ints
    enclosing: Ints
    interval: Ints
    resolving: Ints
    fresh: NDArray[np.bool_]


@dataclass(frozen=True)
class Start:
    """Where a tail begins: ``index`` of the pitch before it, the class of the interval that led
    there and, if that note still waits for its step, the indices ``allowed`` next."""

    index: int
    interval_class: int = 0
    allowed: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Point:
    """One note of a line: index of its pitch, kind of its state, offset of its target (or 0)."""

    index: int
    kind: str
    offset: int = 0


def weights(costs: Ints) -> Floats:
    """Return the weight of each cost; what is forbidden weighs nothing."""
    found: Floats = _WEIGHTS.take(costs + _CHEAPEST, mode="clip")
    return found


class Futures:
    """The weight of all that may still follow each note of each slot, and lines drawn from it."""

    def __init__(self, steps: Sequence[Floats], costs: Costs, start: Start | None = None) -> None:
        """``steps[t]`` (11, 12, 25) weighs the intervals into slot ``t`` after each class of
        interval, by the pitch they leave (its index, less whole octaves); the last row is for a
        note whose class is not known. ``steps[0]`` is used with a ``start`` only."""
        self._steps = steps
        self._start = start
        count, self._size = costs.free.shape
        self._free = weights(costs.free)
        self._approach = weights(costs.approach)
        self._enclosing = weights(costs.enclosing)
        self._interval = weights(costs.interval)
        self._fresh: list[bool] = costs.fresh.tolist()
        self._passes = [bool(slot.any()) for slot in self._approach]
        self._encloses = [bool(slot.any()) for slot in self._enclosing]
        if start is not None and start.allowed:
            self._only(start.allowed)
        self._grid = _grid(self._size)
        self._alone, self._homeward = self._unremembered(weights(costs.resolving))
        self._entered = np.zeros((count, CLASSES, self._size + 2 * WIDEST))
        self._slots = [_last(self._size)]
        for number in range(count - 1, 0, -1):
            self._slots.append(self._before(number, self._slots[-1]))
        if start is not None:
            self._slots.append(self._before(0, self._slots[-1]))
        self._slots.reverse()

    def _only(self, allowed: tuple[int, ...]) -> None:
        closed = np.ones(self._size, dtype=bool)
        closed[list(allowed)] = False
        self._free[0, closed] = 0.0
        self._approach[0] = 0.0
        self._enclosing[0] = 0.0

    def _unremembered(self, resolving: Floats) -> tuple[Floats, Floats]:
        """Return the weight (slots, 25, pitches) of each interval after a note whose own class is
        not remembered, and (slots, 8, pitches) of going home to a free note by each of `TURNS`."""
        grid = self._grid
        rows = np.array([step[_ANY].T for step in self._steps])
        alone = rows.take(grid.classes, axis=2)
        alone *= self._interval[:, :, None]
        padded = np.zeros((len(rows), self._size + 2 * WIDEST))
        padded[:, WIDEST:-WIDEST] = resolving
        return alone, alone[:, _NEAR] * padded.take(grid.fresh_near, axis=1)

    def _before(self, number: int, after: _Slot) -> _Slot:
        """Return the futures of the notes before slot ``number``, whose own are ``after``."""
        grid, fresh = self._grid, self._fresh[number]
        entered = self._entered[number]
        inside = entered[:, WIDEST:-WIDEST]
        stand = after.free * self._free[number]
        inside[:] = stand
        hold: Floats = grid.none
        ring = approach = turning = enclosing = hold
        routes = None
        if self._passes[number]:
            hold = self._approach[number] * after.approach
        passes = number > 0 and self._passes[number - 1]
        encloses = number > 0 and self._encloses[number - 1]
        if passes or encloses or (number > 1 and self._encloses[number - 2]):
            turning = entered.take(grid.fresh_near if fresh else grid.near)
            turning *= self._homeward[number]
            approach = turning[_OFFSET_ROWS]
            if encloses:
                routes = self._routes(number, after, hold)
                enclosing = np.add.reduce(routes, axis=1)
        if self._passes[number]:
            inside += np.add.reduce(hold, axis=0)
        if self._encloses[number]:
            ring = self._enclosing[number] * after.enclosing
            inside += np.add.reduce(ring, axis=0)
        ahead = entered.take(grid.fresh if fresh else grid.classed)
        ahead *= self._interval[number]
        by_class = ahead.reshape(-1, 12, _WAYS).transpose(1, 0, 2)
        summed = by_class @ self._steps[number][:CLASSES].transpose(1, 2, 0)
        free = summed.transpose(2, 1, 0).reshape(CLASSES, -1)[:, : self._size]
        if number % _SCALED_EVERY == 0:
            scale = 1.0 / max(float(free.max()), 1e-300)
            free, approach, enclosing, turning = (
                rows * scale for rows in (free, approach, enclosing, turning)
            )
        return _Slot(free, approach, enclosing, turning, ahead, stand, hold, ring, routes)

    def _routes(self, number: int, after: _Slot, hold: Floats) -> Floats:
        """Return the weight (4, routes, pitches) of each way on from an enclosing note."""
        rows = np.zeros((_ROWS + 1, self._size + 2 * WIDEST))
        rows[: len(OFFSETS), WIDEST:-WIDEST] = hold
        np.multiply(
            self._free[number], after.turning, out=rows[len(OFFSETS) : _ROWS, WIDEST:-WIDEST]
        )
        found = rows.take(self._grid.routes)
        found *= self._alone[number].take(_ROUTE_WAYS, axis=0)
        return found

    @property
    def feasible(self) -> bool:
        """Tell whether there is any line at all."""
        return bool(self._opening().sum() > 0.0)

    def _opening(self) -> Floats:
        first = self._slots[0]
        if self._start is not None:
            return first.free[self._start.interval_class, self._start.index : self._start.index + 1]
        return np.concatenate(
            (
                first.free[0] * self._free[0],
                (self._approach[0] * first.approach).ravel(),
                (self._enclosing[0] * first.enclosing).ravel(),
            )
        )

    def draw(self, rng: np.random.Generator) -> list[Point]:
        """Return one line; call it only where it is `feasible`."""
        dice = iter(rng.random(3 * len(self._slots) + 3).tolist())
        points: list[Point] = []
        if self._start is not None:
            state = _State("free", self._start.index, self._start.interval_class)
        else:
            state = self._first(next(dice))
            points.append(state.point)
        for number in range(len(self._slots) - 1):
            state = self._next(number, state, next(dice), next(dice))
            points.append(state.point)
        return points

    def _first(self, die: float) -> _State:
        choice = _pick(self._opening(), die)
        kind, index = divmod(choice, self._size)
        if kind == 0:
            return _State("free", index, 0)
        if kind <= 4:
            return _State("approach", index, 0, OFFSETS[kind - 1])
        return _State("enclosing", index, 0, OFFSETS[kind - 5])

    def _next(self, number: int, state: _State, die: float, second: float) -> _State:
        slot = self._slots[number]
        into = number + 1 if self._start is None else number
        if state.kind in ("approach", "turning"):
            return self._reached(into, state.index + state.offset, state.offset)
        if state.kind == "enclosing":
            return self._on_from(slot, into, state, die)
        ways = self._steps[into][state.interval_class, state.index % 12] * slot.ahead[state.index]
        interval = _pick(ways, die) - WIDEST
        index = state.index + interval
        landed = self._reached(into, index, interval)
        if not (self._passes[into] or self._encloses[into]):
            return landed
        kind = _pick_few(
            [
                float(slot.stand[landed.interval_class, index]),
                *slot.hold[:, index].tolist(),
                *slot.ring[:, index].tolist(),
            ],
            second,
        )
        if kind == 0:
            return landed
        name = "approach" if kind <= 4 else "enclosing"
        return _State(name, index, landed.interval_class, OFFSETS[(kind - 1) % 4])

    def _reached(self, into: int, index: int, interval: int) -> _State:
        reached = 0 if self._fresh[into] else interval_class(interval)
        return _State("free", index, reached)

    def _on_from(self, slot: _Slot, into: int, state: _State, die: float) -> _State:
        which = OFFSETS.index(state.offset)
        assert slot.routes is not None
        route = _pick(slot.routes[which, :, state.index], die)
        row, step = _ROUTES[which][route]
        index = state.index + step
        reached = self._reached(into, index, step).interval_class
        if row < len(OFFSETS):
            return _State("approach", index, reached, OFFSETS[row])
        return _State("turning", index, reached, TURNS[row - len(OFFSETS)])


class _Slot(NamedTuple):
    """Futures of the notes of one slot, and what its steps into the next slot weigh."""

    free: Floats
    approach: Floats
    enclosing: Floats
    turning: Floats
    ahead: Floats
    stand: Floats
    hold: Floats
    ring: Floats
    routes: Floats | None


def _last(size: int) -> _Slot:
    """Return the futures of a last note: it must stand by itself."""
    none = np.zeros((len(OFFSETS), size))
    turning = np.zeros((len(TURNS), size))
    return _Slot(np.ones((CLASSES, size)), none, none, turning, none, none, none, none, None)


@dataclass(slots=True)
class _State:
    kind: str
    index: int
    interval_class: int
    offset: int = 0

    @property
    def point(self) -> Point:
        free = self.kind in ("free", "turning")
        return Point(self.index, "free" if free else self.kind, 0 if free else self.offset)


@dataclass(frozen=True)
class _Grid:
    """Flat indices into padded tables: which entry each pitch reaches by each interval."""

    classed: Ints
    fresh: Ints
    routes: Ints
    near: Ints
    fresh_near: Ints
    classes: Ints
    none: Floats


_NEAR = np.array([turn + WIDEST for turn in TURNS])


@lru_cache(maxsize=64)
def _grid(size: int) -> _Grid:
    width = size + 2 * WIDEST
    plain = np.arange(size)[:, None] + np.arange(_WAYS)
    routes = _ROUTE_ROWS[:, :, None] * width + (_ROUTE_STEPS[:, :, None] + np.arange(size) + WIDEST)
    classed = _CLASS_OF * width + plain
    whole = ((0, -size % 12), (0, 0))  # up to whole octaves: entry 0 is empty
    return _Grid(
        np.pad(classed, whole), np.pad(plain, whole), routes, classed[:, _NEAR].T.copy(),
        plain[:, _NEAR].T.copy(), np.arange(size) % 12, np.zeros((len(OFFSETS), size)),
    )  # fmt: skip


def _pick(ways: Floats, die: float) -> int:
    """Return an index in proportion to its weight; ``die`` is in [0, 1)."""
    sums = ways.cumsum()
    return min(int(sums.searchsorted(die * sums[-1], side="right")), len(ways) - 1)


def _pick_few(ways: list[float], die: float) -> int:
    """Return an index in proportion to its weight, for short lists."""
    left = die * sum(ways)
    for index, way in enumerate(ways):
        left -= way
        if left < 0.0:
            return index
    return max(range(len(ways)), key=ways.__getitem__)
