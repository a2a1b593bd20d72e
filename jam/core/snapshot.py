"""What can be shown at any moment: one frozen value, the latest wins."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Snapshot:
    """The state of the session after a step.

    ``beat`` is None before the tempo is known; ``bar`` and ``beat_in_bar`` count from 1.
    ``strong`` are the pitch classes allowed now as chord tones or tensions. ``reply`` is the id
    of the reply that is sounding or waiting, None when there is none.
    """

    now: float
    beat: float | None
    bar: int
    beat_in_bar: float
    bpm: float
    source: str
    locked: bool
    section: str
    phase: str
    chorus: int
    chord: str | None
    next_chord: str | None
    next_chord_beat: float | None
    strong: frozenset[int]
    who: str
    turn_ends_beat: float | None
    reply: int | None
    style: str
    running: bool
