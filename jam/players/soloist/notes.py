"""From a line to notes: how each sounds, what each is, and the spans the line goes out over."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from jam.events import PlannedNote
from jam.players.soloist.chord_tables import Tables
from jam.players.soloist.feel import perform
from jam.players.soloist.labels import label
from jam.players.soloist.lattice import Point
from jam.players.soloist.places import Place
from jam.players.soloist.request import ImpliedSpan, Request
from jam.players.soloist.slots import TICKS, Slot

_FEEL = 99


def notes_of(
    request: Request, slots: Sequence[Slot], where: Sequence[Place], points: Sequence[Point]
) -> tuple[PlannedNote, ...]:
    """Return the notes of a line, in order."""
    low = request.style.instrument.low
    pitches = [low + point.index for point in points]
    labels = label(slots, where, points, pitches, Tables(request))
    played = perform(
        slots,
        pitches,
        [one.role for one in labels],
        style=request.style,
        bpm=request.bpm,
        feel=request.feel,
        pulse_beats=request.pulse_beats,
        heard_velocity=request.call.velocity if request.call is not None else None,
        heard_range=request.call.velocity_range if request.call is not None else None,
        idiom=request.idiom if request.idiom.notes else None,
        rng=np.random.default_rng((*request.seed, _FEEL, slots[0].tick & 0xFFFF)),
    )
    return tuple(
        PlannedNote(
            slot.beat, slot.beats, pitch, sound.velocity, sound.beat, sound.beats,
            one.chord, one.degree, one.role, one.move, one.why, sound.bend,
        )
        for slot, pitch, sound, one in zip(slots, pitches, played, labels, strict=True)
    )  # fmt: skip


def spans_of(slots: Sequence[Slot], where: Sequence[Place]) -> tuple[ImpliedSpan, ...]:
    """Return where the line is judged against an implied chord: each from the first such note to
    the next note that is not."""
    found: list[ImpliedSpan] = []
    begin: int | None = None
    for index, place in enumerate(where):
        if place.outside and begin is None:
            begin = index
        goes_on = index + 1 < len(where) and where[index + 1].outside
        goes_on = goes_on and slots[index + 1].group == slots[index].group
        if place.outside and begin is not None and not goes_on:
            end = slots[index + 1].tick if index + 1 < len(slots) else slots[index].end
            beat = slots[begin].beat
            found.append(ImpliedSpan(beat, end / TICKS - beat, place.now.chord))
            begin = None
    return tuple(found)
