"""Free stretches of a line turned into figures of the vocabulary: arpeggios, enclosures, runs.

A figure takes neighbouring notes over one chord that no statement of the idea uses, or circles the
note on which the line lands when the chord changes. How many of them there are is bounded: what
people do between two figures is the idiom's business.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from jam.harmony.changes import Change
from jam.players.soloist.chord_tables import sounding
from jam.players.soloist.figures import Figure, figures_for
from jam.players.soloist.request import Request
from jam.players.soloist.slots import TICKS, Slot, pulse_ticks, to_ticks

_FEWEST, _USUAL, _MOST = 3, 4, 8
_LIKELY = 0.75
"""How often a free run begins with a figure."""

_INTO = 0.25
"""How often a landing is circled, where a style gives enclosures all their weight."""

_DRAWS = 3
_GROUPS = 1000
_FREE = ("everything", "approaches")
"""Levels of material on which figures are played; the others say all there is to say."""


def with_figures(slots: Sequence[Slot], request: Request, rng: np.random.Generator) -> list[Slot]:
    """Return the slots with some free runs turned into figures."""
    result = list(slots)
    if request.style.material not in _FREE:
        return result
    _circle_landings(result, request, rng)
    index = 0
    while index + _FEWEST <= len(result):
        room = _room(result, index, request)
        if room < _FEWEST or rng.random() > _LIKELY:
            index += max(1, room if room < _FEWEST else 2)
            continue
        count = min(room, int(rng.integers(_USUAL, _MOST + 1)))
        part = result[index : index + count]
        change = sounding(request.changes, part[0].beat)
        heard = index > 0 and result[index - 1].beat >= change.beat
        figure = _figure(request, change, part, request.style.vocabulary, rng, heard=heard)
        if figure is not None:
            _put(result, index, figure)
        index += count + 1
    return result


def _circle_landings(slots: list[Slot], request: Request, rng: np.random.Generator) -> None:
    """Let two free notes before a change circle the note that lands on it, now and then."""
    likely = _INTO * request.style.vocabulary["enclosure"]
    for index in range(len(slots) - 2):
        part = slots[index : index + 3]
        now, new = (sounding(request.changes, slot.beat) for slot in part[1:])
        if now is new or part[2].tick % pulse_ticks(request.pulse_beats):
            continue
        if not all(slot.move == "run" for slot in part) or rng.random() >= likely:
            continue
        if part[1].tick - part[0].tick > TICKS or part[2].tick - part[1].tick > TICKS:
            continue
        figure = _figure(request, new, part, {"enclosure": 1.0}, rng, heard=False)
        if figure is not None:
            _put(slots, index, figure)


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
    request: Request,
    change: Change,
    part: Sequence[Slot],
    vocabulary: Mapping[str, float],
    rng: np.random.Generator,
    *,
    heard: bool,
) -> Figure | None:
    """Draw a figure over ``change`` that suits the times of the notes, if one is soon found.

    ``heard`` says that the chord has had its note already.
    """
    for _ in range(_DRAWS):
        figure = figures_for(
            change,
            request.changes.after(change.beat),
            len(part),
            key=request.key,
            blues=request.blues,
            off_beat_first=part[0].tick % pulse_ticks(request.pulse_beats) != 0,
            vocabulary=vocabulary,
            rng=rng,
        )
        if figure is None or _suits(figure, change, part, request, heard=heard):
            return figure
    return None


def _suits(
    figure: Figure, change: Change, part: Sequence[Slot], request: Request, *, heard: bool
) -> bool:
    """Tell whether the notes' times suit the figure.

    Of a passing-note scale every other note, and no other, may fall on a beat; no weak note lasts;
    a trip out of the chord begins when the chord has been heard and lasts a bar at most.
    """
    if figure.implied is not None:
        return heard and part[-1].end - part[0].tick <= to_ticks(request.bars.bar_beats)
    if figure.name == "bebop_scale":
        beat = pulse_ticks(request.pulse_beats)
        held = part[0].tick % beat != 0
        return all(slot.tick % beat or index % 2 == held for index, slot in enumerate(part))
    longest = TICKS * max(request.pulse_beats / 2.0, 0.25 * request.bpm / 60.0)
    strong = change.chord.strong
    return all(
        wanted in strong or slot.ticks <= longest
        for wanted, slot in zip(figure.classes, part, strict=True)
    )


def _put(slots: list[Slot], index: int, figure: Figure) -> None:
    """Ask the slots from ``index`` on for the figure; the last note of a trip is back home."""
    for place, (wanted, way) in enumerate(zip(figure.classes, figure.directions, strict=True)):
        last = place == len(figure.classes) - 1
        slots[index + place] = replace(
            slots[index + place],
            move=figure.name,
            group=_GROUPS + index,
            place=place,
            wanted_class=wanted,
            direction=way,
            implied=None if last else figure.implied,
            why=figure.why,
        )
