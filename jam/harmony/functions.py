"""What a chord does where it stands, and which of its notes are liked there.

A dominant that falls a fifth to a minor chord is going to minor: it takes b9 #9 b13 and by default
no natural 9 or 13. One that falls to a major or dominant chord takes 9 and 13. A substitute that
falls a half step takes 9 #11 13 whatever it falls to (Lydian dominant: Nettles & Graf 1997), so it
counts as going to major. Where the next chord does not tell, the key does: the dominant of a
degree goes to the chord that stands on it. In a blues, I7 and IV7, and any dominant that resolves
nowhere, are blues chords with 9, 13 and blue notes, unless they fall a fifth or half step to a
chord that is no dominant.

A minor chord on the third or sixth degree of a major key that is no ii stands in that key: its
tensions are those of Phrygian and of Aeolian, without the notes that are a half step above a chord
tone. So a iii has its 11 only (9 and 13 would leave the key, b9 and b13 rub), a vi its 9 and 11
(13 would leave the key, b13 rubs): the tables of available tensions of chord-scale teaching, as in
Nettles & Graf 1997 (from memory). All of this is common practice; where books differ it is a
preference.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

from jam.harmony.chord import Chord
from jam.harmony.keys import Key

Function = Literal["none", "to_major", "to_minor", "blues", "tonic", "two", "three", "six"]

NOT_STRONG = 9
"""The preference of a pitch that is neither chord tone nor available tension."""

_FALLING_FIFTH = 5
_FALLING_HALF_STEP = 11
_BLUE_STEPS = (3, 6, 10)
_CLASHING = ((4, 5), (3, 4), (10, 11))
"""Of a chord that has the one, in semitones above its root, the other is no blue note."""

_MINOR_KINDS = ("minor", "half_diminished")
_RESOLVED_KINDS = ("major", *_MINOR_KINDS)
_IN_MAJOR: dict[int, Function] = {4: "three", 9: "six"}
_NOT_TONIC = ("lydian", "phrygian", "maj7b5", "m7#5")


def function_of(chord: Chord, following: Chord | None, key: Key | None, blues: bool) -> Function:
    """Tell what ``chord`` does before ``following`` (None: not known) in ``key``."""
    if chord.is_none:
        return "none"
    if chord.kind in ("dominant", "sus") and chord.family != "mixolydian":
        return _dominant_function(chord, following, key, blues=blues)
    if chord.kind in _MINOR_KINDS and _is_two(chord, following):
        return "two"
    if key is not None and not key.minor and chord.family in ("m7", "m"):
        on = (chord.root - key.tonic) % 12
        if on in _IN_MAJOR:
            return _IN_MAJOR[on]
    if key is not None and chord.root == key.tonic and chord.kind in ("major", "minor"):
        plain_minor_seventh = chord.family == "m7" and not key.minor
        return "none" if chord.family in _NOT_TONIC or plain_minor_seventh else "tonic"
    return "none"


def _is_two(chord: Chord, following: Chord | None) -> bool:
    """Tell whether a minor or half-diminished chord leads to its dominant or the substitute."""
    return (
        following is not None
        and following.kind in ("dominant", "sus")
        and (following.root - chord.root) % 12 in (_FALLING_FIFTH, _FALLING_HALF_STEP)
        and chord.family in ("m7", "m7b5", "m", "dorian")
    )


def _dominant_function(
    chord: Chord, following: Chord | None, key: Key | None, *, blues: bool
) -> Function:
    fall = None if following is None else (following.root - chord.root) % 12
    resolves = fall in (_FALLING_FIFTH, _FALLING_HALF_STEP)
    if blues and not (following is not None and resolves and following.kind in _RESOLVED_KINDS):
        on_one_or_four = key is None or (chord.root - key.tonic) % 12 in (0, 5)
        if on_one_or_four or not resolves:
            return "blues"
    if fall == _FALLING_HALF_STEP:
        return "to_major"
    if following is not None and fall == _FALLING_FIFTH:
        if following.kind in _MINOR_KINDS:
            return "to_minor"
        dominant_of_minor = key is not None and key.minor and following.root == (key.tonic + 7) % 12
        return "to_minor" if dominant_of_minor else "to_major"
    return _by_key(chord, key)


def _by_key(chord: Chord, key: Key | None) -> Function:
    """Tell from the key's own chord a fifth below where a dominant wants to go."""
    if key is None:
        return "none"
    target = (chord.root + _FALLING_FIFTH) % 12
    if target not in key.scale:
        return "none"
    return "to_minor" if (target + 3) % 12 in key.scale else "to_major"


