"""Free stretches of a line turned into figures of the vocabulary: arpeggios, enclosures, runs.

A figure takes neighbouring notes over one chord that no statement of the idea uses. How many of
them there are is bounded: what people do between two figures is the idiom's business.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from jam.players.soloist.chord_tables import sounding
from jam.players.soloist.figures import Figure, figures_for
from jam.players.soloist.request import Request
from jam.players.soloist.slots import TICKS, Slot, pulse_ticks

_FEWEST, _MOST = 3, 8
_LIKELY = 0.4
_GROUPS = 1000


def with_figures(slots: Sequence[Slot], request: Request, rng: np.random.Generator) -> list[Slot]:
    """Return the slots with some free runs turned into figures."""
    result = list(slots)
    beat = pulse_ticks(request.pulse_beats)
    index = 0
    while index + _FEWEST <= len(result):
        room = _room(result, index, request)
        if room < _FEWEST or rng.random() > _LIKELY:
            index += max(1, room if room < _FEWEST else 2)
            continue
        count = int(rng.integers(_FEWEST, min(room, _MOST) + 1))
        figure = _figure(request, result[index], count, result[index].tick % beat != 0, rng)
        if figure is not None:
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
    request: Request, slot: Slot, count: int, off_beat: bool, rng: np.random.Generator
) -> Figure | None:
    change = sounding(request.changes, slot.beat)
    return figures_for(
        change,
        request.changes.after(slot.beat),
        count,
        key=request.key,
        blues=request.blues,
        off_beat_first=off_beat,
        vocabulary=request.style.vocabulary,
        rng=rng,
    )


def _put(slots: list[Slot], index: int, figure: Figure) -> None:
    for place, (wanted, way) in enumerate(zip(figure.classes, figure.directions, strict=True)):
        slots[index + place] = replace(
            slots[index + place],
            move=figure.name,
            group=_GROUPS + index,
            place=place,
            wanted_class=wanted,
            direction=way,
            implied=figure.implied,
            why=figure.why,
        )
