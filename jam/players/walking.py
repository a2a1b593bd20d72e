"""Which pitches a bass walks through from one landing to the next.

A stretch begins on a given pitch, holds one chord, and leads to a target: its last note approaches
the target by a half step, a scale step or from a fifth above (the target's dominant), the notes
between are chord tones and scale tones in small steps (common practice of walking bass). Found as
a cheapest path with a little chance in the costs; no pitch is repeated inside a stretch.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from jam.harmony.chord import Chord

LOWEST: Final = 28
"""E1, the open low string of a double bass (General MIDI note number)."""
HIGHEST: Final = 52

_CENTRE: Final = 38
_STEP_COST: Final = (9.0, 0.6, 0.3, 0.2, 0.3, 0.4, 1.4, 0.9)
_FAR_COST: Final = 3.0
_BACK_COST: Final = 1.2
_SCALE_TONE_COST: Final = 1.2
_CHANCE: Final = 1.3


def in_range(pitch: int) -> bool:
    """Tell whether the bass has this note."""
    return LOWEST <= pitch <= HIGHEST


def nearest(pitch_class: int, near: int, *, avoid: int | None = None) -> int:
    """Return the pitch of a class that is closest to ``near``, drawn a little to the middle.

    ``avoid`` is a pitch not to be taken where there is another.
    """
    found = [p for p in range(LOWEST, HIGHEST + 1) if p % 12 == pitch_class]
    found = [p for p in found if p != avoid] or found
    return min(found, key=lambda p: (abs(p - near) + 0.4 * abs(p - _CENTRE), p))


def fifth_of(chord: Chord) -> int:
    """Return the pitch class of the chord's fifth, whatever its size.

    Where there is none, or it is in the bass already, another chord tone stands for it.
    """
    for semitones in (7, 6, 8, 10, 4, 3, 0):
        pitch_class = (chord.root + semitones) % 12
        if pitch_class in chord.tones and pitch_class != chord.bass:
            return pitch_class
    return chord.bass


def approaches(target: int, scale: frozenset[int]) -> dict[int, float]:
    """Return the pitches that lead into ``target``, with their costs."""
    found = {target - 1: 0.2, target + 1: 0.0}
    for step in (-2, 2):
        if (target + step) % 12 in scale:
            found[target + step] = 0.2
    found[target + 7] = 0.7
    found[target - 5] = 0.7
    return {pitch: cost for pitch, cost in found.items() if in_range(pitch)}


def walk(
    start: int,
    count: int,
    chord: Chord,
    scale: frozenset[int],
    target: int | None,
    rng: np.random.Generator,
    *,
    scalewise: bool = False,
) -> list[int]:
    """Return ``count`` pitches beginning with ``start`` that lead to ``target``.

    ``scalewise`` treats scale tones like chord tones (a mode that lasts long).
    """
    layers = [{start: 0.0}]
    for place in range(1, count):
        last = place == count - 1 and target is not None
        if last and target is not None:
            layers.append(approaches(target, scale))
        else:
            layers.append(_between(chord, scale, free=scalewise or place % 2 == 1))
    return _cheapest(layers, target, rng)


def _between(chord: Chord, scale: frozenset[int], *, free: bool) -> dict[int, float]:
    extra = 0.0 if free else _SCALE_TONE_COST
    pitches = range(LOWEST, HIGHEST + 1)
    costs = {p: extra + 0.4 for p in pitches if p % 12 in scale}
    costs |= {p: 0.0 for p in pitches if p % 12 in chord.tones}
    return {p: cost + 0.02 * abs(p - _CENTRE) for p, cost in costs.items()}


def _cheapest(
    layers: list[dict[int, float]], target: int | None, rng: np.random.Generator
) -> list[int]:
    """Return one pitch a layer, at the lowest sum of their own costs and of the steps between."""
    paths = [(0.0, [pitch]) for pitch in layers[0]]
    for index, layer in enumerate(layers[1:], start=1):
        chance = rng.random(len(layer)) * _CHANCE
        leads_home = index == len(layers) - 1
        extended = []
        for (pitch, own), luck in zip(layer.items(), chance.tolist(), strict=True):
            home = 0.0 if target is None or not leads_home or pitch != target else 9.0
            cost, path = min(
                ((before + _step(way, pitch), way) for before, way in paths),
                key=lambda found: (found[0], found[1][-1]),
            )
            extended.append((cost + own + luck + home, [*path, pitch]))
        paths = extended
    return min(paths)[1]


def _step(way: list[int], pitch: int) -> float:
    size = abs(pitch - way[-1])
    back = _BACK_COST if pitch in way[-2:] else 0.0
    return back + (_STEP_COST[size] if size < len(_STEP_COST) else _FAR_COST + 0.2 * size)
