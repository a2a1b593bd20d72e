"""Moves of the conversation: what is done with an idea before it is said again.

Each is a function from a statement to a statement, or to None where it would make nothing that can
be played. What a listener hears of each is in `jam.styles.names`.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from jam.players.soloist.chances import pick
from jam.players.soloist.slots import TICKS
from jam.players.soloist.statement import FIRM, SHORTEST, Statement

LONGEST = 8 * TICKS
"""No idea is stretched beyond two bars of four."""

OFF_ITS_BEAT = ", off its beat"
CHANGED = ", a little changed"
RETIMED = frozenset({"same_pitches", "augment", "diminish", "interpolate"})
SEQUENCES = frozenset({"sequence", "real_sequence"})

_WORDS = {
    1: "a half step", 2: "a step", 3: "a third", 4: "a third", 5: "a fourth", 6: "a tritone",
    7: "a fifth", 8: "a sixth", 9: "a sixth", 10: "a seventh", 11: "a seventh", 12: "an octave",
}  # fmt: skip


def interval_words(semitones: int) -> str:
    """Return how far up or down something is moved, in a musician's words."""
    if not semitones:
        return "at the same pitch"
    way = "up" if semitones > 0 else "down"
    if abs(semitones) > 12:
        return f"more than an octave {way}"
    return f"{_WORDS[abs(semitones)]} {way}"


def restate(said: Statement, keep: int | None = None) -> Statement:
    """Say it again on the chord that sounds now: its first ``keep`` notes at their intervals, the
    rest in its rhythm."""
    kept = tuple(i if keep is None or n < keep else None for n, i in enumerate(said.intervals))
    words = "your idea again" if keep is None or keep >= len(said) else "your idea, then on from it"
    return replace(said, move="restate", intervals=kept, note=words)


def sequence(said: Statement, semitones: int, *, real: bool = False) -> Statement:
    """Say it about ``semitones`` higher: bent to the degrees, or every interval exact (real)."""
    return replace(
        said,
        move="real_sequence" if real else "sequence",
        tonal=not real,
        start=None if said.start is None else said.start + semitones,
        note=f"your idea {interval_words(semitones)}",
    )


def same_rhythm(said: Statement) -> Statement:
    """Keep the rhythm, with other pitches."""
    free: tuple[int | None, ...] = (None,) * len(said)
    return replace(
        said,
        move="same_rhythm",
        intervals=free,
        firm=0,
        start=None,
        note="your rhythm, other notes",
    )


def same_pitches(said: Statement, gaps: Sequence[int]) -> Statement:
    """Keep the pitches, in another rhythm: ``gaps`` in ticks, gone round as often as needed."""
    steps = list(itertools.islice(itertools.cycle(gaps), len(said)))
    onsets = (0, *itertools.accumulate(steps[:-1]))
    return replace(
        said, move="same_pitches", onsets=tuple(onsets), lengths=tuple(steps), lates=(),
        note="your notes, another rhythm",
    )  # fmt: skip


def invert(said: Statement) -> Statement:
    """Turn it upside down about its first note."""
    turned = tuple(None if i is None else -i for i in said.intervals)
    return replace(said, move="invert", intervals=turned, tonal=True, note="your idea upside down")


def retrograde(said: Statement) -> Statement:
    """Say its notes from the last to the first, in its rhythm."""
    back = tuple(None if i is None else -i for i in reversed(said.intervals[1:]))
    start = said.start
    if start is not None and None not in said.intervals[1:]:
        start += sum(i for i in said.intervals[1:] if i is not None)
    return replace(
        said, move="retrograde", intervals=(None, *back), start=start, tonal=True,
        note="your idea backwards",
    )  # fmt: skip


def displace(said: Statement, ticks: int) -> Statement:
    """Move it against the beat by ``ticks``."""
    return replace(
        said, move="displace", phase=said.phase + ticks, lates=(), note=displaced_words(ticks)
    )


def displaced_words(ticks: int) -> str:
    """Return how far from its place in the bar an idea is said, ``ticks`` later."""
    if not ticks:
        return "your idea, in its place in the bar"
    beats = abs(ticks) / TICKS
    names = {0.5: "an eighth", 1.0: "a beat", 1.5: "a beat and a half", 2.0: "two beats"}
    near = max(0.5, round(2.0 * beats) / 2.0)
    by = names.get(near, f"{near:g} beats") if near == beats else f"about {names.get(near, near)}"
    return f"your idea, {by} {'later' if ticks > 0 else 'earlier'}"


def augment(said: Statement) -> Statement | None:
    """Say it in notes twice as long."""
    if 2 * said.span > LONGEST:
        return None
    return replace(
        said, move="augment", onsets=tuple(2 * o for o in said.onsets),
        lengths=tuple(2 * length for length in said.lengths), lates=(),
        note="your idea in longer notes",
    )  # fmt: skip


