"""The cheapest line: as cheap as an exhaustive search finds, and never against the rules of the
approach note."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from jam.players.soloist.lattice import (
    DIRECTIONS,
    FORBIDDEN,
    OFFSETS,
    WIDEST,
    Column,
    Point,
    Start,
    cheapest_line,
    direction_of,
)

Ints = np.ndarray


def sparse(rng: np.random.Generator, shape: tuple[int, ...], open_share: float) -> Ints:
    """Return random costs, all but ``open_share`` of them forbidden."""
    costs = rng.integers(0, 100, shape)
    return np.where(rng.random(shape) < open_share, costs, FORBIDDEN).astype(np.int64)


def random_columns(rng: np.random.Generator, slots: int, pitches: int) -> list[Column]:
    """Return columns with few ways through, so that every line can be counted out."""
    return [
        Column(
            sparse(rng, (pitches,), 0.4),
            sparse(rng, (4, pitches), 0.2),
            sparse(rng, (4, pitches), 0.25),
            rng.integers(0, 60, 2 * WIDEST + 1).astype(np.int64),
            sparse(rng, (pitches,), 0.8),
        )
        for _ in range(slots)
    ]


def random_taste(rng: np.random.Generator) -> Ints:
    """Return a random cost for every interval after every direction (negative ones too)."""
    return rng.integers(-20, 60, (len(DIRECTIONS), 2 * WIDEST + 1)).astype(np.int64)


def own_costs(column: Column) -> Iterator[tuple[Point, int]]:
    """Yield every note that may stand in a column by itself, with its cost."""
    for index, cost in enumerate(column.free):
        if cost < FORBIDDEN:
            yield Point(index, "free"), int(cost)
    for kind, table in (("approach", column.approach), ("enclosing", column.enclosing)):
        for number, offset in enumerate(OFFSETS):
            for index, cost in enumerate(table[number]):
                if cost < FORBIDDEN:
                    yield Point(index, kind, offset), int(cost)


def step_cost(
    before: Point, direction: int, point: Point, own: int, column: Column, taste: Ints
) -> int | None:
    """Return what it costs to go from ``before`` (moved into by ``direction``) to ``point``, or
    None where the rules forbid it."""
    interval = point.index - before.index
    if abs(interval) > WIDEST:
        return None
    arrival = int(column.arrival[WIDEST - interval])
    if before.kind == "free":
        return own + arrival + int(taste[direction, WIDEST - interval])
    target = before.index + before.offset
    if before.kind == "approach":
        if point.kind != "free" or point.index != target:
            return None
        resolving = int(column.resolving[target])
        return own + arrival + resolving if resolving < FORBIDDEN else None
    other_side = before.offset * point.offset < 0
    closes = point.kind == "approach" and point.index + point.offset == target and other_side
    return own // 2 + arrival if closes else None


def exhaustive(columns: Sequence[Column], taste: Ints, start: Start | None) -> int | None:
    """Return the cost of the cheapest line by trying every one."""
    rows = [list(own_costs(column)) for column in columns]
    best: int | None = None

    def go_on(number: int, before: Point, direction: int, cost: int) -> None:
        nonlocal best
        if number == len(columns):
            if before.kind == "free" and (best is None or cost < best):
                best = cost
            return
        for point, own in rows[number]:
            first = number == 0 and start is not None and start.allowed
            if first and (point.kind != "free" or point.index not in start.allowed):
                continue
            more = step_cost(before, direction, point, own, columns[number], taste)
            if more is not None:
                moved = direction_of(point.index - before.index)
                go_on(number + 1, point, moved, cost + more)

    if start is not None:
        go_on(0, Point(start.index, "free"), 0, 0)
    else:
        for point, own in rows[0]:
            go_on(1, point, 0, own)
    return best


def cost_of(columns: Sequence[Column], taste: Ints, start: Start | None, line: list[Point]) -> int:
    """Return the cost of a line, note by note; fail where it breaks a rule."""
    priced = [dict(own_costs(column)) for column in columns]
    cost, direction = 0, 0
    before = Point(start.index, "free") if start is not None else None
    for number, point in enumerate(line):
        own = priced[number][point]
        if before is None:
            cost += own
        else:
            more = step_cost(before, direction, point, own, columns[number], taste)
            assert more is not None, f"{before} may not go to {point}"
            cost += more
            direction = direction_of(point.index - before.index)
        before = point
    return cost


@pytest.mark.parametrize("seed", range(60))
def test_as_cheap_as_an_exhaustive_search(seed):
    """On small problems no line is cheaper, and the line returned costs what is said."""
    rng = np.random.default_rng(seed)
    slots, pitches = int(rng.integers(4, 7)), int(rng.integers(6, 10))
    columns, taste = random_columns(rng, slots, pitches), random_taste(rng)
    found = cheapest_line(columns, taste)
    best = exhaustive(columns, taste, None)
    assert (found is None) == (best is None)
    if found is not None:
        cost, line = found
        assert cost == best == cost_of(columns, taste, None, line)


@pytest.mark.parametrize("seed", range(30))
def test_as_cheap_as_an_exhaustive_search_from_a_start(seed):
    """The same with a note before the line, and with the first notes it may step to."""
    rng = np.random.default_rng((seed, 1))
    slots, pitches = int(rng.integers(3, 6)), int(rng.integers(6, 10))
    columns, taste = random_columns(rng, slots, pitches), random_taste(rng)
    allowed = tuple(sorted(int(p) for p in rng.choice(pitches, 3, replace=False)))
    for start in (Start(int(rng.integers(pitches))), Start(int(rng.integers(pitches)), allowed)):
        found = cheapest_line(columns, taste, start)
        best = exhaustive(columns, taste, start)
        assert (found is None) == (best is None)
        if found is not None:
            cost, line = found
            assert cost == best == cost_of(columns, taste, start, line)
            assert not start.allowed or line[0].index in start.allowed


def test_most_small_problems_have_a_line_with_approaches():
    """The comparison is no empty one: lines are found, and approach and enclosing notes in them."""
    kinds: list[str] = []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        columns = random_columns(rng, int(rng.integers(4, 7)), int(rng.integers(6, 10)))
        found = cheapest_line(columns, random_taste(rng))
        kinds += [point.kind for point in found[1]] if found is not None else ["none"]
    assert kinds.count("none") < 20
    assert kinds.count("approach") > 10
    assert kinds.count("enclosing") > 2


@pytest.mark.parametrize("seed", range(20))
def test_every_approach_takes_its_step_on_a_large_grid(seed):
    """Over 24 slots and 30 pitches each approach note steps by its offset into a free note, each
    enclosing note is followed by one from the other side, and the line ends free."""
    rng = np.random.default_rng((seed, 2))
    columns, taste = random_columns(rng, 24, 30), random_taste(rng)
    found = cheapest_line(columns, taste)
    assert found is not None
    cost, line = found
    assert cost == cost_of(columns, taste, None, line)
    assert line[-1].kind == "free"
    for point, following in pairwise(line):
        target = point.index + point.offset
        if point.kind == "approach":
            assert following == Point(target, "free")
        if point.kind == "enclosing":
            assert following.kind == "approach"
            assert following.index + following.offset == target
            assert (following.index - target) * (point.index - target) < 0


def only_free(pitches: int, *open_pitches: int) -> Column:
    """Return a column where only ``open_pitches`` may sound, all at no cost."""
    free = np.full(pitches, FORBIDDEN, dtype=np.int64)
    free[list(open_pitches)] = 0
    closed = np.full((4, pitches), FORBIDDEN, dtype=np.int64)
    nothing = np.zeros(pitches, dtype=np.int64)
    return Column(free, closed, closed, np.zeros(2 * WIDEST + 1, dtype=np.int64), nothing)


NO_TASTE = np.zeros((len(DIRECTIONS), 2 * WIDEST + 1), dtype=np.int64)


def test_no_line_where_a_slot_is_closed():
    """One slot without any pitch, first, middle or last, leaves no line at all."""
    for closed in range(3):
        columns = [only_free(12, 3, 4) for _ in range(3)]
        columns[closed] = only_free(12)
        assert cheapest_line(columns, NO_TASTE) is None
        assert cheapest_line(columns, NO_TASTE, Start(3)) is None


def test_no_line_over_a_leap_wider_than_an_octave():
    """An octave may be leapt, a minor ninth not."""
    assert cheapest_line([only_free(30, 2), only_free(30, 14)], NO_TASTE) is not None
    assert cheapest_line([only_free(30, 2), only_free(30, 15)], NO_TASTE) is None


def test_an_approach_may_not_end_a_line_nor_miss_its_target():
    """A lone approach note is no line, and one whose target is closed is none either."""
    approach = np.full((4, 12), FORBIDDEN, dtype=np.int64)
    approach[OFFSETS.index(1), 4] = 0
    waiting = replace(only_free(12), approach=approach)
    assert cheapest_line([waiting], NO_TASTE) is None
    assert cheapest_line([waiting, only_free(12, 3, 6)], NO_TASTE) is None
    found = cheapest_line([waiting, only_free(12, 3, 5)], NO_TASTE)
    assert found == (0, [Point(4, "approach", 1), Point(5, "free")])


def test_an_approach_resolves_only_where_it_may():
    """A note that may stand by itself, but is no strong degree (a blue note), is no target."""
    approach = np.full((4, 12), FORBIDDEN, dtype=np.int64)
    approach[OFFSETS.index(1), 4] = 0
    waiting = replace(only_free(12), approach=approach)
    blue = np.where(np.arange(12) == 5, FORBIDDEN, 0).astype(np.int64)
    assert cheapest_line([waiting, replace(only_free(12, 5), resolving=blue)], NO_TASTE) is None
    assert cheapest_line([only_free(12, 4), replace(only_free(12, 5), resolving=blue)], NO_TASTE)


def test_negative_costs_open_no_closed_way():
    """Taste may be negative; it never buys a way through a closed slot."""
    liked = NO_TASTE - 50
    columns = [only_free(12, 3), only_free(12), only_free(12, 4), only_free(12, 5)]
    assert cheapest_line(columns, liked) is None
    assert cheapest_line(columns, liked, Start(3, (3,))) is None


def test_no_allowed_first_note_no_line():
    """A start whose allowed notes are all closed has no line, however open the rest is."""
    assert cheapest_line([only_free(12, 5)], NO_TASTE, Start(4, (3, 6))) is None
    assert cheapest_line([only_free(12, 5)], NO_TASTE, Start(4, (3, 5))) is not None


def test_nothing_to_play_costs_nothing():
    """No slots, no notes."""
    assert cheapest_line([], NO_TASTE) == (0, [])
