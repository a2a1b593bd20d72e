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

import numpy as np
from numpy.typing import NDArray

from jam.listening.feels import OFF_BEAT_LAG, Feel
from jam.listening.patterns import PATTERNS, Pattern, Step

Floats = NDArray[np.float64]

PLACE = 0.75
OFF_BEATS = np.linspace(0.5, 2.5 / 3.5, 16)
USUAL, USUAL_FAST = 0.60, 0.54
"""Where the off-beat usually lies at beats of `SLOW_SEC` and longer, `FAST_SEC` and shorter."""
SLOW_SEC, FAST_SEC = 0.5, 0.25
SPREAD = 0.06
FIRST_COST, NEXT_COST = 1.5, 0.5
"""What the first sixteenth costs more than an eighth, and each."""
LEAST_SCATTER, USUAL_SCATTER_SEC, USUAL_NOTES = 0.01, 0.020, 3.0
"""Scatter in beats at least; and usually, with as many notes as speak for that."""


def with_sixteenths(path: Sequence[Step], x: Floats, feel: Feel) -> list[Step]:
    """Return ``path`` with those off-beats that lead to a note on the next beat and lie where a
    sixteenth would on the last quarter of their beat. ``x`` are the onsets of the notes."""
    offs = [n for n, step in enumerate(path) if _off_beat(step)]
    if not offs:
        return list(path)
    late = np.array([x[path[n].notes[-1]] - path[n].beat for n in offs])
    leads = np.array([_leads(path, n) for n in offs])
    scatter = _scatter(path, x, feel)
    swung = (late[:, None] - OFF_BEATS - OFF_BEAT_LAG * feel.lag) / scatter
    fine = (late - PLACE - feel.lag) / scatter
    eighth = 0.5 * swung * swung
    sixteenth = np.where(leads, 0.5 * fine * fine + NEXT_COST, np.inf)[:, None]
    are = sixteenth < eighth
    usual = np.interp(feel.beat_sec, (FAST_SEC, SLOW_SEC), (USUAL_FAST, USUAL))
    prior = 0.5 * ((OFF_BEATS - usual) / SPREAD) ** 2
    cost = np.minimum(eighth, sixteenth).sum(axis=0) + np.where(are.any(axis=0), FIRST_COST, 0.0)
    plain = (eighth.sum(axis=0) + prior).min()
    mixed = cost + np.where(are.all(axis=0), 0.0, prior)
    if mixed.min() >= plain:
        return list(path)
    fits = are[:, int(mixed.argmin())]
    found = list(path)
    for n, is_sixteenth in zip(offs, fits, strict=True):
        if is_sixteenth:
            found[n] = replace(path[n], pattern=_pattern(len(path[n].notes)))
    return found


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
    return max(LEAST_SCATTER, (squares / (len(off) + USUAL_NOTES)) ** 0.5)
