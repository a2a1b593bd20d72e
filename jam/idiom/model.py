"""What people usually do next, as probabilities that a planner can look up.

Classes and their numbers are in `jam.idiom.classes`. Arrays are read-only.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Pattern = tuple[int, ...]

QUANTILES = np.linspace(0.0, 1.0, 21)
"""The shares that every table of quantiles is given for."""


@dataclass(frozen=True, eq=False)
class Idiom:
    """One way of playing.

    ``steps`` (5 families, 4 places, 4 gaps, 10 classes, 12, 25): how likely each interval to the
    next note is, by the chord under that note, its place, the gap to it, the class of the interval
    into the present note, and the present note's semitones above that chord's root. ``first`` (5,
    4, 12) and ``last`` (5, 12): the degree on which a phrase begins and ends.

    ``patterns`` are onsets within a beat, in ticks, the empty beat first; ``following`` (4 tempi,
    n, n, n) how likely each is after the two before it, ``opening`` and ``closing`` (4, n) how
    likely it begins and ends a phrase. ``phrase_beats`` and ``rest_beats`` (4, 21) are quantiles of
    a phrase's first to last onset and of the time from there to the next phrase.

    ``sounding`` (4 gaps, 21), ``swing`` (4 tempi, 21) and ``early_late`` (4 tempi, 4 places, 21,
    in ms) are quantiles of sounding length against gap, of swing ratio, and of how late notes
    fall; ``drift`` is the correlation of neighbouring deviations. ``windows`` are hashes of the
    phrases it was learnt from, so that none is said again. ``text`` is the file it was read from.
    """

    name: str
    about: str
    licence: str
    sources: tuple[str, ...]
    notes: int
    steps: Floats
    first: Floats
    last: Floats
    patterns: tuple[Pattern, ...]
    following: Floats
    opening: Floats
    closing: Floats
    phrase_beats: Floats
    rest_beats: Floats
    sounding: Floats
    swing: Floats
    early_late: Floats
    drift: float
    windows: frozenset[int] = field(repr=False)
    text: str = field(default="", repr=False)