# Preferences by degree: 0 most liked, 4 available but disliked. The 3rd (or 4th) and 7th (or 6th)
# come before 5 and 1, these before the tensions (common practice; guide tones).
_LIKED = 2
_COLOUR = 3
_DISLIKED = 4
_GUIDE = frozenset({"3", "b3", "7", "b7", "bb7", "4"})
_DOMINANT_TASTE: dict[Function, dict[int, int]] = {
    "to_minor": {1: 2, 2: 4, 3: 2, 6: 3, 8: 2, 9: 4},
    "to_major": {1: 3, 2: 2, 3: 3, 6: 3, 8: 3, 9: 2},
    "blues": {1: 4, 2: 2, 3: 2, 6: 3, 8: 4, 9: 2},
}
# The 13 on a ii gives away the third of the V (encyclopaedia, after Nettles); 9 and 13 of a iii and
# 13 of a vi lie outside the key.
_AVOIDED: dict[Function, tuple[int, ...]] = {"two": (9,), "three": (2, 9), "six": (9,)}


@lru_cache(maxsize=4096)
def preference(chord: Chord, function: Function) -> tuple[int, ...]:
    """Return how much each semitone above the root is liked as a place to land.

    0 is most liked, 4 available but disliked, `NOT_STRONG` neither chord tone nor tension.
    """
    return tuple(_taste(chord, function, semitones) for semitones in range(12))


def _taste(chord: Chord, function: Function, semitones: int) -> int:
    pitch_class = (chord.root + semitones) % 12
    if pitch_class not in chord.strong:
        return NOT_STRONG
    if chord.is_none:
        return _LIKED
    degree = chord.degree(pitch_class)
    if pitch_class in chord.tones:
        six_for_seven = degree == "6" and chord.family in ("maj6", "m6")
        guide = degree in _GUIDE and not (degree == "7" and chord.kind == "diminished")
        return 0 if guide or six_for_seven else 1
    if pitch_class in chord.written:
        return 1
    if chord.kind == "dominant":
        return _DOMINANT_TASTE.get(function, _DOMINANT_TASTE["to_major"])[semitones]
    return _tension_taste(chord, function, semitones)


def _tension_taste(chord: Chord, function: Function, semitones: int) -> int:
    """Return the taste of an unwritten tension of a chord that is no dominant."""
    if chord.kind == "half_diminished" and semitones == 2:
        return _DISLIKED
    if semitones in _AVOIDED.get(function, ()):
        return _DISLIKED
    if chord.kind == "major" and semitones == 6 and chord.family != "lydian":
        # The strict diatonic school denies #11 on a tonic.
        return _DISLIKED if function == "tonic" else _COLOUR
    if chord.family == "m" and semitones == 11 and function != "tonic":
        return _DISLIKED
    if chord.family in ("maj6", "m6") and semitones == 11:
        return _COLOUR
    return _LIKED


def blue_tones(chord: Chord, key: Key | None) -> frozenset[int]:
    """Return the blue notes as pitch classes: b3, b5 and b7 of the key (else of the chord).

    Left out is what the chord's own third or seventh makes a wrong note: the b7 of the key is the
    plain fourth of its IV7, the b5 the major seventh of its V7 and the major third of its ii.
    """
    tonic = chord.root if key is None else key.tonic
    own = {(tone - chord.root) % 12 for tone in chord.tones}
    clashing = {other for one, other in _CLASHING if one in own and other not in own}
    blue = {(tonic + step) % 12 for step in _BLUE_STEPS}
    return frozenset(tone for tone in blue if (tone - chord.root) % 12 not in clashing)
