"""The idiom that is always at hand: published medians of human solos, and no file.

All figures are medians over 208 solos in 4/4 swing feel of the Weimar Jazz Database (Pfleiderer,
Frieler, Abesser, Zaddach, Burkhart (eds.) 2017, "Inside the Jazzomat"; ODbL 1.0): intervals,
degrees, notes a beat, lengths of phrases and rests. Where an interval's median rounds to 0.0, a
tenth of its 95th percentile stands in. What note follows which is not among them, so this idiom
knows no habits of more than one step.
"""

from __future__ import annotations

from collections import Counter
from functools import lru_cache
from math import sqrt

from jam.idiom.backoff import idiom_of
from jam.idiom.classes import CLASSES, FAMILIES, GAPS, INTERVALS, PLACES, TEMPI
from jam.idiom.counts import Counts, Key
from jam.idiom.model import Idiom

_FALLING = (0.07, 0.03, 0.06, 0.3, 0.3, 0.6, 0.6, 2.7, 4.7, 8.7, 16.2, 13.2)
_RISING = (14.8, 11.8, 8.9, 3.5, 2.6, 0.5, 1.0, 0.4, 0.3, 0.09, 0.06, 0.07)
INTERVAL_SHARES = (*_FALLING, 3.5, *_RISING)
"""How often each interval from -12 to 12 comes, in %."""

ALL_DEGREES = (14.5, 4.2, 10.3, 7.5, 9.2, 8.7, 4.0, 14.3, 4.4, 8.3, 9.2, 5.4)
FIRST_DEGREES = (16.0, 4.4, 9.5, 7.4, 7.6, 7.9, 5.0, 16.6, 4.4, 7.4, 7.8, 6.0)
LAST_DEGREES = (24.5, 2.1, 6.9, 7.1, 9.4, 7.5, 2.9, 18.8, 2.2, 7.6, 8.4, 2.7)
"""How often each semitone above the root comes, in %, over all chords."""

_PATTERNS: tuple[Key, ...] = ((), (0,), (6,), (0, 6), (0, 4, 8), (0, 6, 9), (0, 3, 6, 9))
_BEATS = (6.1, 11.5, 11.5, 43.5, 8.0, 3.8, 2.7)
_PHRASE_BEATS = (0.5, 3.2, 4.0, 4.6, 5.0, 5.2, 5.7, 6.2, 6.7, 7.2, 7.8, 8.4, 9.0, 9.7, 10.4, 11.2,
                 12.3, 13.6, 15.0, 16.6, 24.0)  # fmt: skip
_REST_BEATS = (1.0, 1.6, 1.7, 1.9, 2.0, 2.1, 2.3, 2.4, 2.6, 2.7, 2.9, 3.0, 3.2, 3.3, 3.5, 3.6,
               3.9, 4.3, 4.7, 5.2, 8.0)  # fmt: skip
_WEIGHT = 100


@lru_cache(maxsize=1)
def plain_idiom() -> Idiom:
    """Return the built-in idiom."""
    return idiom_of(plain_counts(), name="plain", about="published medians of human solos")


def plain_counts() -> Counts:
    """Return what the built-in idiom is made of; no note of it was counted here."""
    steps: Counter[Key] = Counter()
    bare: Counter[Key] = Counter()
    for way, share in enumerate(INTERVAL_SHARES):
        for gap in range(len(GAPS)):
            for reached in range(CLASSES):
                bare[gap, reached, way] = round(_WEIGHT * share)
        for family in range(len(FAMILIES)):
            for place in range(len(PLACES)):
                for degree in range(12):
                    arrived = ALL_DEGREES[(degree + INTERVALS[way]) % 12]
                    count = round(_WEIGHT * share * sqrt(arrived / 8.3))
                    steps[family, place, 1, 0, degree, way] = count
    families, places, tempi = range(len(FAMILIES)), range(len(PLACES)), range(len(TEMPI))
    return Counts(
        steps=steps,
        bare=bare,
        first=Counter(
            {
                (f, p, d): round(_WEIGHT * s)
                for f in families
                for p in places
                for d, s in enumerate(FIRST_DEGREES)
            }
        ),
        last=Counter(
            {(f, d): round(_WEIGHT * s) for f in families for d, s in enumerate(LAST_DEGREES)}
        ),
        patterns=_PATTERNS,
        beats=Counter(
            {(t, 0, 0, p): round(_WEIGHT * s) for t in tempi for p, s in enumerate(_BEATS)}
        ),
        opening=Counter(
            {(t, p): round(_WEIGHT * s) for t in tempi for p, s in enumerate(_BEATS) if p}
        ),
        closing=Counter(
            {(t, p): round(_WEIGHT * s) for t in tempi for p, s in enumerate(_BEATS) if p}
        ),
        spreads={
            "phrase_beats": [list(_PHRASE_BEATS)] * len(TEMPI),
            "rest_beats": [list(_REST_BEATS)] * len(TEMPI),
            "sounding": [[0.9] * 21] * len(GAPS),
            "swing": [[ratio] * 21 for ratio in (1.37, 1.32, 1.31, 1.2)],
            "early_late": [[0.0] * 21] * (len(TEMPI) * len(PLACES)),
        },
    )
