"""Chord scales: the published rule output per scale, and the scale of a chord in its function."""

from __future__ import annotations

from typing import get_args

import pytest

from jam.harmony.functions import Function
from jam.harmony.keys import parse_key
from jam.harmony.scales import SCALES, scale_of
from jam.harmony.symbols import known_suffixes, parse_chord

FUNCTIONS: tuple[Function, ...] = get_args(Function)

# Scale, chord tones, avoid notes (a half step above a chord tone), tensions a whole step above
# one: the rule of Nettles & Graf 1997 as quoted by readers; an encyclopaedia's table agrees but
# for the 13 of Dorian.
RULE = [
    ("ionian", "maj7", {5}, {2, 9}),
    ("lydian", "maj7", set(), {2, 6, 9}),
    ("lydian augmented", "maj7#5", {9}, {2, 6}),
    ("dorian", "m7", set(), {2, 5, 9}),
    ("phrygian", "m7", {1, 8}, {5}),
    ("aeolian", "m7", {8}, {2, 5}),
    ("dorian b2", "m7", {1}, {5, 9}),
    ("melodic minor", "mMaj7", set(), {2, 5, 9}),
    ("melodic minor", "m6", set(), {2, 5, 11}),
    ("mixolydian", "7", {5}, {2, 9}),
    ("lydian dominant", "7", set(), {2, 6, 9}),
    ("mixolydian b6", "7", {5, 8}, {2}),
    ("half-whole", "7", {1}, {6, 9}),
    ("altered", "7#5", {1}, {6}),
    ("whole tone", "7#5", set(), {2, 6}),
    ("mixolydian", "7sus4", set(), {2, 9}),
    ("locrian", "m7b5", {1}, {5, 8}),
    ("locrian natural 2", "m7b5", set(), {2, 5, 8}),
    ("whole-half", "dim7", set(), {2, 5, 8, 11}),
]


@pytest.mark.parametrize(("scale", "suffix", "avoid", "tensions"), RULE)
def test_rule_of_tensions_on_each_scale(
    scale: str, suffix: str, avoid: set[int], tensions: set[int]
) -> None:
    """Within each scale the rule gives the published avoid notes and tensions, and we have them."""
    chord = parse_chord("C" + suffix)
    others = SCALES[scale] - chord.tones
    # The 3rd of a sus chord is in neither class: a half step under the 4 (Levine accepts it).
    half_above = {note for note in others if (note - 1) % 12 in chord.tones}
    whole_above = {note for note in others if (note - 2) % 12 in chord.tones} - half_above
    assert (half_above, whole_above) == (avoid, tensions)
    assert tensions <= chord.tensions
    if chord.kind != "dominant":
        assert not avoid & chord.tensions


# The scale that goes with a chord (Levine 1995 and Nettles & Graf 1997, from memory; common
# practice), with the key where it decides.
@pytest.mark.parametrize(
    ("symbol", "function", "key", "scale"),
    [
        ("Dm7", "two", "C", "dorian"),
        ("G7", "to_major", "C", "mixolydian"),
        ("Cmaj7", "tonic", "C", "ionian"),
        ("Fmaj7", "none", "C", "lydian"),
        ("Abmaj7", "none", "C", "lydian"),
        ("Am7", "none", "C", "aeolian"),
        ("Em7", "none", "C", "phrygian"),
        ("Em7", "none", None, "dorian"),
        ("G7", "to_minor", "C minor", "phrygian dominant"),
        ("G7b9", "to_minor", None, "phrygian dominant"),
        ("G7b9", "to_major", "C", "half-whole"),
        ("G13b9", "to_minor", None, "half-whole"),
        ("G7alt", "to_major", "C", "altered"),
        ("G7#5", "to_minor", None, "altered"),
        ("G7#5", "to_major", None, "whole tone"),
        ("G9#5", "to_minor", None, "whole tone"),
        ("Db7", "to_major", "C", "lydian dominant"),
        ("Bb7", "none", "C", "lydian dominant"),
        ("D7", "to_major", "C", "mixolydian"),
        ("G7#11", "to_major", "C", "lydian dominant"),
        ("G9(b13)", "to_major", "C", "mixolydian b6"),
        ("F7", "blues", "F", "mixolydian"),
        ("Bm7b5", "two", "A minor", "locrian"),
        ("Bm9b5", "two", None, "locrian natural 2"),
        ("Bdim7", "none", None, "whole-half"),
        ("CmMaj7", "tonic", "C minor", "melodic minor"),
        ("Cm6", "tonic", "C minor", "melodic minor"),
        ("Cmaj7#5", "none", None, "lydian augmented"),
        ("Cmaj7#11", "tonic", "C", "lydian"),
        ("G7sus4", "none", None, "mixolydian"),
        ("G7susb9", "none", None, "dorian b2"),
        ("Ephrygian", "none", "C", "phrygian"),
        ("Bblydian", "none", None, "lydian"),
        ("D/C", "none", None, "mixolydian"),
        ("C/E", "tonic", "C", "ionian"),
        ("G", "none", "C", "mixolydian"),
    ],
)
def test_scale_of_a_chord(symbol: str, function: Function, key: str | None, scale: str) -> None:
    """The chord, its function and the key choose the scale."""
    chord = parse_chord(symbol)
    expected = {(chord.root + step) % 12 for step in SCALES[scale]}
    assert scale_of(chord, function, None if key is None else parse_key(key)) == expected


def test_scales_hold_what_the_chord_names() -> None:
    """Chord tones and written tensions are in the scale, for every chord, function and key kind."""
    keys = (None, parse_key("C"), parse_key("A minor"), parse_key("Gb"))
    for suffix in known_suffixes():
        for root in ("C", "F#", "Bb"):
            chord = parse_chord(root + suffix)
            for function in FUNCTIONS:
                for key in keys:
                    scale = scale_of(chord, function, key)
                    assert chord.tones | chord.written <= scale, (chord.symbol, function)
                    assert 6 <= len(scale) <= 8, (chord.symbol, function)


def test_no_chord_has_the_scale_of_the_key() -> None:
    """Without a chord the key's scale holds, without a key all twelve notes."""
    assert scale_of(parse_chord("N.C."), "none", parse_key("F")) == {5, 7, 9, 10, 0, 2, 4}
    assert scale_of(parse_chord("N.C."), "none") == set(range(12))
