"""Free stretches of a line turned into figures of the vocabulary: arpeggios, enclosures, runs.

A figure takes neighbouring notes over one chord that no statement of the idea uses. How many of
them there are is bounded: what people do between two figures is the idiom's business.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from jam.players.soloist.chord_tables import sounding
from jam.players.soloist.figures import OUTSIDE, Figure, figures_for
from jam.players.soloist.request import Request
from jam.players.soloist.slots import TICKS, Slot, pulse_ticks, to_ticks

_FEWEST, _MOST = 3, 8
_LIKELY = 0.25
_GROUPS = 1000
_FREE = ("everything", "approaches")
"""Levels of material on which figures are played; the others say all there is to say."""


def with_figures(slots: Sequence[Slot], request: Request, rng: np.random.Generator) -> list[Slot]:
    """Return the slots with some free runs turned into figures."""
    result = list(slots)
    if request.style.material not in _FREE:
        return result
    beat = pulse_ticks(request.pulse_beats)
    index = 0
    while index + _FEWEST <= len(result):
        room = _room(result, index, request)
        if room < _FEWEST or rng.random() > _LIKELY:
            index += max(1, room if room < _FEWEST else 2)
            continue
        count = int(rng.integers(_FEWEST, min(room, _MOST) + 1))
        part = result[index : index + count]
        figure = _figure(request, part, part[0].tick % beat != 0, rng)
        if figure is not None and _suits(figure, part, request):
            _put(result, index, figure)
        index += count + 1
    return result


def _room(slots: Sequence[Slot], index: int, request: Request) -> int:
    """Return how many slots from ``index`` on are free, close together and over one chord."""
    first = sounding(request.changes, slots[index].beat)
    count = 0
    for place in range(index, len(slots)):
        slot = slots[place]
        if slot.move != "run" or sounding(request.changes, slot.beat) is not first:
            break
        if place > index and slot.tick - slots[place - 1].tick > TICKS:
            break
        count += 1
    return count


def _figure(
    request: Request, part: Sequence[Slot], off_beat: bool, rng: np.random.Generator
) -> Figure | None:
    return figures_for(
        sounding(request.changes, part[0].beat),
        request.changes.after(part[0].beat),
        len(part),
        key=request.key,
        blues=request.blues,
        off_beat_first=off_beat,
        vocabulary=request.style.vocabulary,
        rng=rng,
    )


def _suits(figure: Figure, part: Sequence[Slot], request: Request) -> bool:
    """Tell whether the notes' times suit the figure.

    A passing-note scale is played in eighths; a trip out of the chord begins when the chord has
    been heard, lasts a bar at most and is back before the next chord.
    """
    if figure.name == "bebop_scale":
        half = TICKS // 2
        return all(b.tick - a.tick == half for a, b in pairwise(part))
    if figure.name in OUTSIDE:
        change = sounding(request.changes, part[0].beat)
        heard = part[0].beat > change.beat + request.pulse_beats
        return heard and part[-1].end - part[0].tick <= to_ticks(request.bars.bar_beats)
    return True


def _put(slots: list[Slot], index: int, figure: Figure) -> None:
    for place, (wanted, way) in enumerate(zip(figure.classes, figure.directions, strict=True)):
        back = place == len(figure.classes) - 1
        slots[index + place] = replace(
            slots[index + place],
            move=figure.name,
            group=_GROUPS + index,
            place=place,
            wanted_class=wanted,
            direction=way,
            implied=None if back else figure.implied,
            why=figure.why,
        )
