"""Is the note just before a beat its swung off-beat, or a sixteenth by itself?

The beat's own pattern cannot tell, for either lies near three quarters of it. The phrase can: all
its off-beats lie about one place, usually earlier the faster the tempo (soloists' swing ratio is
mostly between 1 and 2: Corcoran & Frieler 2021, Music Perception 38(4)) and hardly beyond 2.5 to 1;
what lies at three quarters far from that place, measured by how evenly the phrase is played, is a
sixteenth. Costs are minus log likelihoods, the author's. Beats are quarter notes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from jam.listening.feels import OFF_BEAT_LAG, USUAL_OFF_BEAT, Feel
from jam.listening.patterns import HURRIED_SEC, PATTERNS, Pattern, Step

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

PLACE = 0.75
OFF_BEATS = np.linspace(0.5, 2.5 / 3.5, 16)
"""Where the off-beat may lie: from even eighths to 2.5 to 1."""
MOST_OFF_BEAT_LAG = 0.65
"""Share of the downbeats' lag that late off-beats have."""
SPREAD = 0.045
FIRST_COST, NEXT_COST = 1.2, 0.4
"""What the first sixteenth costs more than an eighth, and each."""
HURRY = 4.0
"""What the first costs more at twice the speed at which it is hardly played as written."""
APART, APART_SPREAD = 0.12, 0.03
"""Who plays both keeps them so far apart; how far he may fall short of it."""
LEAST_SCATTER, USUAL_SCATTER_SEC, USUAL_NOTES = 0.01, 0.020, 3.0
"""Scatter in beats at least; and usually, with as many notes as speak for that."""

_NEAR = np.maximum(0.0, APART - (PLACE - OFF_BEATS)) / APART_SPREAD
_UNUSUAL = 0.5 * ((OFF_BEATS - USUAL_OFF_BEAT) / SPREAD) ** 2


def with_sixteenths(path: Sequence[Step], x: Floats, feel: Feel) -> list[Step]:
    """Return ``path`` with those off-beats that lead to a note on the next beat and lie where a
    sixteenth would on the last quarter of their beat. ``x`` are the onsets of the notes."""
    offs = [n for n, step in enumerate(path) if _off_beat(step)]
    found = list(path)
    if not offs:
        return found
    late = np.array([x[path[n].notes[-1]] - path[n].beat for n in offs])
    leads = np.array([_leads(path, n) for n in offs])
    scatter = _scatter(path, x, feel)
    first = FIRST_COST + max(0.0, HURRY * (HURRIED_SEC / (1.0 - PLACE) / feel.beat_sec - 1.0))
    for n, fine in zip(offs, _are_fine(late, leads, feel.lag, scatter, first), strict=True):
        if fine:
            found[n] = replace(path[n], pattern=_pattern(len(path[n].notes)))
    return found


def _are_fine(late: Floats, leads: Bools, lag: float, scatter: float, first: float) -> Bools:
    """Tell which notes, ``late`` in their beats, are sixteenths; only those that lead on may be.

    The off-beat's place is the one under which all of them cost least; it has some of the
    downbeats' lag, from `OFF_BEAT_LAG` to `MOST_OFF_BEAT_LAG`.
    """
    off = late[:, None] - OFF_BEATS
    least, most = sorted((OFF_BEAT_LAG * lag, MOST_OFF_BEAT_LAG * lag))
    eighth = 0.5 * ((off - np.clip(off, least, most)) / scatter) ** 2
    fine = np.where(leads, 0.5 * ((late - PLACE - lag) / scatter) ** 2 + NEXT_COST, np.inf)[:, None]
    are = fine < eighth
    both = are.any(axis=0) & ~are.all(axis=0)
    cost = np.minimum(eighth, fine).sum(axis=0) + first * are.any(axis=0)
    cost += np.where(are.all(axis=0), 0.0, _UNUSUAL) + np.where(both, 0.5 * _NEAR**2, 0.0)
    if (eighth.sum(axis=0) + _UNUSUAL).min() <= cost.min():
        return np.zeros(len(late), dtype=bool)
    return are[:, int(cost.argmin())]


def _off_beat(step: Step) -> bool:
    return step.pattern.parts == 2 and step.pattern.places[-1] == 0.5


def _leads(path: Sequence[Step], n: int) -> bool:
    """Tell whether a note on the next beat follows."""
    if n + 1 == len(path):
        return False
    following = path[n + 1]
    return following.beat == path[n].beat + 1 and following.pattern.places[0] == 0.0


def _pattern(count: int) -> Pattern:
    """Return the pattern of a sixteenth before the beat, with or without a note on its own beat."""
    places = (PLACE,) if count == 1 else (0.0, PLACE)
    return next(p for p in PATTERNS[count] if p.places == places)


def _scatter(path: Sequence[Step], x: Floats, feel: Feel) -> float:
    """Return by how much the plain places of a phrase scatter, in beats."""
    off = [
        float(x[note]) - step.beat - place - feel.lag
        for step in path
        for note, place in zip(step.notes, step.pattern.places, strict=True)
        if place == 0.0
    ]
    usual = USUAL_SCATTER_SEC / feel.beat_sec
    squares = sum(d * d for d in off) + USUAL_NOTES * usual * usual
    return max(LEAST_SCATTER, sqrt(squares / (len(off) + USUAL_NOTES)))
