"""Riffs and pedals are kept while the chords move on: which of their notes must give way?

The figure is found over the chord on which it begins; where another chord forbids a note it is
bent to the nearest strong one, and only there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from jam.harmony.changes import Change
from jam.players.soloist.figures import Figure
from jam.players.soloist.figures_shapes import sequence

KEPT = ("riff", "pedal")
"""The figures that run on over changes."""

_CELL, _TWICE, _LONGEST = 3, 6, 8
_AROUND = (-1, 1, -2, 2, -3, 3)


def counted(name: str, room: int) -> int:
    """Return how many notes of the figure are found; a riff is two sayings, said on as often as
    there is ``room`` for it."""
    return min(room, _TWICE if name == "riff" else _LONGEST)


def said_on(figure: Figure, count: int) -> Figure:
    """Return a riff said again and again until it has ``count`` notes."""
    if figure.name != "riff" or len(figure.steps) >= count:
        return figure
    steps = sequence(figure.steps[:_CELL], 0, count)
    return _moved(figure, steps, figure.classes[0] - figure.steps[0], figure.why)


def kept(figure: Figure, chords: Sequence[Change]) -> tuple[Figure, int]:
    """Return the figure bent to the chord that sounds at each of its notes, and how many notes
    were bent."""
    home = chords[0]
    if all(change is home for change in chords):
        return figure, 0
    steps = list(figure.steps)
    for place, (step, change) in enumerate(zip(figure.steps, chords, strict=True)):
        chord = change.chord
        if (home.chord.root + step) % 12 in chord.strong:
            continue
        near = [a for a in _AROUND if (home.chord.root + step + a) % 12 in chord.strong]
        own = [a for a in near if (home.chord.root + step + a) % 12 in chord.tones]
        by = min(near, key=lambda a: (abs(a), a not in own))
        steps[place] = step + by
    bent = sum(a != b for a, b in zip(steps, figure.steps, strict=True))
    why = f"{figure.why}, kept while the chords move on"
    return _moved(figure, steps, home.chord.root, why), bent


def _moved(figure: Figure, steps: Sequence[int], root: int, why: str) -> Figure:
    ways = ((b > a) - (b < a) for a, b in pairwise(steps))
    return replace(
        figure,
        steps=tuple(steps),
        classes=tuple((root + step) % 12 for step in steps),
        directions=(0, *ways),
        why=why,
        repeats=any(a == b for a, b in pairwise(steps)),
    )
