"""What a chord does before the next one, and the tastes that go with it."""

from __future__ import annotations

import pytest

from jam.harmony.functions import Function, blue_tones, function_of, preference
from jam.harmony.keys import parse_key
from jam.harmony.pitch import COMMON_NAMES
from jam.harmony.symbols import parse_chord


def function(chord: str, following: str | None, key: str | None, *, blues: bool = False) -> str:
    """Return the function, all given as text."""
    return function_of(
        parse_chord(chord),
        None if following is None else parse_chord(following),
        None if key is None else parse_key(key),
        blues,
    )


# All common practice: functional harmony as every textbook named in `functions` has it.
@pytest.mark.parametrize(
    ("chord", "following", "key", "expected"),
    [
        # ii-V-I, major and minor
        ("Dm7", "G7", "C", "two"),
        ("G7", "Cmaj7", "C", "to_major"),
        ("Cmaj7", "Am7", "C", "tonic"),
        ("Dm7b5", "G7b9", "C minor", "two"),
        ("G7", "Cm6", "C minor", "to_minor"),
        ("Cm6", "Ab7", "C minor", "tonic"),
        ("Dm7", "G7sus4", "C", "two"),
        ("Dm7", "Db7", "C", "two"),
        # secondary dominants
        ("A7", "Dm7", "C", "to_minor"),
        ("E7", "Am7b5", "C", "to_minor"),
        ("D7", "G7", "C", "to_major"),
        ("D7", "G7", "C minor", "to_minor"),
        ("C7", "Fmaj7", "C", "to_major"),
        # substitutes take the Lydian dominant, whatever they fall to
        ("Db7", "Cmaj7", "C", "to_major"),
        ("Db7", "Cm7", "C minor", "to_major"),
        # where the next chord does not tell, the key does
        ("G7", None, "C", "to_major"),
        ("G7", None, "C minor", "to_minor"),
        ("E7", None, "C", "to_minor"),
        ("G7", "Am7", "C", "to_major"),
        ("G7sus4", "G7", "C", "to_major"),
        ("F#7", None, "C", "to_minor"),
        ("Ab7", None, "C", "none"),
        ("G7", None, None, "none"),
        # the other minor chords of a major key, unless they are the ii of a V that follows
        ("Em7", "Am7", "C", "three"),
        ("Em7", None, "C", "three"),
        ("Fm7", "Bbm7", "Db", "three"),
        ("Gm7", "Abmaj7", "Eb", "three"),
        ("Gm7", "Gb7", "Eb", "two"),
        ("Em7", "A7", "C", "two"),
        ("Em7", "Am7", "C minor", "none"),
        ("Am7", "Dm7", "C", "six"),
        ("Am", "Fmaj7", "C", "six"),
        ("Am7", "D7", "C", "two"),
        ("Em6", "Am7", "C", "none"),
        # neither ii nor tonic nor dominant
        ("Cm7", None, None, "none"),
        ("Cm7", "F7", "C", "two"),
        ("Cm7", "Dm7", "C", "none"),
        ("Cm7", "Abmaj7", "C minor", "tonic"),
        ("Fmaj7", "Em7", "C", "none"),
        ("Bdim7", "Cmaj7", "C", "none"),
        ("Gmixolydian", "C", "C", "none"),
        ("N.C.", "C", "C", "none"),
        ("G7", "N.C.", "C", "to_major"),
    ],
)
def test_functions(chord: str, following: str | None, key: str | None, expected: str) -> None:
    """A chord's function follows from the next chord, else from the key."""
    assert function(chord, following, key) == expected


@pytest.mark.parametrize(
    ("chord", "following", "key", "expected"),
    [
        ("F7", "Bb7", "F", "blues"),
        ("Bb7", "F7", "F", "blues"),
        ("F7", "F7", "F", "blues"),
        ("C7", "Bb7", "F", "blues"),
        ("C7", "F7", "F", "to_major"),
        ("D7", "Gm7", "F", "to_minor"),
        ("Gm7", "C7", "F", "two"),
        ("D7", "G7", "F", "to_major"),
        ("F7", "Bbmaj7", "F", "to_major"),
        ("C7", "Fm7", "C minor", "to_minor"),
        ("F7", "Bb7", None, "blues"),
        ("F7", None, "F", "blues"),
    ],
)
def test_functions_in_a_blues(
    chord: str, following: str | None, key: str | None, expected: str
) -> None:
    """I7 and IV7 are blues chords, unless they resolve to a chord that is no dominant."""
    assert function(chord, following, key, blues=True) == expected


def test_functions_are_the_same_in_every_key() -> None:
    """Transposed progressions have the same functions."""
    for name in COMMON_NAMES:
        two = parse_chord(f"{name}m7")
        five = parse_chord(f"{COMMON_NAMES[(two.root + 5) % 12]}7")
        one = parse_chord(f"{COMMON_NAMES[(two.root + 10) % 12]}maj7")
        assert function_of(two, five, None, False) == "two"
        assert function_of(five, one, None, False) == "to_major"


