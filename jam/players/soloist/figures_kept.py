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

KEPT = ("riff", "pedal")
"""The figures that run on over changes."""

_AROUND = (-1, 1, -2, 2, -3, 3)


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
    moved = sum(a != b for a, b in zip(steps, figure.steps, strict=True))
    ways = ((b > a) - (b < a) for a, b in pairwise(steps))
    return (
        replace(
            figure,
            steps=tuple(steps),
            classes=tuple((home.chord.root + step) % 12 for step in steps),
            directions=(0, *ways),
            why=f"{figure.why}, kept while the chords move on",
            repeats=any(a == b for a, b in pairwise(steps)),
        ),
        moved,
    )
