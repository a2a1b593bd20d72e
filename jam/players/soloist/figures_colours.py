"""Colours on dominants and minor chords, and trips out of the chord that come back."""

from __future__ import annotations

from collections.abc import Iterator

from jam.players.soloist.figures_ground import WIDEST_LINE, Ground, Line, ladder, laid, shaped
from jam.players.soloist.figures_shapes import patterned, shapes, stacked

_ALTERED = frozenset((0, 1, 3, 4, 6, 8, 10))
_TO_MINOR = frozenset((0, 1, 3, 4, 7, 8, 10))
_HALF_WHOLE = frozenset((0, 1, 3, 4, 6, 7, 9, 10))
_WHOLE_HALF = frozenset((0, 2, 3, 5, 6, 8, 9, 11))
_WHOLE_TONE = frozenset((0, 2, 4, 6, 8, 10))
_MELODIC_MINOR = frozenset((0, 2, 3, 5, 7, 9, 11))
_LYDIAN_DOMINANT = frozenset((0, 2, 4, 6, 7, 9, 10))
_SHORTEST_TRIP = 4


def altered(ground: Ground, count: int, _off: bool) -> Iterator[Line]:
    """Yield lines of b9 #9 b13 (and #11) on a dominant that resolves."""
    scale = _TO_MINOR if ground.function == "to_minor" and 7 in ground.tones else _ALTERED
    yield from _coloured(ground, scale, {1, 3, 8}, count, "altered")


def diminished(ground: Ground, count: int, _off: bool) -> Iterator[Line]:
    """Yield half and whole steps in turn, and diminished chords broken."""
    if ground.kind == "diminished":
        yield from _coloured(ground, _WHOLE_HALF, {2, 5, 8, 11}, count, "whole and half steps")
        yield from _coloured(ground, frozenset((0, 3, 6, 9)), {3, 6}, count, "diminished chord")
        return
    if ground.function != "to_minor":
        yield from _coloured(ground, _HALF_WHOLE, {1, 3}, count, "half and whole steps")
    yield from _coloured(ground, frozenset((1, 4, 7, 10)), {1}, count, "diminished chord")


def whole_tone(ground: Ground, count: int, _off: bool) -> Iterator[Line]:
    """Yield whole steps and augmented triads."""
    # The augmented triad leaves its seventh open.
    scale = _WHOLE_TONE - {10} if ground.kind == "augmented" else _WHOLE_TONE
    yield from _coloured(ground, scale, {6, 8}, count, "whole tones")


def melodic_minor(ground: Ground, count: int, _off: bool) -> Iterator[Line]:
    """Yield lines of melodic minor: on the chord itself, a fifth above (Lydian dominant) or a half
    step above (altered) a dominant."""
    if ground.kind == "minor":
        yield from _coloured(ground, _MELODIC_MINOR, {11}, count, "melodic minor")
    elif ground.function == "to_minor":
        yield from _coloured(ground, _ALTERED, {1, 8}, count, "melodic minor from the b9")
    else:
        yield from _coloured(ground, _LYDIAN_DOMINANT, {6}, count, "melodic minor from the 5")


def _coloured(
    ground: Ground, scale: frozenset[int], telling: set[int], count: int, words: str
) -> Iterator[Line]:
    """Yield shapes on a scale that is strong all over, with two notes at least that tell it (one
    where it has no more)."""
    if not scale <= ground.strong:
        return
    least = min(2, len(telling))
    for line in shaped(ground, scale, shapes(count), sorted(scale)):
        if len(telling & {step % 12 for step in line}) >= least:
            yield Line(line, words)


# --- outside ------------------------------------------------------------------------------------


def side_step(ground: Ground, count: int, _off: bool) -> Iterator[Line]:
    """Yield a pattern a half step above or below the chord, the last note back in it."""
    family = ground.family
    for far in (1, -1):
        moved = frozenset((s + far) % 12 for s in ground.liked)
        yield from _trip(ground, moved, count, (far, family), "side-step")


def substitute(ground: Ground, count: int, _off: bool) -> Iterator[Line]:
    """Yield a line on the tritone substitute of a dominant, or on the dominant of the chord that
    comes next; its last note is back in the chord."""
    if ground.kind == "dominant":
        notes = frozenset((s + 6) % 12 for s in (0, 2, 4, 7, 10))
        yield from _trip(ground, notes, count, (6, "7"), "tritone substitute")
    elif ground.cycle is not None:
        notes = frozenset((s + ground.cycle) % 12 for s in (0, 1, 4, 7, 10))
        yield from _trip(ground, notes, count, (ground.cycle, "7"), "dominant of what comes")


def _trip(
    ground: Ground, notes: frozenset[int], count: int, over: tuple[int, str], words: str
) -> Iterator[Line]:
    """Yield shapes on ``notes`` of another chord, with a half step back to the chord that sounds.

    A substitute of a dominant shares its altered notes; any other trip must be heard as one.
    """
    rungs = ladder(notes)
    if count < _SHORTEST_TRIP:
        return
    falling = tuple(range(0, 1 - count, -1))
    starts = sorted((over[0] + s) % 12 for s in (0, 3, 4, 7, 10) if (over[0] + s) % 12 in notes)
    for shape in (*patterned(count - 1), *stacked(count - 1), falling):
        for start in starts:
            line = laid(rungs, start, shape)
            inside = {s % 12 for s in line} <= ground.strong
            if max(line) - min(line) >= WIDEST_LINE or (inside and ground.kind != "dominant"):
                continue
            for step in (-1, 1):
                if (line[-1] + step) % 12 in ground.liked:
                    yield Line((*line, line[-1] + step), words, 1.0, over)
