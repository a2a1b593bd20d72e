"""Does a reply take up its call? Decided on notes alone, without a notion of cells.

A *run* is four consecutive notes of the call (three if the call has fewer than five). It
reappears in a reply where as many consecutive notes have

- its pitches, transposed freely, at most one note in four varied (none of three),
- its rhythm: each inter-onset interval within a third of a beat of the call's, either as it
  stands or scaled as a whole by a half, two thirds, three halves or two.

A longer shared run with at most one varied note in four always contains such a short one, so the
short ones decide. *Bent* allows every interval to differ by up to a tone as long as its direction
stays: a sequence in the next chord's scale. The *chance rate* puts the same replies beside calls
they do not answer.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from .reading import Note

SCALES = (1.0, 0.5, 2 / 3, 1.5, 2.0)
TOLERANCE_BEATS = 1 / 3

Window = Sequence[Note]


@dataclass(frozen=True)
class Shared:
    """What a reply shares with a call."""

    pitch: bool
    rhythm: bool
    both: bool
    bent: bool


def share(call: Sequence[Note], reply: Sequence[Note]) -> Shared | None:
    """Return what the two share, or None when the call has fewer than three notes."""
    size = 4 if len(call) >= 5 else 3
    if len(call) < size:
        return None
    pairs = [(a, b) for a in _windows(call, size) for b in _windows(reply, size)]
    pitch = [same_pitches(a, b) for a, b in pairs]
    rhythm = [same_rhythm(a, b) for a, b in pairs]
    bent = [bent_pitches(a, b) for a, b in pairs]
    return Shared(
        any(pitch),
        any(rhythm),
        any(p and r for p, r in zip(pitch, rhythm, strict=True)),
        any(p and r for p, r in zip(bent, rhythm, strict=True)),
    )


def _windows(notes: Sequence[Note], size: int) -> list[Window]:
    return [notes[i : i + size] for i in range(len(notes) - size + 1)]


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
    }
    count = max(1, len(shared))
    return {kind: sum(map(test, shared)) / count for kind, test in kinds.items()}


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
