"""From counts to probabilities: what was seen seldom leans on what was seen often.

Each context is laid over a broader one, which counts as so many notes of its own (additive
interpolation as in Jelinek & Mercer 1980). Nothing is ever quite impossible.

On 38 solos in swing feel of the Weimar Jazz Database (Pfleiderer et al. 2017; ODbL 1.0), four
folds, what was left out is foretold in (see `tests.bench.idiom_likelihood`):

                                      bits a note   bits a beat
    the built-in plain idiom                 3.54          4.85
    intervals and beats alone                3.59          4.12
    one interval and one beat before         3.46          3.92
    and the degrees arrived at               3.36          3.92
    all, with the weights below              3.40          3.95
    all, with weights twice as large         3.35          3.89

The larger weights foretell better and were not taken. Lines are drawn from these tables, and a
judge told lines drawn from the flatter ones from people's a little more surely: area under the
curve on the notes alone 0.70 and 0.72 (trees, logistic) against 0.67 and 0.69, means of three sets
of styles.
"""

from __future__ import annotations

from collections import Counter

import numpy as np

from jam.idiom.classes import CLASSES, FAMILIES, GAPS, INTERVALS, PLACES, TEMPI
from jam.idiom.counts import Counts, Key
from jam.idiom.model import QUANTILES, Floats, Idiom

_N = len(INTERVALS)
_DEGREE = (np.arange(12)[:, None] + np.array(INTERVALS)) % 12

UNIFORM, GAP, CHAIN, LIFT, FAMILY, FULL = 0.3, 20.0, 20.0, 8.0, 40.0, 20.0
"""How many notes each broader context counts for."""

BEAT_ANY, BEAT_TEMPO, BEAT_ONE, BEAT_TWO = 0.5, 60.0, 15.0, 30.0
"""The same for beats."""


def idiom_of(
    counts: Counts, *, name: str, about: str = "", licence: str = "", sources: tuple[str, ...] = ()
) -> Idiom:
    """Return the idiom that follows from counts.

    Raises ValueError where a spread that is needed was never measured in any class.
    """
    following = _following(counts)
    count = len(counts.patterns)
    first = _dense(counts.first, (len(FAMILIES), len(PLACES), 12)) + 0.5
    last = _dense(counts.last, (len(FAMILIES), 12)) + 0.5
    broad = first.sum(axis=1, keepdims=True)
    first = first + 20.0 * broad / broad.sum(axis=-1, keepdims=True)
    return Idiom(
        name=name,
        about=about,
        licence=licence,
        sources=sources,
        notes=counts.notes,
        steps=_frozen(_steps(counts)),
        first=_frozen(_shares(first)),
        last=_frozen(_shares(last)),
        patterns=counts.patterns,
        following=_frozen(following),
        opening=_frozen(_ends(counts.opening, count)),
        closing=_frozen(_ends(counts.closing, count)),
        phrase_beats=_frozen(_spread(counts, "phrase_beats")),
        rest_beats=_frozen(_spread(counts, "rest_beats")),
        sounding=_frozen(_spread(counts, "sounding")),
        swing=_frozen(_spread(counts, "swing")),
        early_late=_frozen(_spread(counts, "early_late").reshape(len(TEMPI), len(PLACES), -1)),
        drift=counts.drift,
        windows=counts.windows,
    )


def _steps(counts: Counts) -> Floats:
    bare = _dense(counts.bare, (len(GAPS), CLASSES, _N))
    anywhere = _shares(bare.sum(axis=(0, 1)) + UNIFORM)
    by_gap = _over(bare.sum(axis=1), anywhere, GAP)
    chain = _over(bare, by_gap[:, None, :], CHAIN)
    full = _dense(counts.steps, (len(FAMILIES), len(PLACES), len(GAPS), CLASSES, 12, _N))
    lift = _lift(full)
    # [family, place, gap, class, degree, interval]
    prior = chain[None, None, :, :, None, :] * lift[:, :, None, None, :, :]
    prior /= prior.sum(axis=-1, keepdims=True)
    family = full.sum(axis=(1, 2), keepdims=True)
    return _over(full, _over(family, prior, FAMILY), FULL)


def _lift(full: Floats) -> Floats:
    """Return how much more often than one in twelve each degree is arrived at (5, 4, 12, 25)."""
    arrived = np.zeros((len(FAMILIES), len(PLACES), 12))
    by_pair = full.sum(axis=(2, 3))
    for degree in range(12):
        for way in range(_N):
            arrived[:, :, _DEGREE[degree, way]] += by_pair[:, :, degree, way]
    lift: Floats = (12.0 * _shares(arrived + LIFT))[:, :, _DEGREE]
    return lift


def _following(counts: Counts) -> Floats:
    count = len(counts.patterns)
    three = _dense(counts.beats, (len(TEMPI), count, count, count))
    anywhere = _shares(three.sum(axis=(0, 1, 2)) + BEAT_ANY)
    by_tempo = _over(three.sum(axis=(1, 2)), anywhere, BEAT_TEMPO)
    one = _over(three.sum(axis=1), by_tempo[:, None, :], BEAT_ONE)
    return _over(three, one[:, None, :, :], BEAT_TWO)


def _ends(counter: Counter[Key], count: int) -> Floats:
    found = _dense(counter, (len(TEMPI), count))
    anywhere = _shares(found.sum(axis=0) + BEAT_ANY)
    return _over(found, anywhere, BEAT_TEMPO)


def _spread(counts: Counts, name: str) -> Floats:
    """Return the quantiles (classes, 21) of a spread; a class without any takes the nearest's."""
    rows = counts.spreads.get(name, [])
    known = [number for number, row in enumerate(rows) if row]
    if not known:
        raise ValueError(f"nothing was measured of {name}")
    nearest = [min(known, key=lambda k: (abs(k - number), k)) for number in range(len(rows))]
    return np.array([rows[number] for number in nearest], dtype=float).reshape(-1, len(QUANTILES))


def _dense(counter: Counter[Key], shape: tuple[int, ...]) -> Floats:
    found = np.zeros(shape)
    for key, count in counter.items():
        found[key] += count
    return found


def _shares(counts: Floats) -> Floats:
    shares: Floats = counts / counts.sum(axis=-1, keepdims=True)
    return shares


def _over(counts: Floats, broader: Floats, weight: float) -> Floats:
    """Lay counts over the probabilities of a broader context that counts as ``weight`` notes."""
    laid: Floats = (counts + weight * broader) / (counts.sum(axis=-1, keepdims=True) + weight)
    return laid


def _frozen(table: Floats) -> Floats:
    table = np.ascontiguousarray(table, dtype=np.float64)
    table.flags.writeable = False
    return table
