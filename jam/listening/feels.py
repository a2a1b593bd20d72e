"""How does the player lie to the beat? A feel: how late, how swung, how uneven.

Downbeats lie late by about 30 ms at medium tempo and less at fast ones (Nelias et al. 2022,
Communications Physics 5); soloists' swing ratio is near 1.3 and mostly between 1 and 2 (Corcoran &
Frieler 2021, Music Perception 38(4)). Beats are quarter notes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from statistics import median

import numpy as np
from numpy.typing import NDArray

from jam.listening.patterns import Step

Floats = NDArray[np.float64]

LAGS_SEC = (-0.025, 0.0, 0.020, 0.040, 0.060, 0.085)
OFF_BEATS = (0.50, 0.55, 0.60, 0.66, 0.73)
USUAL_LAG_SEC, STEADY_SEC = 0.030, 0.40
"""The usual lag at beats of ``STEADY_SEC`` and longer; it falls to none at beats of half that."""
LAG_SPREAD_SEC, LAG_SPREAD_BEATS = 0.025, 0.07
USUAL_OFF_BEAT, OFF_BEAT_SPREAD = 0.57, 0.06
OFF_BEAT_LAG = 0.3
"""Share of the downbeats' lag that the off-beats have."""
DRIFT_BEATS = 3.0
"""How far around a beat its own lag is estimated (standard deviation)."""
DRIFT_NOTES = 6.0
"""As many notes speak for no drift at all."""


@dataclass(frozen=True, slots=True)
class Feel:
    """``lag`` is how late plain places lie, ``off_beat`` where in the beat the off-beat eighth
    falls as heard, ``uneven`` how much later than a quarter of the beat its odd sixteenths are
    (lag left out), all in beats."""

    beat_sec: float
    lag: float
    off_beat: float
    uneven: float = 0.0

    @property
    def cost(self) -> float:
        """Return how unlike a soloist this is."""
        spread = min(LAG_SPREAD_SEC / self.beat_sec, LAG_SPREAD_BEATS)
        lag = (self.lag - usual_lag(self.beat_sec)) / spread
        swing = (self.off_beat - OFF_BEAT_LAG * self.lag - USUAL_OFF_BEAT) / OFF_BEAT_SPREAD
        return 0.5 * (lag * lag + swing * swing)


def usual_lag(beat_sec: float) -> float:
    """Return how late a soloist's downbeats usually lie, in beats."""
    slow = 2.0 * beat_sec / STEADY_SEC - 1.0
    return USUAL_LAG_SEC * min(1.0, max(0.0, slow)) / beat_sec


@lru_cache(maxsize=256)
def feels_to_try(beat_sec: float) -> tuple[Feel, ...]:
    """Return the feels that are tried first."""
    return tuple(
        Feel(beat_sec, lag / beat_sec, off + OFF_BEAT_LAG * lag / beat_sec)
        for lag in LAGS_SEC
        for off in OFF_BEATS
        if abs(lag) <= 0.3 * beat_sec
    )


def felt(path: Sequence[Step], x: Floats, before: Feel) -> tuple[Feel, Floats]:
    """Return the feel of a path, held near the usual by a few made-up notes, and each note's drift.

    The drift is how much later than ``lag`` the notes around a note lie, in beats.
    """
    usual = usual_lag(before.beat_sec)
    downs, offs, odds = [usual] * 2, [before.lag * OFF_BEAT_LAG + USUAL_OFF_BEAT] * 2, [0.0] * 4
    where, late = [], []
    for step in path:
        for note, place in zip(step.notes, step.pattern.places, strict=True):
            dev = float(x[note]) - step.beat - place
            if step.pattern.parts == 2 and place:
                offs.append(dev + 0.5)
                continue
            odd = step.pattern.parts == 4 and abs(place % 0.5 - 0.25) < 0.01
            (odds if odd else downs).append(dev)
            if not odd:
                where.append(float(x[note]))
                late.append(dev)
    lag = median(downs)
    off = min(lag + 0.76, max(lag + 0.42, median(offs)))
    uneven = median([odd - lag for odd in odds[4:]] + [0.0] * 4)
    feel = replace(before, lag=lag, off_beat=off, uneven=min(0.09, max(0.0, uneven)))
    if not where:
        return feel, np.zeros_like(x)
    apart = (x[:, None] - np.array(where)) / DRIFT_BEATS
    near = np.exp(-0.5 * apart * apart)
    deviation = np.clip(np.array(late) - lag, -0.2, 0.2)
    return feel, (near @ deviation) / (near.sum(axis=1) + DRIFT_NOTES)
