"""A naive improviser to hold a judge against: a second-order chain learnt from human solos.

Each next note is drawn by the interval and gap before it, the degree on its chord, the kind of the
chord and the place in the beat; where that was hardly ever seen, by less and less of it. No plan,
no call, no rules.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from tests.bench.soloist_lines import (
    TICKS,
    Harmony,
    Line,
    degree_of,
    kind_of,
    phrase_numbers,
)
from tests.bench.soloist_people import Solo

Step = tuple[int, int]
"""Interval in semitones, gap in ticks."""

LOW, HIGH = 50, 86
SEEN = 3


class Chain:
    """Counts of what came next, in contexts from fine to coarse."""

    def __init__(self, solos: Sequence[Solo]) -> None:
        self._next: dict[tuple[object, ...], Counter[Step]] = defaultdict(Counter)
        for one in solos:
            line = one.line
            steps = _steps(line)
            for i in range(1, len(steps)):
                if line.phrases[i + 1] != line.phrases[i - 1]:
                    continue
                keys = _contexts(
                    line.harmony, steps[i - 1], line.pitches[i], line.ticks[i], steps[i - 2]
                )
                for key in keys:
                    self._next[key][steps[i]] += 1

    def draw(
        self, harmony: Harmony, last: Step, pitch: int, tick: int, before: Step,
        rng: np.random.Generator,
    ) -> Step:  # fmt: skip
        """Return a next step from the finest context seen often enough."""
        for key in _contexts(harmony, last, pitch, tick, before):
            counts = self._next.get(key)
            if counts is not None and sum(counts.values()) >= SEEN:
                options = [s for s in counts if LOW <= pitch + s[0] <= HIGH]
                if options:
                    weights = np.array([counts[s] for s in options], float)
                    return options[int(rng.choice(len(options), p=weights / weights.sum()))]
        return (int(rng.choice([-2, -1, 1, 2])), 6)


def _steps(line: Line) -> list[Step]:
    gaps = [b - a for a, b in pairwise(line.ticks)]
    return list(zip(line.intervals, gaps, strict=True))


def _contexts(
    harmony: Harmony, last: Step, pitch: int, tick: int, before: Step
) -> list[tuple[object, ...]]:
    symbol = harmony.at(tick / TICKS)
    degree, kind, place = degree_of(symbol, pitch), kind_of(symbol), tick % TICKS
    return [
        (last, before, degree, kind, place),
        (last, degree, kind, place),
        (last[0], last[1], degree, place),
        (last[0], degree, place),
        (degree, place),
        (place,),
    ]


def chain_lines(solos: Sequence[Solo], seed: int, beats: int = 14) -> list[Line]:
    """Return a phrase of the chain for every turn of the solos; it learns from the other half."""
    rng = np.random.default_rng((seed, 21))
    order = rng.permutation(len(solos))
    halves = [[solos[i] for i in order[k::2]] for k in (0, 1)]
    found = []
    for learnt, played in ((halves[0], halves[1]), (halves[1], halves[0])):
        chain = Chain(learnt)
        for one in played:
            for bar in range(0, one.bars - 4, 4):
                found.append(_phrase(chain, one, bar * 4 * TICKS, beats, rng))
    return found


def _phrase(chain: Chain, one: Solo, start: int, beats: int, rng: np.random.Generator) -> Line:
    line = one.line
    length = int(rng.integers(5, beats)) * TICKS
    tick = start + int(rng.choice([0, 6]))
    pitch = int(np.median(line.pitches)) + int(rng.integers(-5, 6))
    ticks, pitches = [tick], [pitch]
    last, before = (int(rng.choice([-2, -1, 1, 2])), 6), (0, 6)
    while ticks[-1] - start < length:
        step = chain.draw(line.harmony, last, pitches[-1], ticks[-1], before, rng)
        before, last = last, step
        pitches.append(pitches[-1] + step[0])
        ticks.append(ticks[-1] + max(1, step[1]))
    swing = 0.07
    heard = tuple(t / TICKS + (swing if t % TICKS == 6 else 0.0) for t in ticks)
    gaps = [b - a for a, b in pairwise(heard)] + [0.5]
    lengths = tuple(0.9 * min(gap, 1.0) for gap in gaps)
    return Line(
        line.name, line.bpm, tuple(ticks), heard, lengths, tuple(pitches),
        phrase_numbers(ticks, lengths), line.harmony,
    )  # fmt: skip
