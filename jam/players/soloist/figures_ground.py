"""A chord as figures see it, and the law that every figure keeps.

Everything here is in semitones above the chord's root, so that a figure found once serves all
twelve keys. A *line* is a row of such semitones that may go below 0 and above 12.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from operator import eq
from typing import NamedTuple

from jam.harmony.chord import Chord
from jam.harmony.families import FAMILIES
from jam.harmony.functions import Function, preference
from jam.harmony.keys import Key
from jam.harmony.scales import scale_of

Steps = tuple[int, ...]

WIDEST_LINE = 17
"""The widest span of a figure in semitones, an octave and a fourth."""

_LIKED = 3
_OCTAVES = 6


@dataclass(frozen=True)
class Ground:
    """What a figure stands on: ``tones`` are the chord's own (its bass left out), ``strong`` all
    that may stand by itself, ``liked`` what the chord's function likes of it, ``stack`` the chord
    in thirds from 1 towards 13, ``shared`` what is strong on the next chord too; ``cycle`` the
    root of the dominant that leads there, if it is no dominant that sounds now; ``home`` how far
    the key's tonic lies above the root, on a blues chord."""

    kind: str
    family: str
    function: Function
    tones: frozenset[int]
    strong: frozenset[int]
    liked: frozenset[int]
    scale: frozenset[int]
    stack: Steps
    shared: frozenset[int]
    cycle: int | None
    home: int


class Line(NamedTuple):
    """One figure in semitones above the root; ``words`` say what it is, ``likely`` how usual among
    its kind, ``over`` names a chord laid above: (semitones above the root, family), ``aim`` the
    note that it circles."""

    steps: Steps
    words: str = ""
    likely: float = 1.0
    over: tuple[int, str] | None = None
    aim: int | None = None


@lru_cache(maxsize=4096)
def ground_of(chord: Chord, function: Function, following: Chord | None, key: Key | None) -> Ground:
    """Return what figures over ``chord`` stand on, with or without a look at what comes next."""
    liking = preference(chord, function)
    strong = _above(chord.strong, chord)
    row = FAMILIES[chord.family]
    liked = frozenset(s for s in strong if liking[s] <= _LIKED)
    coming = following is not None and not following.is_none
    return Ground(
        row.kind,
        chord.family,
        function,
        row.tones,
        strong,
        liked,
        _above(scale_of(chord, function, key), chord),
        _stack(row.tones, liked, liking),
        strong & _above(following.strong, chord) if following is not None and coming else strong,
        cycle_of(chord, following),
        (key.tonic - chord.root) % 12 if key is not None and function == "blues" else 0,
    )


def _above(classes: Iterable[int], chord: Chord) -> frozenset[int]:
    return frozenset((c - chord.root) % 12 for c in classes)


def cycle_of(chord: Chord, following: Chord | None) -> int | None:
    """Return how far above a chord that is no dominant the dominant of ``following`` lies, None
    where that one is not led to so."""
    if following is None or following.is_none or following.root == chord.root:
        return None
    root = (following.root + 7 - chord.root) % 12
    leads = following.kind in ("minor", "half_diminished", "dominant")
    return root if leads and chord.kind in ("major", "minor") and root else None


def _stack(tones: frozenset[int], liked: frozenset[int], liking: Sequence[int]) -> Steps:
    """Return the chord in thirds, 1 3 5 7 9 11 13, each as the chord has it, as far as it goes
    without a gap or a step. A triad takes the seventh or sixth that it likes."""
    found = [0]
    own: tuple[Steps, ...] = ((4, 3, 5, 2), (7, 6, 8), (10, 11, 9))
    for choices in own:
        found += [s for s in choices if s in tones and s not in found][:1]
    if not {6, 7, 8} & tones and 8 in liked:
        found.insert(2, 8)
    if max(found) < 9:
        found += [s for s in own[2] if s in liked][:1]
    tensions: tuple[Steps, ...] = ((2, 1, 3), (5, 6), (9, 8))
    for choices in tensions:
        able = [s for s in choices if s in liked and s not in tones and s not in found]
        able = [s for s in able if 3 <= 12 + s - found[-1] <= 5]
        found += [12 + s for s in sorted(able, key=lambda s: liking[s])[:1]]
    return tuple(found)


