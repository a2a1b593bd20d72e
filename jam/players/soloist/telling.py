"""What was said in fact? The words of a statement, held against the notes that were drawn.

A statement asks for its intervals; chords, range and hard rules may bend them. So what the log says
of a sequence is measured, and what is hardly left of an idea is not called by its name.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby, pairwise

from jam.players.soloist.moves import CHANGED, SEQUENCES, interval_words
from jam.players.soloist.slots import RUNS, TICKS, Slot

_KNOWN = 0.6
"""With fewer of its intervals than this share, to the half step, an idea is said freely."""

_FREELY = ", freely"

_HEAD = 3
"""Of so many notes the middle move tells where a sequence lies: one alone may be bent."""


def words_of(slots: Sequence[Slot], pitches: Sequence[int]) -> list[str]:
    """Return for each note what is to be said of it, empty where its slot says nothing."""
    found: list[str] = []
    reference: list[int] = []
    for group, members in groupby(range(len(slots)), key=lambda i: slots[i].group):
        part = list(members)
        first = slots[part[0]]
        if group >= RUNS or first.place:
            found += [slots[i].why or _onward(slots, pitches, i) for i in part]
            continue
        bent = _bent([slots[i] for i in part], [pitches[i] for i in part])
        head = first.why
        said = [pitches[i] for i in part]
        if first.move in SEQUENCES and reference:
            head = _sequence_words(first, reference, said, bent)
        elif bent and sum(b <= 1 for b in bent) < _KNOWN * len(bent):
            head += _FREELY
        found += [head if slots[i].why == first.why else slots[i].why for i in part]
        reference = said
    return found


def _onward(slots: Sequence[Slot], pitches: Sequence[int], index: int) -> str:
    """Return how a free note goes on from the one before it."""
    slot = slots[index]
    if slot.move != "run" or not index or slot.tick - slots[index - 1].end >= TICKS:
        return ""
    return f"on from there, {interval_words(pitches[index] - pitches[index - 1])}"


def _bent(said: Sequence[Slot], pitches: Sequence[int]) -> list[int]:
    """Return by how many semitones each interval that was asked for was bent."""
    return [
        abs(pitches[n] - pitches[n - 1] - slot.wanted)
        for n, (_, slot) in enumerate(pairwise(said), start=1)
        if slot.wanted is not None
    ]


def _sequence_words(
    first: Slot, before: Sequence[int], said: Sequence[int], bent: Sequence[int]
) -> str:
    """Return where a sequence lies, as against the saying ``before`` it: by its first notes."""
    changed = CHANGED in first.why
    moved = [b - a for a, b in zip(before, said, strict=False)]
    head = sorted(moved[:_HEAD])
    words = f"your idea {interval_words(head[(len(head) - 1) // 2])}" + CHANGED * changed
    if bent and sum(b <= 1 for b in bent) < _KNOWN * len(bent):
        return words + _FREELY
    exact = len(moved) > 2 and len(set(moved)) == 1
    return words + (", exact" if exact and not changed else "")