def diminish(said: Statement) -> Statement | None:
    """Say it in notes half as long."""
    gaps = [b - a for a, b in itertools.pairwise(said.onsets)]
    if any(gap % 2 or gap // 2 < SHORTEST + 1 for gap in gaps):
        return None
    return replace(
        said, move="diminish", onsets=tuple(o // 2 for o in said.onsets),
        lengths=tuple(max(SHORTEST, length // 2) for length in said.lengths), lates=(),
        note="your idea in shorter notes",
    )  # fmt: skip


def fragment(said: Statement, count: int, *, tail: bool = False) -> Statement:
    """Say only its first, or its last, ``count`` notes, one at least."""
    count = max(1, min(count, len(said)))
    part = said.part(len(said) - count, len(said)) if tail else said.part(0, count)
    return replace(part, move="fragment", note=f"the {'end' if tail else 'start'} of your idea")


def extend(said: Statement, count: int) -> Statement:
    """Carry on as it ends: its last interval and gap ``count`` times more."""
    if len(said) < 2:
        return said
    gap = said.onsets[-1] - said.onsets[-2]
    step = said.intervals[-1]
    onsets = (*said.onsets, *(said.onsets[-1] + gap * (n + 1) for n in range(count)))
    lengths = (*said.lengths[:-1], gap, *(said.lengths[-1],) * count)
    return replace(
        said, move="extend", onsets=onsets, lengths=lengths,
        intervals=(*said.intervals, *(step,) * count), tonal=True,
        lates=(*said.lates, *(0.0,) * count) if said.lates else (),
        note="your idea, carried on",
    )  # fmt: skip


def interpolate(said: Statement) -> Statement:
    """Put a passing note into every third that has room for one."""
    onsets, lengths, steps = list(said.onsets), list(said.lengths), list(said.intervals)
    for index in range(len(said) - 1, 0, -1):
        step, gap = steps[index], onsets[index] - onsets[index - 1]
        if step is None or abs(step) not in (3, 4) or gap < 2 * (SHORTEST + 1) or gap > TICKS:
            continue
        half = gap // 2
        first = 2 if step > 0 else -2
        onsets.insert(index, onsets[index - 1] + half)
        lengths[index - 1] = half
        lengths.insert(index, gap - half)
        steps[index : index + 1] = [first, step - first]
    return replace(
        said, move="interpolate", onsets=tuple(onsets), lengths=tuple(lengths),
        intervals=tuple(steps), tonal=True, lates=(), note="your idea, its gaps filled",
    )  # fmt: skip


def answer(said: Statement, *, closed: bool) -> Statement:
    """Say its head and leave the end free: to come to rest, or to stay open."""
    head = said.part(0, max(2, min(len(said) - 1, 2 * len(said) // 3)))
    how = "closed" if closed else "left open"
    return replace(head, move="answer", note=f"your question, {how}")


def quote(said: Statement, turns_ago: int) -> Statement:
    """Say something that was heard earlier."""
    when = "last time" if turns_ago == 1 else f"{turns_ago} turns ago"
    return replace(said, move="quote", firm=FIRM, note=f"what you said {when}")


def contrast(said: Statement, semitones: int) -> Statement:
    """Say its head in the other register, turned the other way."""
    head = invert(said.part(0, min(len(said), 4)))
    start = None if said.start is None else said.start + semitones
    return replace(head, move="contrast", start=start, note="your idea, the other way about")


def vary(said: Statement, rng: np.random.Generator) -> Statement:
    """Change a little, as people do when they say a thing again: a note less, the end open, another
    last interval, one interval wider or narrower."""
    return replace(_varied(said, rng), note=said.note + CHANGED)


def _varied(said: Statement, rng: np.random.Generator) -> Statement:
    count = len(said)
    kind = int(rng.integers(4)) if count > 3 else 3
    if kind == 0 and count > 4:
        return _without(said, int(rng.integers(1, count - 1)))
    if kind == 1:
        return replace(said, intervals=(*said.intervals[:-1], None))
    if kind == 2:
        return said.part(0, count - 1)
    place = int(rng.integers(1, count)) if count > 1 else 0
    step = said.intervals[place]
    if step is None:
        return said
    wider = step + pick((-2, -1, 1, 2), rng)
    return replace(said, intervals=(*said.intervals[:place], wider, *said.intervals[place + 1 :]))


def thin(said: Statement, count: int) -> Statement:
    """Leave out inner notes until ``count`` are left, those that are soonest over first."""
    if len(said) <= max(count, 2):
        return said
    while len(said) > max(count, 2):
        inner = range(1, len(said) - 1)
        said = _without(said, min(inner, key=lambda i: (said.onsets[i + 1] - said.onsets[i], -i)))
    return replace(said, note=f"{said.note}, fewer notes")


def _without(said: Statement, index: int) -> Statement:
    one, other = said.intervals[index], said.intervals[index + 1]
    merged = None if one is None or other is None else one + other
    longer = said.onsets[index + 1] - said.onsets[index - 1]
    return replace(
        said,
        onsets=said.onsets[:index] + said.onsets[index + 1 :],
        lengths=(*said.lengths[: index - 1], longer, *said.lengths[index + 1 :]),
        intervals=(*said.intervals[:index], merged, *said.intervals[index + 2 :]),
        lates=said.lates[:index] + said.lates[index + 1 :],
    )
