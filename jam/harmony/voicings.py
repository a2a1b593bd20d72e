"""Voicings for an accompanist: guide tones, shells and rootless left-hand positions.

Pitches are MIDI numbers, low to high. Rootless positions as taught (four teaching pages that
agree): A has the 3rd lowest (3 5 7 9, on a dominant 3 13 7 9), B the 7th lowest (7 9 3 5, on a
dominant 7 9 3 13); the top note lies between middle C and the B above, which settles the octave.
Half-diminished and diminished chords keep their root in place of the ninth, triads are played
plain. The note under a slash is left to the bass, except in a shell.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

from jam.harmony.chord import Chord
from jam.harmony.families import FAMILIES
from jam.harmony.functions import Function, preference

Form = Literal["A", "B"]
FORMS: tuple[Form, ...] = ("A", "B")

_LOWEST_TOP = 60
_KEEPS_ROOT = ("half_diminished", "diminished")


def _skeleton(chord: Chord) -> tuple[int, int, int | None]:
    """Return third, fifth and seventh, or what stands for them, as semitones above the root."""
    tones = FAMILIES[chord.family].tones
    third = next((step for step in (4, 3, 5, 2) if step in tones), 0)
    # An altered dominant has no fifth: its b13 stands there.
    fifth = next((step for step in (7, 6, 8) if step in tones and step != third), 8)
    seventh = next((step for step in (10, 11, 9) if step in tones), None)
    return third, fifth, seventh


def guide_tones(chord: Chord) -> tuple[int, ...]:
    """Return the pitch classes of 3rd and 7th; the 4 stands for a missing 3rd, 6 for a 7th.

    A triad has its fifth in place of the seventh, a power chord its root and fifth; N.C. none.
    """
    if chord.is_none:
        return ()
    third, fifth, seventh = _skeleton(chord)
    top = fifth if seventh is None else seventh
    return ((chord.root + third) % 12, (chord.root + top) % 12)


def _stacked(classes: tuple[int, ...], lowest: int) -> tuple[int, ...]:
    """Stack pitch classes upwards, the first one at or above ``lowest``; unisons are left out."""
    pitches: list[int] = []
    floor = lowest
    for pitch_class in dict.fromkeys(classes):
        pitch = floor + (pitch_class - floor) % 12
        pitches.append(pitch)
        floor = pitch
    return tuple(pitches)


@lru_cache(maxsize=4096)
def shell(chord: Chord, near: int = 55) -> tuple[int, ...]:
    """Return bass note, 3rd and 7th (in either order), centred as near ``near`` as can be."""
    if chord.is_none:
        return ()
    first, second = guide_tones(chord)
    stacks = [
        _stacked((chord.bass, *pair), lowest)
        for pair in ((first, second), (second, first))
        for lowest in range(near - 24, near + 1)
    ]
    return min(stacks, key=lambda stack: (abs(sum(stack) / len(stack) - near), stack))


@lru_cache(maxsize=4096)
def rootless(chord: Chord, form: Form, function: Function = "none") -> tuple[int, ...]:
    """Return the rootless voicing in position ``form``; tensions as the function likes them."""
    if chord.is_none:
        return ()
    third, fifth, seventh = _skeleton(chord)
    if seventh is None:
        tones = sorted(FAMILIES[chord.family].tones)
        lower = 1 if form == "A" else len(tones) - 1
        steps = (*tones[lower:], *tones[:lower])
    else:
        ninth = _ninth(chord, function)
        body = _thirteenth_or_fifth(chord, function, fifth)
        low, high = (third, body), (seventh, ninth)
        steps = (*low, *high) if form == "A" else (*high, *low)
    classes = tuple((chord.root + step) % 12 for step in steps)
    stack = _stacked(classes, 0)
    lift = _LOWEST_TOP + (stack[-1] - _LOWEST_TOP) % 12 - stack[-1]
    return tuple(pitch + lift for pitch in stack)


def _best(chord: Chord, function: Function, steps: tuple[int, ...]) -> int | None:
    """Return the best liked of the available ``steps``; the first of equals."""
    tastes = preference(chord, function)
    root = chord.root
    available = [step for step in steps if (root + step) % 12 in chord.tensions]
    return min(available, key=lambda step: tastes[step]) if available else None


def _ninth(chord: Chord, function: Function) -> int:
    if chord.kind in _KEEPS_ROOT and (chord.root + 2) % 12 not in chord.written:
        return 0
    altered = (1, 3) if chord.kind in ("dominant", "sus") else ()
    return _best(chord, function, (2, *altered)) or 0


def _thirteenth_or_fifth(chord: Chord, function: Function, fifth: int) -> int:
    """Return what a dominant has in the place of its fifth, or the fifth of any other chord."""
    if chord.kind != "dominant" or fifth != 7:
        return fifth
    return _best(chord, function, (9, 8)) or fifth


def rootless_after(
    previous: tuple[int, ...], chord: Chord, function: Function = "none"
) -> tuple[int, ...]:
    """Return the position of ``chord`` that moves least from the voicing before."""
    positions = [rootless(chord, form, function) for form in FORMS]
    return min(positions, key=lambda position: _movement(previous, position))


def _movement(before: tuple[int, ...], after: tuple[int, ...]) -> int:
    """Sum how far each note of ``after`` lies from its nearest in ``before``, in semitones."""
    return sum(min((abs(pitch - held) for held in before), default=0) for pitch in after)
