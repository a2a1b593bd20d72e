"""Figures round a note, and notes said again: enclosures, turns, pedals, riffs, blues licks."""

from __future__ import annotations

from collections.abc import Iterator

from jam.players.soloist.figures_ground import (
    Ground,
    Line,
    Steps,
    fits,
    lawful,
    neighbour,
    onwards,
    walk,
)
from jam.players.soloist.figures_shapes import sequence

# Blues licks of our own, in semitones above the root: b3 to 3, b5 by step, 6 and b7 about 1. On the
# IV7 of a blues they are counted from the key's tonic, whose b3 is its seventh. A blue note is left
# by a third at most.
_BLUE_MAJOR: tuple[Steps, ...] = (
    (7, 9, 12, 9, 7, 3, 4, 0),
    (12, 10, 12, 7, 6, 5, 3, 4, 0),
    (0, 3, 4, 7, 9, 7, 3, 4, 0),
    (4, 3, 0, -3, 0, 3, 4),
    (10, 9, 7, 3, 4, 0, -3, 0),
    (7, 6, 5, 3, 0, 3, 4, 7),
    (15, 16, 12, 9, 10, 9, 7),
)
_BLUE_MINOR: tuple[Steps, ...] = (
    (0, 3, 5, 6, 7, 10, 12),
    (12, 10, 7, 6, 5, 3, 0),
    (7, 6, 5, 3, 0, -2, 0),
    (5, 6, 7, 10, 7, 5, 3, 0),
    (15, 12, 10, 12, 7, 5, 3),
    (3, 5, 3, 0, -2, 0, 3, 0),
)
_BLUE_FOUR: tuple[Steps, ...] = (
    (12, 10, 12, 9, 7, 5, 3, 5),
    (7, 6, 5, 3, 0, 3, 5),
    (0, 3, 5, 6, 7, 5, 3, 0),
    (3, 5, 3, 0, -3, 0, 3),
    (12, 10, 9, 7, 5, 3, 0),
    (5, 6, 7, 12, 10, 9, 5),
)
_FOUR_HOME = 7
_TARGETS = frozenset((1, 2, 9))
_FEWEST_RIFF = 4
_COUNTED = {2: "two notes", 3: "three notes", 4: "four notes"}


def enclosure(ground: Ground, count: int, off: bool) -> Iterator[Line]:
    """Yield a target circled by two, three or four notes, led on from there; rather so that it
    falls on the beat (``off``: the first note does not)."""
    for target in sorted(ground.liked & (ground.tones | _TARGETS)):
        usual = 2.0 if target in ground.tones else 1.0
        for circle in circles(ground, target):
            on_beat = len(circle) % 2 == (1 if off else 0)
            line = (*circle, target)
            if len(line) > count or not lawful(line, ground.strong):
                continue
            plain = usual * (2.0 if on_beat else 1.0)
            for whole, more in onwards(ground, line, count):
                if fits(whole, ground, count):
                    words = f"{_COUNTED[len(circle)]} round"
                    yield Line(whole, words, plain * more, aim=target)


def circles(ground: Ground, target: int) -> Iterator[Steps]:
    """Yield what may circle ``target``: a step of the scale or a half step above, a half step or a
    step of the scale below."""
    above, below = neighbour(ground.scale, target, 1), neighbour(ground.scale, target, -1)
    if above - target > 2 or target - below > 2:
        above, below = target + 2, target - 2
    up, down = target + 1, target - 1
    found = [
        (above, down), (down, above), (above, below), (below, above), (up, down), (down, up),
        (target + 2, up, down), (target - 2, down, up), (target - 2, down, above),
        (above, below, down), (below, above, up),
        (target + 2, up, target - 2, down), (target - 2, down, target + 2, up),
        (above, below, up, down), (below, above, down, up),
    ]  # fmt: skip
    yield from dict.fromkeys(found)


def turn(ground: Ground, count: int, _off: bool) -> Iterator[Line]:
    """Yield a note, its neighbours and the note again, led on by step."""
    for note in sorted(ground.liked):
        above, below = neighbour(ground.scale, note, 1), neighbour(ground.scale, note, -1)
        half = note - 1
        found = [
            (note, above, note), (note, half, note), (note, below, note),
            (note, above, note, half, note), (note, half, note, above, note),
            (note, above, half, note), (note, half, above, note), (note, above, below, note),
        ]  # fmt: skip
        for line in dict.fromkeys(found):
            for whole, more in onwards(ground, line, count):
                if fits(whole, ground, count):
                    yield Line(whole, "turn", more * (2.0 if note in ground.tones else 1.0))


def pedal(ground: Ground, count: int, _off: bool) -> Iterator[Line]:
    """Yield one note struck again (four times at most), and one that stays while another voice
    moves away from it and nearer."""
    for note in sorted(ground.tones & ground.liked & ground.shared):
        if count <= _FEWEST_RIFF:
            yield Line((note,) * count, "one note again", 0.5)
            for step in (-1, 1):
                end = neighbour(ground.tones, note, step)
                yield Line((*(note,) * (count - 1), end), "one note again", 0.5)
        for start in sorted(ground.liked):
            for place in (start, start + 12):
                for way in (-1, 1):
                    voice = walk(ground.scale, place, (count + 1) // 2, way)
                    line = tuple(x for other in voice for x in (other, note))
                    for whole in (line[:count], (note, *line)[:count]):
                        if fits(whole, ground, count):
                            yield Line(whole, "a pedal under a moving voice", 0.3)


def riff(ground: Ground, count: int, _off: bool) -> Iterator[Line]:
    """Yield a cell of three notes said again, of notes that the next chord takes too."""
    if count < _FEWEST_RIFF:
        return
    able = sorted(ground.liked & ground.shared)
    for first in able:
        for second in able:
            for third in able:
                cell = (first, second, third)
                if len(set(cell)) > 1 and max(cell) - min(cell) <= 7 and third in ground.tones:
                    line = sequence(cell, 0, count)
                    if fits(line, ground, count, repeats=first == second or second == third):
                        yield Line(line, "riff")


def blues_lick(ground: Ground, count: int, _off: bool) -> Iterator[Line]:
    """Yield blues figures of our own, whole or a part of one; none ends on a blue note that is no
    chord tone."""
    licks, home, blue = _BLUE_MAJOR, 0, {3, 6, 10}
    if ground.kind == "minor":
        licks, blue = _BLUE_MINOR, {5, 6, 10}
    elif ground.home == _FOUR_HOME:
        licks, home = _BLUE_FOUR, ground.home - 12
    blue = {(home + step) % 12 for step in blue}
    for lick in licks:
        laid = tuple(home + step for step in lick)
        found = [laid[first : first + count] for first in range(len(laid) - count + 1)]
        if len(laid) < count:
            found = [whole for whole, _ in onwards(ground, laid, count)]
        for line in found:
            heard = blue & {step % 12 for step in line}
            at_rest = line[-1] % 12 in ground.tones or line[-1] % 12 not in blue
            if heard and at_rest and fits(line, ground, count):
                yield Line(line, "blues lick")
