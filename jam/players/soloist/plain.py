"""The line that can always be had: a strong note near each change, close to the one before."""

from __future__ import annotations

import numpy as np

from jam.players.soloist.costs import Pricing
from jam.players.soloist.landings import structural_changes
from jam.players.soloist.lattice import Point
from jam.players.soloist.places import Place, places
from jam.players.soloist.request import Request
from jam.players.soloist.slots import TICKS, Slot, in_line, to_ticks


def plain_line(request: Request, pricing: Pricing) -> tuple[list[Slot], list[Place], list[Point]]:
    """Return a short line of one strong note a change: what is said when nothing else fits."""
    window = request.window
    beats = [c.beat for c in structural_changes(request) if window.start <= c.beat < window.end]
    ticks = sorted({to_ticks(beat) for beat in beats} | {to_ticks(window.start) + TICKS // 2})
    slots = in_line([Slot(tick, TICKS // 2, "landing", n) for n, tick in enumerate(ticks)])
    where = places(request, slots)
    middle = len(pricing.pitches) // 2
    points = []
    for place in where:
        mask = pricing.free_mask(place)[pricing.classes]
        options = np.flatnonzero(mask)
        middle = int(options[np.argmin(np.abs(options - middle))])
        points.append(Point(middle, "free"))
    return slots, where, points
