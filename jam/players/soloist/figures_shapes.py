"""Shapes on a ladder of notes: runs, turns, thirds, patterns of degrees, broken chords.

A shape is a row of rungs counted from where it starts; which notes the rungs are is another's
business. (Patterns for practice on scales and chords: common practice.)
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache

from jam.players.soloist.figures_ground import Steps

CELLS = ((0, 1, 2, 4), (0, 1, 2, 0), (4, 2, 1, 0), (2, 1, 0, 4), (0, 2, 1, 4), (2, 0, 1, 2))
"""Patterns of four rungs: 1 2 3 5, 1 2 3 1, 5 3 2 1 and turns of them."""

_SHIFTS = (-1, 1, -2, 2)


def runs(count: int) -> Iterator[Steps]:
    """Yield rungs one after another: straight, and turning back once."""
    yield tuple(range(count))
    yield tuple(range(0, -count, -1))
    for turn in range(3, count - 1):
        there = list(range(turn))
        back = [turn - 1 - k for k in range(1, count - turn + 1)]
        yield (*there, *back)
        yield tuple(-place for place in (*there, *back))


def broken(count: int) -> Iterator[Steps]:
    """Yield rungs in broken thirds: 1 3 2 4 3 5, 3 1 4 2 5 3, and both falling."""
    up = [k // 2 + 2 * (k % 2) for k in range(count)]
    other = [k // 2 + 2 * (1 - k % 2) for k in range(count)]
    for shape in (up, other):
        yield tuple(shape)
        yield tuple(-place for place in shape)


def stacked(count: int) -> Iterator[Steps]:
    """Yield every other rung, up or down, turning back by rungs after four."""
    shape = [2 * k for k in range(min(count, 4))]
    shape += [shape[-1] - 1 - k for k in range(count - len(shape))]
    yield tuple(shape)
    yield tuple(-place for place in shape)


def patterned(count: int, cells: Sequence[Steps] = CELLS) -> Iterator[Steps]:
    """Yield patterns of four rungs, the second one moved by a rung or two."""
    for cell in cells:
        if count <= len(cell):
            yield cell[:count]
            continue
        for shift in _SHIFTS:
            yield sequence(cell, shift, count)


def sequence(cell: Sequence[int], shift: int, count: int) -> Steps:
    """Return ``cell`` again and again, each time ``shift`` rungs further, cut to ``count``."""
    size = len(cell)
    return tuple(cell[k % size] + shift * (k // size) for k in range(count))


@lru_cache(maxsize=16)
def shapes(count: int) -> tuple[Steps, ...]:
    """Return runs, broken thirds, every other rung and the plainest patterns."""
    return (*runs(count), *broken(count), *stacked(count), *patterned(count, CELLS[:3]))
