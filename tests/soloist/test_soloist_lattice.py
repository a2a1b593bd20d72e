"""Lines are drawn in proportion to their weight, and no forbidden one ever is.

The reference lists every legal path of a small problem, one by one, and multiplies its weights;
nothing of the backward pass is used.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import pytest

from jam.players.soloist.lattice import (
    FORBIDDEN,
    OFFSETS,
    PER_DOUBLING,
    TURNS,
    Costs,
    Futures,
    Point,
    Start,
)

PITCHES, DRAWS, CLOSE = 9, 5000, 0.06
ANY = 10


@dataclass(frozen=True)
class Problem:
    """Random costs and steps of a small problem."""

    costs: Costs
    steps: list[np.ndarray]


def problem(seed: int, slots: int, *, approaches: bool = True) -> Problem:
    """Return a random problem; a third of the free notes is closed, and those may pass."""
    rng = np.random.default_rng(seed)
    shape = (slots, PITCHES)
    closed = rng.random(shape) < 0.35
    free = np.where(closed, FORBIDDEN, rng.integers(0, 30, shape))
    passing = np.full((slots, len(OFFSETS), PITCHES), FORBIDDEN)
    ringing = passing.copy()
    if approaches:
        may = closed[:, None, :]
        passing = np.where(may, rng.integers(0, 20, passing.shape), FORBIDDEN)
        ringing = np.where(may, rng.integers(0, 20, ringing.shape), FORBIDDEN)
        passing[-1] = ringing[-1] = FORBIDDEN
        ringing[-2:] = FORBIDDEN
    costs = Costs(
        free.astype(np.int64),
        passing.astype(np.int64),
        ringing.astype(np.int64),
        rng.integers(0, 20, (slots, 25)),
        np.where(rng.random(shape) < 0.1, FORBIDDEN, 0).astype(np.int64),
        rng.random(slots) < 0.2,
    )
    steps = [rng.random((11, 12, 25)) + 0.05 for _ in range(slots)]
    return Problem(costs, steps)


def weight(cost: int) -> float:
    """Return what a cost weighs."""
    return 0.0 if cost >= FORBIDDEN else 2.0 ** (-float(cost) / PER_DOUBLING)


def class_of(interval: int) -> int:
    """Return the class of an interval, as the docstring of `jam.idiom.classes` tells it."""
    if interval == 0:
        return 5
    size = 1 if abs(interval) == 1 else 2 if abs(interval) == 2 else 3 if abs(interval) <= 4 else 4
    return 5 + size if interval > 0 else 5 - size


State = tuple[str, int, int, int]
"""Kind, pitch, class of the interval into it, offset of its target."""


def entries(p: Problem, slot: int, index: int, reached: int) -> Iterator[tuple[State, float]]:
    """Yield what a note at a pitch of a slot may be, with its weight."""
    yield ("free", index, reached, 0), weight(p.costs.free[slot, index])
    for number, offset in enumerate(OFFSETS):
        for kind, table in (("approach", p.costs.approach), ("enclosing", p.costs.enclosing)):
            yield (kind, index, ANY, offset), weight(table[slot, number, index])


def onward(p: Problem, slot: int, state: State) -> Iterator[tuple[State, float]]:
    """Yield every state of ``slot`` after a state of the slot before, with the step's weight."""
    kind, index, reached, offset = state
    row = reached if kind == "free" else ANY
    for new in range(PITCHES):
        interval = new - index
        step = p.steps[slot][row, index % 12, interval + 12]
        step *= weight(p.costs.interval[slot, interval + 12])
        into = 0 if p.costs.fresh[slot] else class_of(interval)
        free = weight(p.costs.free[slot, new])
        home = free * weight(p.costs.resolving[slot, new])
        if kind == "free":
            for entered, value in entries(p, slot, new, into):
                yield entered, step * value
        elif kind in ("approach", "turning"):
            if interval == offset:
                yield ("free", new, into, 0), step * home
        else:
            left = offset - interval
            if left in OFFSETS and interval:
                value = weight(p.costs.approach[slot, OFFSETS.index(left), new])
                yield ("approach", new, ANY, left), step * value
            if left in TURNS and interval and abs(interval) <= 5:
                yield ("turning", new, ANY, left), step * free


def lines(p: Problem, slots: int) -> dict[tuple[State, ...], float]:
    """Return every legal path with its weight."""
    paths: dict[tuple[State, ...], float] = {}
    for index in range(PITCHES):
        for state, value in entries(p, 0, index, 0):
            if value:
                paths[(state,)] = paths.get((state,), 0.0) + value
    for slot in range(1, slots):
        longer: dict[tuple[State, ...], float] = {}
        for path, value in paths.items():
            for state, more in onward(p, slot, path[-1]):
                if more:
                    longer[(*path, state)] = longer.get((*path, state), 0.0) + value * more
        paths = longer
    return {path: value for path, value in paths.items() if path[-1][0] == "free"}


def seen_as(path: tuple[State, ...]) -> tuple[tuple[int, str, int], ...]:
    """Return a path as the points a line shows: a turning note stands by itself."""
    return tuple(
        (index, "free" if kind == "turning" else kind, 0 if kind == "turning" else offset)
        for kind, index, _, offset in path
    )


def points_of(line: list[Point]) -> tuple[tuple[int, str, int], ...]:
    """Return a drawn line in the same form."""
    return tuple((point.index, point.kind, point.offset) for point in line)


