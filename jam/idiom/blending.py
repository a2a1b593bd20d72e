"""A little playing of one's own laid over a body of others'.

Where there is too little to stand alone, each note of one's own counts for `OWN` of the others': so
one's own habits tell where one has shown them, and theirs hold elsewhere.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from jam.idiom.counts import Counts, Key
from jam.idiom.learn import MOST_PATTERNS, nearest

ENOUGH_NOTES = 1_000
"""From so many notes on, playing stands alone."""

OWN = 8
"""How many notes of others one of one's own counts for."""

_ENOUGH_PHRASES = 20


def blended(own: Counts, base: Counts) -> Counts:
    """Return ``own`` counts laid over ``base``; notes and phrases are told of ``own`` alone.

    Spreads are those of ``base``, but for lengths, rests, time and swing of a body of playing that
    has a fair number of phrases.
    """
    patterns = _usual(own, base)
    return replace(
        own,
        steps=_times(own.steps) + base.steps,
        bare=_times(own.bare) + base.bare,
        first=_times(own.first) + base.first,
        last=_times(own.last) + base.last,
        patterns=patterns,
        beats=_both(own.beats, own.patterns, base.beats, base.patterns, patterns),
        opening=_both(own.opening, own.patterns, base.opening, base.patterns, patterns),
        closing=_both(own.closing, own.patterns, base.closing, base.patterns, patterns),
        spreads=_spreads(own, base, fair=own.phrases >= _ENOUGH_PHRASES),
        drift=own.drift if own.phrases >= _ENOUGH_PHRASES else base.drift,
        windows=own.windows | base.windows,
    )


def filled(own: Counts, base: Counts) -> Counts:
    """Return ``own`` counts with what was never measured in them taken from ``base``: a spread, or
    all that is told of beats (those of 12/8 are not counted)."""
    spreads = {
        name: own.spreads[name] if any(own.spreads.get(name, ())) else rows
        for name, rows in base.spreads.items()
    }
    if own.beats:
        return replace(own, spreads=spreads)
    return replace(
        own,
        spreads=spreads,
        patterns=base.patterns,
        beats=base.beats,
        opening=base.opening,
        closing=base.closing,
    )


def _spreads(own: Counts, base: Counts, *, fair: bool) -> dict[str, list[list[float]]]:
    return {
        name: [
            (mine if fair else []) or theirs
            for mine, theirs in zip(own.spreads[name], rows, strict=True)
        ]
        for name, rows in base.spreads.items()
    }


def _times(counts: Counter[Key]) -> Counter[Key]:
    return Counter({key: OWN * count for key, count in counts.items()})


def _usual(own: Counts, base: Counts) -> tuple[Key, ...]:
    """Return the patterns of both that come most often, the empty one first."""
    found: Counter[Key] = Counter()
    for counts, weight in ((base, 1), (own, OWN)):
        for (*_, number), count in counts.beats.items():
            found[counts.patterns[number]] += weight * count
    found.pop((), None)
    usual = sorted(found, key=lambda pattern: (-found[pattern], pattern))
    return ((), *usual[: MOST_PATTERNS - 1])


def _both(
    own: Counter[Key],
    own_patterns: Sequence[Key],
    base: Counter[Key],
    base_patterns: Sequence[Key],
    patterns: Sequence[Key],
) -> Counter[Key]:
    return _times(_renumbered(own, own_patterns, patterns)) + _renumbered(
        base, base_patterns, patterns
    )


def _renumbered(counts: Counter[Key], old: Sequence[Key], new: Sequence[Key]) -> Counter[Key]:
    index = {pattern: number for number, pattern in enumerate(new)}
    number = [index[p] if p in index else nearest(p, new) for p in old]
    found: Counter[Key] = Counter()
    for (tempo, *row), count in counts.items():
        found[(tempo, *(number[p] for p in row))] += count
    return found
