"""Does a reply take up its call? Decided on notes alone, without a notion of cells.

A *run* is four consecutive notes of the call (three if the call has fewer than five). It
reappears in a reply where as many consecutive notes have

- its pitches, transposed freely, at most one note in four varied (none of three),
- its rhythm: each inter-onset interval within a third of a beat of the call's, either as it
  stands or scaled as a whole by a half, two thirds, three halves or two.

A longer shared run with at most one varied note in four always contains such a short one, so the
short ones decide. That is a low bar: the *chance rate*, the same replies beside calls they do not
answer, says how low. The same test with longer runs is harder to pass by chance, and *strict* is
harder still: a run of five, one note varied at most, its rhythm unscaled and within a sixth of a
beat. *Bent* lets every interval differ by up to a tone as long as its direction stays: a sequence
in the next chord's scale.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from .reading import Note

SCALES = (1.0, 0.5, 2 / 3, 1.5, 2.0)
TOLERANCE_BEATS = 1 / 3
STRICT_BEATS = 1 / 6
LONGEST = 8

Window = Sequence[Note]


@dataclass(frozen=True)
class Shared:
    """What a reply shares with a call. ``longest`` is the longest run, up to eight notes."""

    pitch: bool
    rhythm: bool
    both: bool
    bent: bool
    strict: bool
    longest: int


def share(call: Sequence[Note], reply: Sequence[Note]) -> Shared | None:
    """Return what the two share, or None when the call has fewer than three notes."""
    size = 4 if len(call) >= 5 else 3
    if len(call) < size:
        return None
    pairs = _pairs(call, reply, size)
    longer = range(size, min(LONGEST, len(call)) + 1)
    shared = [n for n in longer if any(same_run(a, b) for a, b in _pairs(call, reply, n))]
    return Shared(
        pitch=any(same_pitches(a, b) for a, b in pairs),
        rhythm=any(same_rhythm(a, b) for a, b in pairs),
        both=bool(shared),
        bent=any(bent_pitches(a, b) and same_rhythm(a, b) for a, b in pairs),
        strict=any(strictly(a, b) for a, b in _pairs(call, reply, min(5, len(call)))),
        longest=max(shared, default=0),
    )


def _pairs(call: Sequence[Note], reply: Sequence[Note], size: int) -> list[tuple[Window, Window]]:
    return [(a, b) for a in _windows(call, size) for b in _windows(reply, size)]


def _windows(notes: Sequence[Note], size: int) -> list[Window]:
    return [notes[i : i + size] for i in range(len(notes) - size + 1)]


def same_run(a: Window, b: Window) -> bool:
    """Tell whether pitches and rhythm both come again."""
    return same_pitches(a, b) and same_rhythm(a, b)


def strictly(a: Window, b: Window) -> bool:
    """Tell whether pitches and rhythm come again, the rhythm as it stands."""
    if not same_pitches(a, b):
        return False
    gaps = np.diff([n.beat for n in b]) - np.diff([n.beat for n in a])
    return bool(np.all(np.abs(gaps) <= STRICT_BEATS + 1e-6))


def same_pitches(a: Window, b: Window) -> bool:
    """Tell whether one transposition fits all notes but one in four."""
    shifts = Counter(y.pitch - x.pitch for x, y in zip(a, b, strict=True))
    return shifts.most_common(1)[0][1] >= len(a) - len(a) // 4


def bent_pitches(a: Window, b: Window) -> bool:
    """Tell whether every interval keeps its direction and changes by a tone at most."""
    intervals = [np.diff([note.pitch for note in window]) for window in (a, b)]
    same_way = np.sign(intervals[0]) == np.sign(intervals[1])
    return bool(np.all(same_way & (np.abs(intervals[0] - intervals[1]) <= 2)))


def same_rhythm(a: Window, b: Window) -> bool:
    """Tell whether the onsets follow one another alike, as they stand or scaled as a whole."""
    call, reply = (np.diff([note.beat for note in window]) for window in (a, b))
    return any(
        bool(np.all(np.abs(reply - scale * call) <= TOLERANCE_BEATS * min(1.0, scale) + 1e-6))
        for scale in SCALES
    )


def rates(pairs: Sequence[tuple[Sequence[Note], Sequence[Note]]]) -> dict[str, float]:
    """Return in how many of the (call, reply) pairs each thing is shared, from 0 to 1."""
    shared = [found for call, reply in pairs if (found := share(call, reply)) is not None]
    kinds: dict[str, Callable[[Shared], bool]] = {
        "cell": lambda s: s.both,
        "pitch": lambda s: s.pitch,
        "rhythm": lambda s: s.rhythm,
        "bent": lambda s: s.bent,
        "strict": lambda s: s.strict,
        **{f"{n} notes": partial(_at_least, n) for n in (5, 6, 8)},
    }
    count = max(1, len(shared))
    return {kind: sum(map(test, shared)) / count for kind, test in kinds.items()}


def _at_least(notes: int, shared: Shared) -> bool:
    return shared.longest >= notes


def strangers(
    pairs: Sequence[tuple[Sequence[Note], Sequence[Note]]], rng: np.random.Generator, times: int = 4
) -> list[tuple[Sequence[Note], Sequence[Note]]]:
    """Return each reply ``times`` over beside calls it does not answer, by chance."""
    if len(pairs) < 2:
        return []
    mixed = []
    for index, (_, reply) in enumerate(pairs):
        for other in rng.choice(len(pairs) - 1, size=min(times, len(pairs) - 1), replace=False):
            mixed.append((pairs[int(other) + (other >= index)][0], reply))
    return mixed
