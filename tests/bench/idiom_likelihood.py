"""How well does an idiom foretell solos that it was not learnt from? In bits a note and a beat.

    python -m tests.bench.idiom_likelihood --data FOLDER           # against simpler chains
    python -m tests.bench.idiom_likelihood --data FOLDER --weights # and with other back-off weights

Four folds over whole solos (fold k holds every fourth solo in order of their names, from the
k-th), the counts of three foretelling the fourth. Fewer bits are better; they say nothing of which
lines sound best when they are drawn.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from math import log2
from pathlib import Path

from jam.idiom import backoff
from jam.idiom.counts import Counts, Key
from jam.idiom.learn import Played, learn, nearest
from jam.idiom.model import Idiom
from jam.idiom.plain import plain_idiom
from tests.bench.idiom_ship import swinging
from tests.bench.soloist_people import folder

FOLDS = 4
Fold = tuple[Counts, tuple[Counts, ...]]
"""The counts learnt from, and those of each solo left out."""

TRIED: dict[str, tuple[float, ...]] = {
    "FULL": (5, 10, 40, 80),
    "FAMILY": (10, 20, 80, 160),
    "CHAIN": (6, 40),
    "GAP": (6, 60),
    "LIFT": (2, 30),
    "UNIFORM": (0.1, 3),
    "BEAT_TWO": (10, 20, 60),
    "BEAT_ONE": (5, 30),
    "BEAT_TEMPO": (20, 150),
    "BEAT_ANY": (0.2, 2),
}


def folds_of(lines: Sequence[Played]) -> list[Fold]:
    """Return the counts of each fold."""
    each = [learn([line]) for line in lines]
    found = []
    for k in range(FOLDS):
        kept = [line for number, line in enumerate(lines) if number % FOLDS != k]
        found.append((learn(kept), tuple(each[k::FOLDS])))
    return found


def bits(folds: Sequence[Fold], idiom_of: Callable[[Counts], Idiom]) -> tuple[float, float]:
    """Return bits an interval and bits a beat of what was left out.

    An idiom with fewer patterns shares the likelihood of one evenly among those folded into it.
    """
    note = note_count = beat = beat_count = 0.0
    for known, tests in folds:
        idiom = idiom_of(known)
        for counts in tests:
            for key, times in counts.steps.items():
                note -= times * log2(idiom.steps[key])
                note_count += times
            folded = Counter(_numbers(known.patterns, idiom.patterns))
            for key, times in _beats(counts, idiom.patterns):
                beat -= times * log2(idiom.following[key] / folded[key[-1]])
                beat_count += times
    return note / note_count, beat / beat_count


def _beats(counts: Counts, patterns: Sequence[Key]) -> Iterator[tuple[Key, int]]:
    known = _numbers(counts.patterns, patterns)
    for (tempo, *row), times in counts.beats.items():
        yield (tempo, *(known[p] for p in row)), times


def _numbers(patterns: Sequence[Key], known: Sequence[Key]) -> list[int]:
    """Return which of the ``known`` patterns each one is, or is most like."""
    index = {pattern: number for number, pattern in enumerate(known)}
    return [index[p] if p in index else nearest(p, known) for p in patterns]


def learnt(counts: Counts) -> Idiom:
    """Return the idiom as it ships."""
    return backoff.idiom_of(counts, name="learnt")


def intervals_alone(counts: Counts) -> Idiom:
    """Return one that knows how often each interval and each beat comes, and no more."""
    bare: Counter[Key] = Counter()
    for (*_, way), times in counts.bare.items():
        bare[0, 0, way] += times
    beats: Counter[Key] = Counter()
    for (*_, pattern), times in counts.beats.items():
        beats[0, 0, 0, pattern] += times
    return _weighted(replace(counts, bare=bare, steps=Counter(), beats=beats), 1e9)


def chain_alone(counts: Counts) -> Idiom:
    """Return one that knows the interval before and the gap; the beat before and the tempo."""
    return _weighted(replace(counts, steps=Counter()), None)


def degrees_too(counts: Counts) -> Idiom:
    """Return one that knows besides which degrees are arrived at on each family and place."""
    return _weighted(counts, None, FULL=1e9, FAMILY=1e9)


def _weighted(counts: Counts, chain: float | None, **weights: float) -> Idiom:
    given = {"BEAT_TWO": 1e9, **weights}
    if chain is not None:
        given |= {"CHAIN": chain, "GAP": chain, "BEAT_ONE": chain, "BEAT_TEMPO": chain}
    before = {name: getattr(backoff, name) for name in given}
    try:
        for name, weight in given.items():
            setattr(backoff, name, weight)
        return learnt(counts)
    finally:
        for name, weight in before.items():
            setattr(backoff, name, weight)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description="bits a note and a beat, four folds")
    parser.add_argument("--data", type=Path, required=True, help="the folder of solos")
    parser.add_argument("--weights", action="store_true", help="try other back-off weights")
    args = parser.parse_args()
    where = folder(args.data)
    assert where is not None
    folds = folds_of(swinging(where))
    kinds = {
        "plain (built in)": lambda _: plain_idiom(),
        "intervals and beats alone": intervals_alone,
        "one interval, one beat before": chain_alone,
        "and degrees arrived at": degrees_too,
        "as it ships": learnt,
    }
    print(f"{'':32} bits a note  bits a beat")  # noqa: T201
    for name, idiom_of in kinds.items():
        print("{:32} {:11.3f}  {:11.3f}".format(name, *bits(folds, idiom_of)), flush=True)  # noqa: T201
    for name, weights in TRIED.items() if args.weights else ():
        before = getattr(backoff, name)
        for weight in weights:
            setattr(backoff, name, float(weight))
            row = "{:11.3f}  {:11.3f}".format(*bits(folds, learnt))
            print(f"{name + f' {weight:g} for {before:g}':32} {row}", flush=True)  # noqa: T201
        setattr(backoff, name, before)


if __name__ == "__main__":
    main()
