"""The notation of recipes: what is read, what is refused and how it is told, what reads back."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jam.errors import InputError
from jam.players.soloist import slots
from jam.styles.recipe_meaning import meaning_of, wordings_text
from jam.styles.recipe_over import read_over
from jam.styles.recipe_text import LineRecipe, load_recipe, read_start
from jam.styles.recipe_words import (
    TICKS,
    WORDINGS,
    Degree,
    WordingError,
    read_beats,
    read_degree,
    read_device,
)
from jam.styles.text import describe

HEAD = "name: mine\nabout: A line of my own.\n"


def refusal(text: str) -> str:
    with pytest.raises(InputError) as caught:
        load_recipe(HEAD + text, "mine.yaml")
    return str(caught.value)


def test_every_wording_of_the_table_is_read() -> None:
    """The example of each row is read as the kind that the row names, and is explained."""
    for row in WORDINGS:
        device = read_device(row.example)
        assert device.kind == row.kind, row
        assert row.up is None or device.up == row.up, row
        assert meaning_of(device)
        assert row.example in wordings_text() or " up " in row.example or " down " in row.example


DEGREES = {
    "5": Degree(5),
    "b9": Degree(9, "b"),
    "#11": Degree(11, "#"),
    "sharp 11": Degree(11, "#"),
    "flat 3": Degree(3, "b"),
    "natural 9": Degree(9, "natural"),
    "low 7": Degree(7, low=True),
    "low b7": Degree(7, "b", low=True),
    "the 9th": Degree(9),
}


@pytest.mark.parametrize("words", DEGREES)
def test_degrees(words: str) -> None:
    """A degree is a number with its sign and its octave."""
    assert read_degree(words) == DEGREES[words]


LENGTHS = {
    "half a beat": 6, "a third of a beat": 4, "two thirds of a beat": 8, "a quarter of a beat": 3,
    "a beat": 12, "1 beat": 12, "2 beats": 24, "1.5 beats": 18, "one and a half beats": 18,
    "3 and a half beats": 42,
}  # fmt: skip


@pytest.mark.parametrize("words", LENGTHS)
def test_lengths_in_words(words: str) -> None:
    """Lengths in words come out in twelfths of a beat, as the soloist counts them."""
    assert slots.TICKS == TICKS == 12
    assert read_beats(words) == LENGTHS[words]


@pytest.mark.parametrize("words", ["0 beats", "a fifth of a beat", "17 beats", "0.3 beats", "x"])
def test_lengths_that_are_none(words: str) -> None:
    """A length off the grid, too long or no length at all is refused with examples."""
    with pytest.raises(WordingError, match="half a beat"):
        read_beats(words)


def test_starts() -> None:
    """A line begins on a beat, after it, or in the bar before."""
    assert [read_start(words).ticks for words in ("1", "and of 2", "4")] == [0, 18, 36]
    assert read_start("and of 4 before").before
    with pytest.raises(WordingError, match="and of 2"):
        read_start("somewhen")


REFUSED = [
    ("line: [step abve 5]", 3, "line[0]", "Did you mean `step above 5`?"),
    ("line:\n  - degree 1\n  - arpegio 3 to 9\n", 5, "line[1]", "Did you mean `arpeggio 3 to 9`?"),
    ("line:\n  - degree 1\n  - arpeggio down 3 to 9\n", 5, "line[1]", "9 lies above 3"),
    ("line: [arpeggio 1 to 8]", 3, "line[0]", "write them out, as in `degrees 1 3 5 8`"),
    ("line: [degree 16]", 3, "line[0]", "take 1 to 15"),
    ("line: [rest for a while]", 3, "line[0]", "half a beat"),
    ("line: [repeat 5 once]", 3, "line[0]", "Did you mean `repeat 5 twice`?"),
    ("line: [hold for 1 beat, degree 3]", 1, "", "no note stands right before it"),
    ("line: [rest]", 1, "", "plays no note"),
    ("line: [degree 1, on the next chord, degree 3]", 1, "", "names no next chord"),
    ("over: ii V\nline: [degree 1, land on 3, land on 1]", 1, "", "names no next chord"),
    ("over: ii:1 V:4\nline: [degrees 1 2 3, land on 3]", 1, "", "0.5 beats past that change"),
    ("over: majr\nline: [degree 1]", 3, "over", "did you mean 'major'?"),
    ("over: ii Q\nline: [degree 1]", 3, "over", "'Q' is no numeral"),
    ("over: iixx\nline: [degree 1]", 3, "over", "is no chord"),
    ("starts: and of 0\nline: [degree 1]", 3, "starts", "and of 2"),
    ("varied: [melody]\nline: [degree 1]", 3, "varied[0]", "approaches"),
    ("lines: [degree 1]", 3, "lines", "Did you mean `line`?"),
    ("line: [degree #9]", 3, "", "quote"),
]


@pytest.mark.parametrize(("text", "line", "field", "mend"), REFUSED)
def test_what_is_refused(text: str, line: int, field: str, mend: str) -> None:
    """An error names file, line, item, and the nearest wording or what would do."""
    said = refusal(text)
    assert f"mine.yaml:{line}:" in said
    assert field in said
    assert mend in said


def test_numerals() -> None:
    """Numerals stand for the usual chords on the degrees of a key (common practice)."""
    own = {
        "ii V I": ["Em7", "A7", "Dmaj7"],
        "ii7b5 V7b9 i6": ["Em7b5", "A7b9", "Dm6"],
        "I vi ii:2 V:2": ["Dmaj7", "Bm7", "Em7", "A7"],
        "bII7 imaj7": ["Eb7", "DmMaj7"],
        "I7 IV7 vii iii7": ["D7", "G7", "C#m7b5", "F#m7"],
    }
    for words, symbols in own.items():
        assert [change.chord.symbol for change in read_over(words).changes("D")] == symbols
    assert [change.beat for change in read_over("I vi ii:2 V:2").changes("C")] == [0, 4, 8, 10]


item = st.sampled_from([row.example for row in WORDINGS if row.kind not in ("hold", "next")])
lines = st.lists(item, min_size=1, max_size=10).map(lambda line: ["degree 1", *line])


@given(lines, st.sampled_from(["any", "minor, dominant", "half-diminished"]))
def test_what_is_read_reads_back(line: list[str], over: str) -> None:
    """A recipe written out as a file is the same recipe."""
    recipe = LineRecipe(name="mine", about="# a line: of my own", over=over, line=line)
    again = load_recipe(describe(recipe), "mine.yaml")
    assert again.model_dump() == recipe.model_dump()
    assert again.devices == recipe.devices
