"""The table of families against the rule of available tensions, and what symbols narrow."""

from __future__ import annotations

import pytest

from jam.harmony.chord import NO_CHORD, chord_on, make_chord
from jam.harmony.families import FAMILIES, Family
from jam.harmony.symbols import parse_chord

# The named exceptions to the rule. Dominants: b9 and b13 (and #9) are allowed though they are a
# half step above root and 5. Sus b9 and Phrygian keep the b9 that names them. A dim triad stands
# for a diminished 7, a minor triad leaves its seventh to the key, and a b5 leaves the 13 of the
# Lydian scale that it comes from (common practice).
EXCEPTIONS = {
    "7": {1, 3, 8},
    "7alt": {1, 3, 8},
    "7#5": {1, 3},
    "7b5": {1, 3, 9},
    "maj7b5": {9},
    "7susb9": {1},
    "phrygian": {1},
    "dim": {9, 11},
    "m": {10, 11},
}


def by_rule(family: Family) -> set[int]:
    """Return the notes a whole step above a chord tone and a half step above none.

    Nettles & Graf 1997, as quoted by readers: available a major ninth above, avoided a minor
    ninth above a chord tone.
    """
    above = {(tone + 2) % 12 for tone in family.tones}
    avoided = {(tone + 1) % 12 for tone in family.tones}
    return above - avoided - set(family.tones)


@pytest.mark.parametrize("family", [f for f in FAMILIES.values() if f.kind != "none"])
def test_tensions_follow_the_rule(family: Family) -> None:
    """Every tension is a whole step above a chord tone, but for the named exceptions."""
    allowed = by_rule(family) | EXCEPTIONS.get(family.name, set())
    assert family.tensions <= allowed
    assert not family.tensions & family.tones


# Tensions by degree (Berklee-style lists; diminished: a whole step above each chord tone).
PUBLISHED = {
    "Cm7": "9 11 13",
    "C7": "b9 9 #9 #11 b13 13",
    "Cmaj7": "9 #11 13",
    "Cm7b5": "9 11 b13",
    "Cdim7": "9 11 b13 7",
    "CmMaj7": "9 11 13",
    "Cmaj7#5": "9 #11",
    "C6": "9 #11 7",
    "Cm6": "9 11 7",
    "C7alt": "b9 #9 #11 b13",
    "C7sus4": "9 13",
    # Narrowed by what is written.
    "C7b9": "b9 #9 #11 b13 13",
    "C7#9": "b9 #9 #11 b13 13",
    "C9": "9 #11 b13 13",
    "C13": "9 #11 13",
    "C13b9": "b9 #9 #11 13",
    "C7(b9,b13)": "b9 #9 #11 b13",
    "C7#11": "9 #11 13",
    "C7#5": "b9 9 #9 #11",
    "C7#5#9": "b9 #9 #11",
    "Cm7b9": "b9 11 13",
    # Modes keep to their own notes.
    "Cdorian": "9 11 13",
    "Cphrygian": "b9 11",
    "Clydian": "9 #11 13",
    "Cmixolydian": "9 13",
    "Caeolian": "9 11",
    "Clocrian": "11 b13",
    "C7susb9": "b9 13",
}


@pytest.mark.parametrize(("symbol", "degrees"), PUBLISHED.items())
def test_available_tensions(symbol: str, degrees: str) -> None:
    """The tensions of a symbol, by degree, are those of the published lists."""
    chord = parse_chord(symbol)
    assert {chord.degree(pitch) for pitch in chord.tensions} == set(degrees.split())


@pytest.mark.parametrize(
    ("symbol", "degrees"),
    [
        ("C7", "1 3 5 b7"),
        ("C6", "1 3 5 6"),
        ("C13", "1 3 5 b7"),
        ("Cm7b5", "1 b3 b5 b7"),
        ("Cdim7", "1 b3 b5 bb7"),
        ("C7#5", "1 3 #5 b7"),
        ("C7b5", "1 3 b5 b7"),
        ("C7alt", "1 3 b7"),
        ("C7sus4", "1 4 5 b7"),
        ("Csus2", "1 2 5"),
        ("CmMaj7", "1 b3 5 7"),
    ],
)
def test_chord_tones_by_degree(symbol: str, degrees: str) -> None:
    """Written tensions stay tensions; the 6 of a 6-chord and the 4 of a sus are chord tones."""
    chord = parse_chord(symbol)
    assert {chord.degree(pitch) for pitch in chord.tones} == set(degrees.split())


def test_degrees_are_twelve_different_names() -> None:
    """Each family names each of the twelve semitones once."""
    for family in FAMILIES.values():
        if family.kind != "none":
            assert len(set(family.degrees)) == 12, family.name


def test_strength_is_the_same_in_every_octave() -> None:
    """A pitch is strong when its class is a chord tone or tension, in any octave."""
    chord = parse_chord("G7b9")
    for pitch in range(128):
        assert chord.is_strong(pitch) == (pitch % 12 in chord.tones | chord.tensions)
        assert chord.degree(pitch) == chord.degree(pitch % 12)
    assert not chord.is_strong(69)


def test_the_bass_is_a_chord_tone() -> None:
    """The note under a slash belongs to the chord as named."""
    chord = parse_chord("Em7/A")
    assert 9 in chord.tones
    assert chord.degree(9) == "11"
    assert parse_chord("Am7/G").tones == parse_chord("Am7").tones


def test_same_chord_under_two_names() -> None:
    """Spelling and written tensions do not make another chord; bass and family do."""
    assert parse_chord("Gb7").same_as(parse_chord("F#9"))
    assert not parse_chord("C").same_as(parse_chord("C/E"))
    assert not parse_chord("C6").same_as(parse_chord("Am7/C"))


def test_no_chord_clashes_with_nothing() -> None:
    """N.C. has no chord tones, no degrees, and every pitch passes."""
    assert NO_CHORD.is_none
    assert not NO_CHORD.tones
    assert all(NO_CHORD.is_strong(pitch) and NO_CHORD.degree(pitch) == "" for pitch in range(12))


def test_chords_heard_have_usual_names() -> None:
    """A chord made from a pitch class is named as usual (common practice), bass included."""
    assert chord_on(1, "7").symbol == "Db7"
    assert chord_on(1, "m7").symbol == "C#m7"
    assert chord_on(8, "maj", bass=0).symbol == "Ab/C"
    assert chord_on(0, "m7", bass=0).symbol == "Cm7"


def test_a_tension_that_does_not_fit_is_refused() -> None:
    """A natural 11 on a 6-chord is no chord of ours."""
    with pytest.raises(ValueError, match="does not fit"):
        make_chord("C", "maj6", frozenset({5}))