# --- the law ---------------------------------------------------------------------------------


def lawful(line: Sequence[int], strong: frozenset[int]) -> bool:
    """Tell whether every note is strong or steps into a strong one, at once or after one more.

    The note between is an approach to the same target, or one from which the line turns back.
    """
    size = len(line)
    for index, note in enumerate(line):
        if note % 12 in strong:
            continue
        if index + 1 == size:
            return False
        middle = line[index + 1]
        if 1 <= abs(middle - note) <= 2 and middle % 12 in strong:
            continue
        if index + 2 == size or middle == note:
            return False
        target = line[index + 2]
        near = 4 if middle % 12 in strong else 2
        if target % 12 not in strong or not 1 <= abs(target - note) <= 2:
            return False
        if not 1 <= abs(target - middle) <= near or abs(middle - note) > 5:
            return False
    return True


def fits(line: Sequence[int], ground: Ground, count: int, *, repeats: bool = False) -> bool:
    """Tell whether a line has ``count`` notes, keeps the law, ends on a note that the chord's
    function likes, is not too wide and (unless it ``repeats``) strikes no note twice in a row."""
    if len(line) != count or line[-1] % 12 not in ground.liked:
        return False
    if max(line) - min(line) > WIDEST_LINE or not lawful(line, ground.strong):
        return False
    return repeats or not any(map(eq, line, line[1:]))


# --- ladders ---------------------------------------------------------------------------------


def ladder(classes: Iterable[int]) -> Steps:
    """Return the pitches of ``classes`` over several octaves, in order; 0 lies in the middle."""
    inside = sorted({c % 12 for c in classes})
    return tuple(12 * octave + c for octave in range(-_OCTAVES, _OCTAVES) for c in inside)


def laid(rungs: Steps, start: int, places: Sequence[int]) -> Steps:
    """Return the pitches at ``places`` on the ladder, counted from its rung ``start``."""
    base = rungs.index(start)
    return tuple([rungs[base + place] for place in places])


def shaped(
    ground: Ground, classes: Iterable[int], shapes: Iterable[Steps], starts: Iterable[int]
) -> Iterator[Steps]:
    """Yield every shape on the ladder of ``classes``, from every start, that keeps the law."""
    rungs = ladder(classes)
    bases = [rungs.index(start) for start in starts]
    for shape in shapes:
        top, bottom, last = max(shape), min(shape), shape[-1]
        for base in bases:
            wide = rungs[base + top] - rungs[base + bottom] > WIDEST_LINE
            if wide or rungs[base + last] % 12 not in ground.liked:
                continue
            line = tuple([rungs[base + place] for place in shape])
            if fits(line, ground, len(shape)):
                yield line


def neighbour(scale: frozenset[int], pitch: int, way: int) -> int:
    """Return the next note of ``scale`` above (1) or below (-1) ``pitch``."""
    pitch += way
    while pitch % 12 not in scale:
        pitch += way
    return pitch


def walk(scale: frozenset[int], start: int, count: int, way: int) -> Steps:
    """Return ``count`` notes of ``scale``, the first one being ``start``."""
    found = [start]
    while len(found) < count:
        found.append(neighbour(scale, found[-1], way))
    return tuple(found)


def onwards(ground: Ground, line: Steps, count: int) -> Iterator[tuple[Steps, float]]:
    """Yield the line led on to ``count`` notes, with how usual that is: back by step, on by step,
    or back with a third first."""
    more = count - len(line)
    if more <= 0:
        if not more:
            yield line, 1.0
        return
    way = -1 if line[-1] >= line[-2] else 1
    back = walk(ground.scale, line[-1], more + 2, way)
    yield line + back[1 : more + 1], 1.0
    yield line + back[2:], 0.7
    yield line + walk(ground.scale, line[-1], more + 1, -way)[1:], 0.4
    if more == 1:
        yield (*line, neighbour(ground.tones, line[-1], way)), 0.7
