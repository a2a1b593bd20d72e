"""The cheapest line through slots and pitches.

A line is a path over columns (one per note) of pitches. Three kinds of state carry the rules of
the approach note, so that no path can break them:

- *free*: the note stands by itself (strong, anticipating or blue); it remembers in which direction
  the line moved into it;
- *approach*: the note must move by its own offset (-2, -1, 1 or 2 semitones) to a free note next;
- *enclosing*: the note stands on one side of a target; next comes an approach note to the same
  target from its other side.

Costs are integers and sums are min-plus, so that one request gives one line everywhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]

FORBIDDEN = 1 << 40
WIDEST = 12
"""The widest interval of a line, in semitones."""

OFFSETS = (-2, -1, 1, 2)
"""How an approach note may resolve, in semitones."""

DIRECTIONS = ("repeat", "step up", "step down", "third up", "third down", "leap up", "leap down")
_N = len(DIRECTIONS)
_M = 2 * WIDEST + 1
# Arriving intervals are kept from the widest rise to the widest fall; these are the runs of one
# direction in that order, and the index in DIRECTIONS of each run.
_RUN_STARTS = np.array([0, 8, 10, 12, 13, 15, 17])
_RUN_DIRECTIONS = (5, 3, 1, 0, 2, 4, 6)
_TO_DIRECTION = np.argsort(_RUN_DIRECTIONS)
_CODE_BITS = 8
_CODE_MASK = (1 << _CODE_BITS) - 1
_CODES = (np.arange(_N)[:, None, None] * _M + np.arange(_M)[None, None, :]).astype(np.int64)
_FROM_APPROACH = 200
_FROM_ENCLOSING = 210
_PAIRS = tuple(
    (e, a)
    for e, first in enumerate(OFFSETS)
    for a, second in enumerate(OFFSETS)
    if (first < 0) != (second < 0)
)


def direction_of(interval: int) -> int:
    """Return the index in `DIRECTIONS` of an interval in semitones."""
    size = abs(interval)
    if size == 0:
        return 0
    kind = 1 if size <= 2 else 3 if size <= 4 else 5
    return kind if interval > 0 else kind + 1


@dataclass(frozen=True)
class Column:
    """Costs of one slot; ``FORBIDDEN`` or more forbids.

    ``free`` (pitches,), ``approach`` and ``enclosing`` (4, pitches) in the order of `OFFSETS`,
    ``arrival`` (25,) by the interval into this slot, from +12 down to -12. ``resolving``
    (pitches,) is added where an approach note resolves into this slot.
    """

    free: Ints
    approach: Ints
    enclosing: Ints
    arrival: Ints
    resolving: Ints


@dataclass(frozen=True)
class Start:
    """Where a tail begins: ``index`` of the pitch before it and, if that note still waits for its
    step, the indices ``allowed`` for the first note of the tail."""

    index: int
    allowed: tuple[int, ...] = ()


@dataclass(frozen=True)
class Point:
    """One note of the line: index of its pitch, kind of its state, offset it waits for (or 0)."""

    index: int
    kind: str
    offset: int = 0


def cheapest_line(
    columns: Sequence[Column], taste: Ints, start: Start | None = None
) -> tuple[int, list[Point]] | None:
    """Return the cost and the points of the cheapest line, or None when there is none.

    ``taste`` (7, 25) is the cost of an interval (from +12 down to -12) after each direction.
    """
    if not columns:
        return 0, []
    size = len(columns[0].free)
    free = np.full((_N, size), FORBIDDEN, dtype=np.int64)
    approach = np.full((4, size), FORBIDDEN, dtype=np.int64)
    enclosing = np.full((4, size), FORBIDDEN, dtype=np.int64)
    backs: list[tuple[Ints, Ints, Ints]] = []
    first = columns[0]
    if start is None:
        free[0] = first.free
        approach[:] = first.approach
        enclosing[:] = first.enclosing
        empty = np.zeros(0, dtype=np.int64)
        backs.append((empty, empty, empty))
        rest = columns[1:]
    else:
        free[0, start.index] = 0
        rest = columns
    for number, column in enumerate(rest):
        if start is not None and number == 0 and start.allowed:
            column = _only(column, start.allowed)
        free, approach, enclosing, back = _advance(free, approach, enclosing, column, taste)
        backs.append(back)
    best = int(free.argmin())
    direction, index = divmod(best, size)
    cost = int(free[direction, index])
    if cost >= FORBIDDEN // 2:  # costs may be negative, a forbidden entry stays far above any sum
        return None
    return cost, _trace(backs, direction, index, has_start=start is not None)


def _only(column: Column, allowed: tuple[int, ...]) -> Column:
    free = np.full_like(column.free, FORBIDDEN)
    keep = list(allowed)
    free[keep] = column.free[keep]
    closed = np.full_like(column.approach, FORBIDDEN)
    return Column(free, closed, closed, column.arrival, column.resolving)


def _advance(
    free: Ints, approach: Ints, enclosing: Ints, column: Column, taste: Ints
) -> tuple[Ints, Ints, Ints, tuple[Ints, Ints, Ints]]:
    size = free.shape[1]
    padded = np.full((_N, size + 2 * WIDEST), FORBIDDEN, dtype=np.int64)
    padded[:, WIDEST : WIDEST + size] = free
    # before[k, q, m]: the note before q that lies m - 12 above it, so that q is reached by 12 - m
    before = padded[:, np.arange(size)[:, None] + np.arange(_M)]
    keys = ((before + (taste + column.arrival)[:, None, :]) << _CODE_BITS) | _CODES
    by_interval = keys.min(axis=0)
    by_run = np.minimum.reduceat(by_interval, _RUN_STARTS, axis=1)
    moved = by_run[:, _TO_DIRECTION].T.copy()
    if approach.min() < FORBIDDEN:
        _resolve(moved, approach, column)
    anyway = by_interval.min(axis=1)
    new_free = np.minimum((moved >> _CODE_BITS) + column.free, FORBIDDEN)
    reached = anyway >> _CODE_BITS
    new_approach = np.minimum(reached + column.approach, FORBIDDEN)
    back_approach = np.repeat((anyway & _CODE_MASK)[None, :], 4, axis=0)
    if enclosing.min() < FORBIDDEN and column.approach.min() < FORBIDDEN:
        _close_in(new_approach, back_approach, enclosing, column)
    new_enclosing = np.minimum(reached + column.enclosing, FORBIDDEN)
    return (
        new_free,
        new_approach,
        new_enclosing,
        (moved & _CODE_MASK, back_approach, anyway & _CODE_MASK),
    )


def _resolve(moved: Ints, approach: Ints, column: Column) -> None:
    """Let every approach note take its step into a free note."""
    for number, offset in enumerate(OFFSETS):
        direction = 1 if offset > 0 else 2
        into = slice(offset, None) if offset > 0 else slice(None, offset)
        out_of = slice(None, -offset) if offset > 0 else slice(-offset, None)
        cost = approach[number, out_of] + column.arrival[WIDEST - offset] + column.resolving[into]
        keys = (cost << _CODE_BITS) | (_FROM_APPROACH + number)
        np.minimum(moved[direction, into], keys, out=moved[direction, into])


def _close_in(new: Ints, back: Ints, enclosing: Ints, column: Column) -> None:
    """Let every enclosing note go on to the other side of its target."""
    size = new.shape[1]
    for first, second in _PAIRS:
        shift = OFFSETS[first] - OFFSETS[second]
        lower, upper = max(0, shift), min(size, size + shift)
        cost = (
            enclosing[first, lower - shift : upper - shift]
            + column.arrival[WIDEST - shift]
            + column.approach[second, lower:upper] // 2
        )
        better = cost < new[second, lower:upper]
        new[second, lower:upper][better] = cost[better]
        back[second, lower:upper][better] = _FROM_ENCLOSING + first


def _trace(
    backs: Sequence[tuple[Ints, Ints, Ints]], direction: int, index: int, *, has_start: bool
) -> list[Point]:
    points: list[Point] = []
    kind, which = "free", direction
    for number in range(len(backs) - 1, -1, -1):
        offset = 0 if kind == "free" else OFFSETS[which]
        points.append(Point(index, kind, offset))
        if number == 0 and not has_start:
            break
        free, approach, enclosing = backs[number]
        if kind == "free":
            code = int(free[which, index])
        elif kind == "approach":
            code = int(approach[which, index])
        else:
            code = int(enclosing[index])
        if code >= _FROM_ENCLOSING:
            before = code - _FROM_ENCLOSING
            index -= OFFSETS[before] - OFFSETS[which]
            kind, which = "enclosing", before
        elif code >= _FROM_APPROACH:
            which = code - _FROM_APPROACH
            index -= OFFSETS[which]
            kind = "approach"
        else:
            which, m = divmod(code, _M)
            index += m - WIDEST
            kind = "free"
    points.reverse()
    return points
