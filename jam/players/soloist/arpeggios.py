"""Arpeggios that reach into the tensions: 3 5 7 9, 5 7 9 11, 7 9 11 13, upwards or back down."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from jam.harmony.changes import Change
from jam.harmony.functions import preference
from jam.players.soloist.costs import sounding
from jam.players.soloist.request import Request
from jam.players.soloist.slots import TICKS, Slot

_STEPS = ((0,), (3, 4), (6, 7, 8), (9, 10, 11), (1, 2, 3), (5, 6), (8, 9))
"""Semitones above the root that 1 3 5 7 9 11 13 may be, in thirds from the root."""

_FROM = ((1, 5), (2, 6), (3, 7))
"""First and last step of the three arpeggios: 3 to 9, 5 to 11, 7 to 13."""


def stack(change: Change) -> list[int | None]:
    """Return the pitch classes of 1 3 5 7 9 11 13 on the chord, None where it has none.

    Of several tensions for one step the one most liked in the chord's function is taken.
    """
    chord = change.chord
    liking = preference(chord, change.function)
    found: list[int | None] = []
    for number, options in enumerate(_STEPS):
        wanted = chord.tones if number < 4 else chord.tensions
        own = [s for s in options if (chord.root + s) % 12 in wanted and liking[s] < 9]
        own = [s for s in own if number < 4 or (chord.root + s) % 12 not in chord.tones]
        best = min(own, key=lambda s: (liking[s], s), default=None)
        found.append(None if best is None else (chord.root + best) % 12)
    return found


def with_arpeggios(slots: Sequence[Slot], request: Request, rng: np.random.Generator) -> list[Slot]:
    """Return the slots with some runs of four turned into arpeggios, as often as the style asks.

    A run is four neighbouring slots over one chord, close together, that no statement uses.
    """
    result = list(slots)
    index = 0
    while index + 4 <= len(result):
        four = result[index : index + 4]
        if not _free_run(four, request) or rng.random() > 0.5 * request.style.lines.arpeggios:
            index += 1
            continue
        classes = _classes(request, four[0], rng)
        if classes is None:
            index += 1
            continue
        direction = 1 if rng.random() < 0.72 else -1
        ordered = classes if direction > 0 else classes[::-1]
        for place, (slot, pitch_class) in enumerate(zip(four, ordered, strict=True)):
            result[index + place] = replace(
                slot, move="arpeggio", group=four[0].group * 50 + index, place=place,
                wanted_class=pitch_class, direction=direction,
            )  # fmt: skip
        index += 5
    return result


def _free_run(four: Sequence[Slot], request: Request) -> bool:
    if any(slot.move != "run" for slot in four):
        return False
    if any(b.tick - a.tick > TICKS for a, b in itertools.pairwise(four)):
        return False
    first = sounding(request.changes, four[0].beat)
    return sounding(request.changes, four[-1].beat).beat == first.beat


def _classes(request: Request, slot: Slot, rng: np.random.Generator) -> list[int] | None:
    stacked = stack(sounding(request.changes, slot.beat))
    whole = []
    for begin, end in _FROM:
        classes = [c for c in stacked[begin : end + 1] if c is not None]
        if len(classes) >= 4:
            whole.append(classes[:4])
    return whole[int(rng.integers(0, len(whole)))] if whole else None