def tastes(symbol: str, function: Function) -> dict[str, int]:
    """Return the preference by degree name, strong degrees only."""
    chord = parse_chord(symbol)
    row = preference(chord, function)
    named = {chord.degree(chord.root + step): row[step] for step in range(12)}
    return {degree: taste for degree, taste in named.items() if taste < 9}


def test_dominant_to_minor_likes_altered_ninths() -> None:
    """Going to minor, b9 #9 b13 come before 9 and 13, which are disliked (common practice)."""
    taste = tastes("G7", "to_minor")
    assert max(taste[degree] for degree in ("b9", "#9", "b13")) < min(taste["9"], taste["13"])
    assert taste["9"] == taste["13"] == 4


@pytest.mark.parametrize("function", ["to_major", "blues"])
def test_dominant_to_major_or_in_a_blues_likes_nine_and_thirteen(function: Function) -> None:
    """Going to major, or in a blues, 9 and 13 come before b9 and b13 (common practice)."""
    taste = tastes("G7", function)
    assert max(taste["9"], taste["13"]) < min(taste["b9"], taste["b13"])


def test_weak_tensions() -> None:
    """13 is weak on a ii, natural 9 on a half-diminished, #11 on a tonic."""
    assert tastes("Dm7", "two")["13"] == 4
    assert tastes("Dm7", "none")["13"] < 4
    assert tastes("Bm7b5", "two")["9"] == 4
    assert tastes("Cmaj7", "tonic")["#11"] == 4
    assert tastes("Cmaj7", "none")["#11"] < 4


@pytest.mark.parametrize(
    ("key", "three", "six"), [("C", "Em7", "Am7"), ("Db", "Fm7", "Bbm7"), ("Eb", "Gm7", "Cm7")]
)
def test_minor_chords_of_a_major_key_keep_to_it(key: str, three: str, six: str) -> None:
    """Of the iii 9 and 13 are disliked and 11 is liked, of the vi 13 is disliked and 9 and 11 are
    liked: which is to say, no tension that is liked lies outside the key (common practice: the
    notes of a scale that are no half step above a chord tone, Nettles & Graf 1997)."""
    scale = parse_key(key).scale
    assert function(three, six, key) == "three"
    assert {d: t for d, t in tastes(three, "three").items() if t in (2, 4)} == {
        "9": 4, "11": 2, "13": 4,
    }  # fmt: skip
    assert {d: t for d, t in tastes(six, "six").items() if t in (2, 4)} == {
        "9": 2, "11": 2, "13": 4,
    }  # fmt: skip
    named: tuple[tuple[str, Function], ...] = ((three, "three"), (six, "six"))
    for symbol, name in named:
        chord = parse_chord(symbol)
        row = preference(chord, name)
        liked = {(chord.root + step) % 12 for step in range(12) if row[step] < 4}
        assert liked <= scale
    written = parse_chord("Em9")
    assert preference(written, "three")[2] == 1


@pytest.mark.parametrize("symbol", ["Dm7", "G7", "Cmaj7", "C6", "Cm6", "CmMaj7", "Bm7b5", "G7sus4"])
def test_guide_tones_come_first_then_one_and_five(symbol: str) -> None:
    """3 and 7 (or 4, or 6) before 1 and 5, these before the tensions (common practice)."""
    chord = parse_chord(symbol)
    row = preference(chord, "none")
    by_rank = {rank: [step for step in range(12) if row[step] == rank] for rank in range(10)}
    assert len(by_rank[0]) == 2
    assert 0 in by_rank[1]
    assert len(by_rank[1]) == 2
    assert {(chord.root + step) % 12 for step in by_rank[9]} == set(range(12)) - chord.strong


def test_written_tensions_are_liked() -> None:
    """A tension that the symbol names is liked like a chord tone."""
    assert tastes("G7b9", "to_major")["b9"] == 1
    assert tastes("G13", "to_minor")["13"] == 1
    assert tastes("G7alt", "to_major")["b13"] == 1


@pytest.mark.parametrize(
    ("chord", "key", "blue"),
    [
        ("F7", "F", {"Ab", "Cb", "Eb"}),
        ("F7", None, {"Ab", "Cb", "Eb"}),
        ("Bb7", "F", {"Ab", "Cb"}),  # Eb would be its plain fourth
        ("C7", "F", {"Ab", "Eb"}),  # Cb would be its major seventh
        ("Gm7", "F", {"Ab", "Eb"}),  # Cb would be its major third
        ("Bdim7", "F", {"Ab", "B"}),
    ],
)
def test_blue_tones_belong_to_the_key(chord: str, key: str | None, blue: set[str]) -> None:
    """The blue notes of F are b3 b5 b7, Ab Cb Eb, less what clashes with the third or seventh of
    the chord (common practice)."""
    found = blue_tones(parse_chord(chord), parse_key(key) if key else None)
    assert found == {parse_chord(note).root for note in blue}
