"""Where a reply has to land (H1): the structural changes, or the seams of a chord that lasts.

The first note from a landing's ``beat`` to its ``until`` (a pulse later, or just before the next
landing) is a strong degree of the chord there, unless a strong note is held across.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil

from jam.harmony.changes import Change
from jam.players.soloist.request import Request
from jam.players.soloist.slots import TICKS

HAIR = 1e-6
"""Beats that are nearer than this are one."""


@dataclass(frozen=True, slots=True)
class Landing:
    """One place to land on, in beats; ``limit`` is a pulse after it, whatever comes before then."""

    beat: float
    until: float
    limit: float

    def takes(self, beat: float) -> bool:
        """Tell whether a note on ``beat`` may be the landing."""
        return self.beat - HAIR <= beat <= self.until + HAIR

    @property
    def first_tick(self) -> int:
        """Return the first tick that is not before it."""
        return ceil(self.beat * TICKS - HAIR)


def landings(request: Request) -> list[Landing]:
    """Return the landings of the request's window, in order."""
    beats = [change.beat for change in structural_changes(request)]
    found = []
    for index, beat in enumerate(beats):
        limit = until = beat + request.pulse_beats
        if index + 1 < len(beats):
            until = min(until, beats[index + 1] - 0.01)
        found.append(Landing(beat, until, limit))
    return found


def structural_changes(request: Request) -> list[Change]:
    """Return the structural changes in the window, and the two-bar seams of a chord that lasts."""
    window, bars = request.window, request.bars
    found = request.changes.structural(
        window.earliest, window.latest + request.pulse_beats, request.pulse_beats
    )
    first, _ = bars.at(window.start)
    last, _ = bars.at(window.end)
    for bar in range(first + first % 2, last + 1, 2):
        seam, room = bars.start(bar), 2 * bars.length(bar) - 0.01
        near = any(abs(seam - change.beat) < room for change in found)
        if window.start <= seam <= window.end and not near:
            found.append(replace(request.changes.at(seam), beat=seam))
    return sorted(found, key=lambda change: change.beat)
