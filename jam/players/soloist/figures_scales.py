"""Figures made of scales: runs, passing-note scales, thirds, patterns of degrees, half steps."""

from __future__ import annotations

from collections.abc import Iterator

from jam.players.soloist.figures_ground import (
    Ground,
    Line,
    fits,
    neighbour,
    onwards,
    shaped,
    walk,
)
from jam.players.soloist.figures_shapes import broken, patterned, runs

_LEAPS = (5, 7, 8, 9, 10, 12)
_MOST_HALF_STEPS = 6
_PENTATONIC = {"minor": (0, 3, 5, 7, 10), "major": (0, 2, 4, 7, 9), "dominant": (0, 2, 4, 7, 9)}
_PERMUTED = ((0, 1, 3, 2), (0, 2, 1, 3), (3, 1, 2, 0), (3, 2, 0, 1), (1, 0, 2, 3))

# Eight-note scales with a passing note, and what falls on the beats (Baker, *How to Play Bebop*
# 1985, as quoted by readers; from memory): dominant with both sevenths; major with b6 between 5
# and 6, its chord tones 1 3 5 6; minor with both sevenths, or with both thirds, where the 11
# comes on the beat.
_DOMINANT = frozenset((0, 2, 4, 5, 7, 9, 10))
_MAJOR = frozenset((0, 2, 4, 5, 7, 9, 11))
_MINOR = frozenset((0, 2, 3, 5, 7, 9, 10))
BEBOP: dict[str, tuple[tuple[frozenset[int], int, frozenset[int]], ...]] = {
    "dominant": ((_DOMINANT, 11, frozenset((0, 4, 7, 10))),),
    "major": ((_MAJOR, 8, frozenset((0, 4, 7, 9))),),
    "minor": (
        (_MINOR, 11, frozenset((0, 3, 7, 10))),
        (_MINOR, 4, frozenset((0, 3, 5))),
    ),
}
"""By kind of chord: the scale, its passing note, and what stands on the beats."""


def bebop_scale(ground: Ground, count: int, off: bool) -> Iterator[Line]:
    """Yield passing-note scales in eighths: chord tones on the beats, the passing note between.

    ``off`` says that the first note lies off the beat.
    """
    for scale, passing, on_beats in BEBOP.get(ground.kind, ()):
        weak = scale - ground.strong
        if weak - {5, 11} or (weak & {11} and ground.kind != "major") or 7 not in ground.tones:
            continue
        if passing in ground.strong or not on_beats <= ground.strong:
            continue
        for start in sorted(scale | {passing}):
            for way in (-1, 1):
                line = walk(scale | {passing}, start, count, way)
                held = line[1::2] if off else line[::2]
                placed = all(step % 12 in on_beats for step in held)
                inside = passing in {step % 12 for step in line}
                if placed and inside and fits(line, ground, count):
                    yield Line(line, "passing-note scale", 1.0 if way < 0 else 0.5)


def scale_run(ground: Ground, count: int, _off: bool) -> Iterator[Line]:
    """Yield runs along the chord's scale, straight or turning back once."""
    for line in shaped(ground, ground.scale, runs(count), sorted(ground.scale & ground.liked)):
        yield Line(line, "scale")


def thirds(ground: Ground, count: int, _off: bool) -> Iterator[Line]:
    """Yield the chord's scale in broken thirds."""
    for line in shaped(ground, ground.scale, broken(count), sorted(ground.scale & ground.strong)):
        yield Line(line, "in thirds")


def digital(ground: Ground, count: int, _off: bool) -> Iterator[Line]:
    """Yield patterns of degrees: 1 2 3 5 and kin on the scale, from 1 and 5, and on the five-note
    scale; 3 5 7 9 in other orders."""
    starts = sorted({0, 7} & ground.tones)
    scales = [ground.scale]
    five = frozenset(_PENTATONIC.get(ground.kind, ()))
    if five and five <= ground.liked:
        scales.append(five)
    for scale in scales:
        for line in shaped(ground, scale | frozenset(starts), patterned(count), starts):
            yield Line(line, "pattern")
    four = ground.stack[1:5]
    for order in _PERMUTED if len(four) == 4 and count >= 4 else ():
        line = tuple(four[place] for place in order)
        for whole, more in onwards(ground, line, count):
            if fits(whole, ground, count):
                yield Line(whole, "pattern", more)


def chromatic_run(ground: Ground, count: int, _off: bool) -> Iterator[Line]:
    """Yield half steps in a row between two strong degrees, led on by step."""
    for size in range(min(count, 4), min(count, _MOST_HALF_STEPS) + 1):
        for start in sorted(ground.liked):
            for way in (-1, 1):
                line = tuple(start + way * k for k in range(size))
                if line[-1] % 12 not in ground.liked:
                    continue
                usual = 2.0 if start in ground.tones else 1.0
                for whole, more in onwards(ground, line, count):
                    if fits(whole, ground, count):
                        yield Line(whole, "half steps", usual * more)


def leap_and_fill(ground: Ground, count: int, _off: bool) -> Iterator[Line]:
    """Yield a leap of a fourth to an octave, then steps back into the gap."""
    for start in sorted(ground.liked):
        for leap in _LEAPS:
            for way in (1, -1):
                far = start + way * leap
                if far % 12 not in ground.liked:
                    continue
                line = (start, *walk(ground.scale, far, count - 1, -way))
                inside = min(start, far) <= line[-1] <= max(start, far)
                if inside and fits(line, ground, count):
                    yield Line(line, "leap and steps back", 1.0 if way > 0 else 0.7)
                other = (start, far, *walk(ground.scale, far - way, count - 2, -way))
                if neighbour(ground.scale, far, -way) != far - way and fits(other, ground, count):
                    yield Line(other, "leap and steps back", 0.3)
