"""What the degrees and devices of a recipe are on a chord, in semitones above its root.

A plain number is the chord's own degree. 1 3 5 7 are its chord tones; where it has none of that
letter, its tension or scale note. 9 11 13 are natural, as chord symbols count them, unless the
chord writes another one or the natural one is not available on it: then the one that is (11 over a
major seventh is #11, 9 over an altered dominant b9). 2 4 6 may be of the chord's scale as well. A
sign or ``natural`` fixes the distance from the root whatever the chord. 8 to 15 lie an octave up.

The scale of a chord is `jam.harmony.scales`; where a run begins or ends on a note outside it, that
note stands for its letter.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from jam.harmony.changes import Change
from jam.harmony.chord import Chord
from jam.harmony.keys import Key
from jam.harmony.scales import scale_of
from jam.styles.recipe_meaning import stacked, zigzag
from jam.styles.recipe_words import MAJOR, Degree, Device, Kind

Step = tuple[int, str]
"""Semitones above the root (octave included), and what was asked for in words."""

_ODD: dict[int, tuple[int, ...]] = {1: (0,), 3: (4, 3), 5: (7, 6, 8), 7: (10, 11)}
_EVEN: dict[int, tuple[int, ...]] = {2: (2, 1, 3), 4: (5, 6), 6: (9, 8)}
_DIMINISHED_SEVENTH = 9


def semitones(degree: Degree, change: Change, key: Key | None = None) -> int:
    """Return how far above the root (octave included) ``degree`` lies on the chord."""
    octave = 12 * (degree.height // 7)
    if degree.sign:
        return octave + MAJOR[degree.letter - 1] + {"b": -1, "#": 1, "natural": 0}[degree.sign]
    return octave + _own(degree, change, key)


def _own(degree: Degree, change: Change, key: Key | None) -> int:
    chord, letter = change.chord, degree.letter
    scale = _above(chord, scale_of(chord, change.function, key))
    tones, tensions = _above(chord, chord.tones), _above(chord, chord.tensions)
    if letter in _ODD:
        choice = _ODD[letter]
        if letter == 7 and chord.kind == "diminished":
            choice = (_DIMINISHED_SEVENTH,)
        return _first(choice, tones, tensions, scale)
    choice = _EVEN[letter]
    natural = choice[0]
    written = _above(chord, chord.written)
    if natural in tones:
        return natural
    if not written.isdisjoint(choice):
        return _first(choice, written)
    if natural in tensions or (degree.number < 8 and natural in scale):
        return natural
    return _first(choice, tensions, scale - tones)


def _above(chord: Chord, classes: frozenset[int]) -> frozenset[int]:
    return frozenset((one - chord.root) % 12 for one in classes)


def _first(choice: tuple[int, ...], *pools: frozenset[int]) -> int:
    """Return the first of ``choice`` that is in the first pool with any of them."""
    return next((one for pool in pools for one in choice if one in pool), choice[0])


def ladder(change: Change, key: Key | None, ends: tuple[int, ...]) -> frozenset[int]:
    """Return the chord's scale, chord tones and ``ends`` as 0 to 11 above the root; an end outside
    the scale stands for the note of its letter."""
    chord = change.chord
    tones = _above(chord, chord.tones)
    rungs = _above(chord, scale_of(chord, change.function, key)) | tones
    for end in (end % 12 for end in ends):
        if end in rungs:
            continue
        letters = [c for c in (*_ODD.values(), *_EVEN.values()) if end in c]
        same = {one for choice in letters for one in choice}
        rungs = frozenset(one for one in rungs if one not in same or one in tones) | {end}
    return rungs


def _neighbour(rungs: frozenset[int], place: int, *, up: bool) -> int:
    way = 1 if up else -1
    return next(place + way * k for k in range(1, 13) if (place + way * k) % 12 in rungs)


def steps_of(device: Device, change: Change, key: Key | None = None) -> list[Step]:
    """Return the notes that a device plays on the chord, in order."""
    return _PLAYED[device.kind](device, change, key)


def _degrees(device: Device, change: Change, key: Key | None) -> list[Step]:
    return [(semitones(one, change, key), str(one)) for one in device.degrees]


def _struck(device: Device, change: Change, key: Key | None) -> list[Step]:
    return _degrees(device, change, key) * device.times


def _step(device: Device, change: Change, key: Key | None) -> list[Step]:
    goal = semitones(device.degrees[0], change, key)
    return [(_neighbour(ladder(change, key, (goal,)), goal, up=device.up), device.words)]


def _chromatic(device: Device, change: Change, key: Key | None) -> list[Step]:
    goal = semitones(device.degrees[0], change, key)
    return [(goal + (1 if device.up else -1), device.words)]


def _arpeggio(device: Device, change: Change, key: Key | None) -> list[Step]:
    degrees = stacked(device)
    if device.kind == "broken":
        degrees = zigzag(degrees)
    return [(semitones(one, change, key), str(one)) for one in degrees]


def _rungs_between(device: Device, change: Change, key: Key | None) -> list[Step]:
    """Return the scale from the first degree to the last, both as they are written."""
    (first, said), (last, aim) = _degrees(device, change, key)
    rungs = ladder(change, key, (first, last))
    way = 1 if last > first else -1
    inner = [p for p in range(first + way, last, way) if p % 12 in rungs]
    return [(first, said), *((place, "") for place in inner), (last, aim)]


def _half_steps(device: Device, change: Change, key: Key | None) -> list[Step]:
    (first, said), (last, aim) = _degrees(device, change, key)
    way = 1 if last > first else -1
    return [(first, said), *((p, "") for p in range(first + way, last, way)), (last, aim)]


def _thirds(device: Device, change: Change, key: Key | None) -> list[Step]:
    run = _rungs_between(device, change, key)
    return [one for pair in zip(run, run[2:], strict=False) for one in pair]


def _turn(device: Device, change: Change, key: Key | None) -> list[Step]:
    goal, name = _degrees(device, change, key)[0]
    rungs = ladder(change, key, (goal,))
    above, below = (_neighbour(rungs, goal, up=up) for up in (True, False))
    return [
        (above, f"step above {name}"),
        (goal, name),
        (below, f"step below {name}"),
        (goal, name),
    ]


def _enclosure(device: Device, change: Change, key: Key | None) -> list[Step]:
    goal, name = _degrees(device, change, key)[0]
    above = _neighbour(ladder(change, key, (goal,)), goal, up=True)
    sides = [(above, f"step above {name}"), (goal - 1, f"half step below {name}")]
    return [*(sides if device.up else reversed(sides)), (goal, name)]


_PLAYED: Mapping[Kind, Callable[[Device, Change, Key | None], list[Step]]] = {
    "degrees": _degrees,
    "land": _degrees,
    "leap": _degrees,
    "repeat": _struck,
    "step": _step,
    "chromatic": _chromatic,
    "arpeggio": _arpeggio,
    "broken": _arpeggio,
    "scale": _rungs_between,
    "half steps": _half_steps,
    "thirds": _thirds,
    "turn": _turn,
    "enclose": _enclosure,
}
