"""Names of notes: what a pitch is called over a chord and in a key.

Over a chord the degree decides the letter (the b9 of G7 is Ab), double signs are simplified for
reading (the diminished seventh of C is A to a player; `chord_tone_names` spells it Bbb, as
stacked thirds are). Without a chord the key decides, by nearness on the circle of fifths.
"""

from __future__ import annotations

from functools import lru_cache

from jam.harmony.chord import Chord
from jam.harmony.families import FAMILIES
from jam.harmony.keys import Key
from jam.harmony.pitch import COMMON_NAMES, LETTERS, name_on_letter, pitch_class, with_octave

# The circle of fifths from Fb to B#: index 8 is C.
_CIRCLE = (
    *("Fb", "Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F"),
    *("C", "G", "D", "A", "E", "B", "F#", "C#", "G#", "D#", "A#", "E#", "B#"),
)
_CIRCLE_OF_C = 8
# Names for the sounds of white keys: used in a key only where its signature has them.
_RARE = ("Fb", "Cb", "E#", "B#")
_DEGREE_LETTERS = {"1": 0, "2": 1, "3": 2, "4": 3, "5": 4, "6": 5, "7": 6}
_COMPOUND_LETTERS = {"9": 1, "11": 3, "13": 5}


def spell(pitch: int, chord: Chord | None = None, key: Key | None = None) -> str:
    """Name a MIDI pitch with its octave ("Bb4"), over a chord if there is one, else in the key."""
    if chord is not None and not chord.is_none:
        name = _name_over(pitch % 12, chord)
    else:
        name = name_in_key(pitch % 12, key)
    return with_octave(name, pitch)


@lru_cache(maxsize=1024)
def name_in_key(target: int, key: Key | None) -> str:
    """Name a pitch class in a key: as its signature does, else as b2 b3 3 #4 b6 6 b7 or 7."""
    if key is None:
        return COMMON_NAMES[target]
    signature = _CIRCLE_OF_C + key.sharps
    tonic = _CIRCLE.index(key.tonic_name) if key.tonic_name in _CIRCLE else signature
    # Five fifths down from the tonic lies its b2, six up its #4.
    chromatic = [name for name in _on_circle(tonic - 5, tonic + 6) if name not in _RARE]
    for name in (*_on_circle(signature - 1, signature + 5), *chromatic):
        if pitch_class(name) == target:
            return name
    return COMMON_NAMES[target]


def _on_circle(first: int, last: int) -> tuple[str, ...]:
    """Return the names from one place on the circle of fifths to another, both included."""
    return _CIRCLE[max(0, first) : max(0, last + 1)]


def _letter_over(chord: Chord, degree: str) -> int:
    """Return the letter (0..6 from C) that a degree of the chord is written on."""
    number = degree.lstrip("b#")
    steps = _COMPOUND_LETTERS.get(number)
    if steps is None:
        steps = _DEGREE_LETTERS[number]
    return LETTERS.index(chord.root_name[0]) + steps


def _strict_name(target: int, chord: Chord) -> str:
    return name_on_letter(_letter_over(chord, chord.degree(target)), target)


@lru_cache(maxsize=8192)
def _name_over(target: int, chord: Chord) -> str:
    """Name a pitch class over a chord with at most one sign."""
    if chord.bass_name and target == chord.bass:
        return chord.bass_name
    name = _strict_name(target, chord)
    if target == chord.root or len(name) <= 2:
        return name
    flat = "b" in name[1:]
    simpler = (name_on_letter(letter, target) for letter in range(7))
    single = [other for other in simpler if len(other) <= 2]
    # A natural note first, else the sign that points the same way.
    return min(single, key=lambda other: (len(other), ("b" in other[1:]) != flat))


def chord_tone_names(chord: Chord) -> tuple[str, ...]:
    """Spell the chord tones upwards from the root, strictly: Cdim7 is C Eb Gb Bbb."""
    steps = sorted(FAMILIES[chord.family].tones)
    return tuple(_strict_name((chord.root + step) % 12, chord) for step in steps)