@pytest.mark.parametrize("seed", range(8))
def test_drawn_as_often_as_an_exhaustive_search_says(seed):
    """Each slot's notes, and each pair of neighbours, are drawn as often as their share of the
    weight of all legal lines, within what chance allows; nothing else is ever drawn."""
    slots = 4
    p = problem(seed, slots)
    exact: Counter[tuple[tuple[int, str, int], ...]] = Counter()
    for path, value in lines(p, slots).items():
        exact[seen_as(path)] += value
    futures = Futures(p.steps, p.costs)
    assert futures.feasible == bool(exact)
    if not exact:
        return
    whole = sum(exact.values())
    rng = np.random.default_rng(seed)
    drawn = Counter(points_of(futures.draw(rng)) for _ in range(DRAWS))
    assert set(drawn) <= set(exact)
    for slot in range(slots):
        wanted, found = Counter(), Counter()
        for line, value in exact.items():
            wanted[line[slot]] += value / whole
        for line, count in drawn.items():
            found[line[slot]] += count / DRAWS
        apart = sum(abs(wanted[key] - found[key]) for key in wanted | found) / 2
        assert apart < CLOSE


@pytest.mark.parametrize("seed", range(6))
def test_a_tail_is_drawn_as_often_as_it_should(seed):
    """From a start, with its class of interval and what it may go to next, the same law holds."""
    slots = 3
    p = problem(seed + 100, slots, approaches=False)
    allowed = (2, 3, 5, 6)
    exact: Counter[tuple[int, ...]] = Counter()

    def walk(slot: int, state: State, value: float, line: tuple[int, ...]) -> None:
        if slot == slots:
            exact[line] += value
            return
        for new, more in onward(p, slot, state):
            if more and (slot or new[1] in allowed):
                walk(slot + 1, new, value * more, (*line, new[1]))

    walk(0, ("free", 4, 6, 0), 1.0, ())
    futures = Futures(p.steps, p.costs, Start(4, 6, allowed))
    assert futures.feasible == bool(exact)
    if not exact:
        return
    rng = np.random.default_rng(seed)
    drawn = Counter(tuple(point.index for point in futures.draw(rng)) for _ in range(DRAWS))
    assert set(drawn) <= set(exact)
    whole = sum(exact.values())
    for slot in range(slots):
        wanted, found = Counter(), Counter()
        for line, value in exact.items():
            wanted[line[slot]] += value / whole
        for line, count in drawn.items():
            found[line[slot]] += count / DRAWS
        assert sum(abs(wanted[key] - found[key]) for key in wanted | found) / 2 < CLOSE


@pytest.mark.parametrize("seed", range(20))
def test_every_outside_note_reaches_its_target(seed):
    """On long lines: an approach takes its step at once, an enclosing note has its target as the
    next note but one, and no free note is a closed one."""
    p = problem(seed + 50, 40)
    futures = Futures(p.steps, p.costs)
    if not futures.feasible:
        return
    line = futures.draw(np.random.default_rng(seed))
    assert len(line) == 40
    for slot, point in enumerate(line):
        if point.kind == "free":
            assert p.costs.free[slot, point.index] < FORBIDDEN
        elif point.kind == "approach":
            assert line[slot + 1].index == point.index + point.offset
            assert line[slot + 1].kind == "free"
        else:
            assert line[slot + 2].index == point.index + point.offset
            assert line[slot + 2].kind == "free"
            assert line[slot + 1].kind in ("free", "approach")


def test_outside_notes_are_drawn_at_all():
    """The problems above hold approaches, enclosures and turns in fair numbers."""
    kinds: Counter[str] = Counter()
    for seed in range(20):
        p = problem(seed + 50, 40)
        futures = Futures(p.steps, p.costs)
        if futures.feasible:
            kinds.update(point.kind for point in futures.draw(np.random.default_rng(seed)))
    assert kinds["approach"] > 20
    assert kinds["enclosing"] > 10


def test_no_line_where_a_slot_is_closed():
    """A slot with no note at all leaves no line."""
    p = problem(1, 5)
    for table in (p.costs.free, p.costs.approach, p.costs.enclosing):
        table[2] = FORBIDDEN
    assert not Futures(p.steps, p.costs).feasible


def test_no_line_over_a_leap_wider_than_an_octave():
    """Two notes further apart than an octave are never neighbours."""
    p = problem(2, 2, approaches=False)
    wide = np.full((2, 30), FORBIDDEN)
    wide[0, 0] = wide[1, 13] = 0
    shut = np.full((2, len(OFFSETS), 30), FORBIDDEN)
    costs = replace(
        p.costs, free=wide, approach=shut, enclosing=shut, resolving=np.zeros((2, 30), np.int64)
    )
    assert not Futures(p.steps, costs).feasible
    near = replace(costs, free=np.roll(wide, (0, -1), axis=(0, 1)))
    near.free[0, 0] = 0
    assert Futures(p.steps, near).feasible


def test_nothing_resolves_where_it_may_not():
    """Where no approach may end, none begins before it."""
    for seed in range(20):
        p = problem(seed, 12)
        p.costs.resolving[5] = FORBIDDEN
        futures = Futures(p.steps, p.costs)
        if not futures.feasible:
            continue
        line = futures.draw(np.random.default_rng(seed))
        assert line[4].kind != "approach"
        assert line[3].kind != "enclosing"


def test_long_lines_do_not_fade_away():
    """128 slots of unlikely notes have a line, drawn to the end."""
    p = problem(7, 128, approaches=False)
    costs = replace(p.costs, free=np.full((128, PITCHES), 600, np.int64))
    futures = Futures(p.steps, costs)
    assert futures.feasible
    assert len(futures.draw(np.random.default_rng(0))) == 128


def test_one_seed_one_line():
    """The same dice draw the same line."""
    p = problem(3, 30)
    futures = Futures(p.steps, p.costs)
    once, again = (futures.draw(np.random.default_rng(5)) for _ in range(2))
    assert once == again
