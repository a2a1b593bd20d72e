"""The notation of recipes: what is read, what is refused and how it is told, what reads back."""

from __future__ import annotations

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator  # the reference checker of JSON Schema on PyPI

from jam.errors import InputError
from jam.players.soloist import slots
from jam.styles.recipe_meaning import meaning_of, wordings_text
from jam.styles.recipe_over import read_over
from jam.styles.recipe_places import read_start
from jam.styles.recipe_text import LineRecipe, load_recipe
from jam.styles.recipe_words import (
    TICKS,
    WORDINGS,
    Degree,
    WordingError,
    item_schema,
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


NO_PLAIN_NUMBERS = ["1e999999999", "1e1", "1_0", "999999", "1/0", "1.5/2", "inf", "٣"]


@pytest.mark.parametrize("number", NO_PLAIN_NUMBERS)
def test_numbers_are_plain(number: str) -> None:
    """A number is digits with one point, or one fraction; anything else is refused at once, with
    what would do, however large it says it is."""
    for words in (f"rest for {number} beats", f"hold for {number} and a half beats"):
        with pytest.raises(WordingError, match="half a beat"):
            read_device(words)
    said = refusal(f"line: [degree 1, rest for {number} beats]")
    assert "mine.yaml:3: line[1]" in said
    assert said.count("\n") == 0
    with pytest.raises(WordingError):
        read_device(f"degree {'9' * 5000}")


SAID = {
    "scale step above the 5th": "step above the 5th",
    "half step below 3": "chromatic below 3",
    "turn around the 9th": "turn round the 9th",
    "fall in thirds from the 9th to the 3rd": "thirds the 9th down to the 3rd",
    "climb by step from 1 to 5": "scale 1 up to 5",
    "arpeggio from 5 up to 11": "arpeggio 5 up to 11",
    "in sixteenth notes": "in sixteenths",
    "in eighth-note triplets": "in triplets",
    "rest half a beat": "rest for half a beat",
}


@pytest.mark.parametrize("words", SAID)
def test_said_another_way(words: str) -> None:
    """What a musician may say for a device is read as the wording of the table."""
    assert read_device(words) == read_device(SAID[words])


def test_a_sentence() -> None:
    """A line said in one sentence is the line in items; a run begins where the item before it
    ends, and a list of degrees keeps its commas."""
    said = (
        "line: 'from the and of 2: scale step above the 5th, arpeggio 5 to 11, turn round the 9th,"
        " fall in thirds to the 3rd, rest'\n"
    )
    recipe = load_recipe(HEAD + said, "mine.yaml")
    assert recipe.start.ticks == 18
    plain = ("step above 5", "arpeggio 5 to 11", "turn round 9", "thirds 9 down to 3", "rest")
    wanted = [read_device(item) for item in plain]
    assert [(d.kind, d.degrees, d.up) for d in recipe.devices] == [
        (d.kind, d.degrees, d.up) for d in wanted
    ]
    items = "line: ['degrees 1, 2', repeat 5 twice, scale to 8, degree 1]"
    assert load_recipe(HEAD + items, "mine.yaml").line[2] == "scale 5 to 8"
    commas = load_recipe(HEAD + "line: degrees 1, 2, b3, scale down to 1\n", "mine.yaml")
    assert commas.line == ["degrees 1 2 b3", "scale b3 down to 1"]


@pytest.mark.parametrize(
    ("line", "fits"),
    [
        ("[degree 55]", False),
        ("[degree 15]", True),
        ("[rest, rest for 2 beats]", False),
        ("[degree 1, land on 3, degree 5, land on 1]", False),
        ("[degree 1, land on 3, hold for 2 beats]", True),
        ("[arpegio 3 to 9]", False),
        ("[scale step above the 5th, fall in thirds from 9 to 3, in sixteenth notes]", True),
        ("[degree 9, scale down to low b7]", True),
        ("'from 2: degree 1, scale up to 5'", True),
    ],
)
def test_the_schema_says_the_same(line: str, fits: bool) -> None:
    """What the loader refuses in a line the schema refuses, and the other way round."""
    checker = Draft202012Validator(LineRecipe.model_json_schema())
    data = {"name": "mine", "about": "A line.", "line": yaml.safe_load(line)}
    assert checker.is_valid(data) == fits
    if fits:
        load_recipe(f"{HEAD}line: {line}\n", "mine.yaml")
    else:
        refusal(f"line: {line}\n")
    progression = data | {"over": "ii V I", "line": ["degree 1", "land on 3", "land on 1"]}
    assert checker.is_valid(progression)


def test_every_wording_fits_the_schema() -> None:
    """The example of each row, and every shipped recipe's item, fits."""
    checker = Draft202012Validator(item_schema())
    assert all(checker.is_valid(row.example) for row in WORDINGS)
    assert all(checker.is_valid(words) for words in [*SAID, *SAID.values(), " degree  ♭9 "])


def test_starts() -> None:
    """A line begins on a beat, after it, or in the bar before."""
    assert [read_start(words).ticks for words in ("1", "and of 2", "4")] == [0, 18, 36]
    assert read_start("and of 4 before").before
    assert (
        read_start("from the and of 2") == read_start("on the and of 2") == read_start("and of 2")
    )
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
    ("line: [hold for 1 beat, degree 3]", 3, "line[0]: found 'hold for 1 beat'", "No note stands"),
    ("line: [rest]", 3, "line[0]: found 'rest'", "plays no note: write one"),
    (
        "line: [degree 1, on the next chord, degree 3]",
        3,
        "line[1]: found 'on the next",
        "names no next chord",
    ),
    (
        "over: ii V\nline: [degree 1, land on 3, land on 1]",
        4,
        "line[2]: found 'land on 1",
        "add it there",
    ),
    (
        "line:\n  - degree 1\n  - land on 3\n  - land on 1\n",
        6,
        "line[2]: found 'land on 1'",
        "land once",
    ),
    (
        "over: ii:1 V:4\nline: [degrees 1 2 3, land on 3]",
        4,
        "line[1]: found 'land",
        "0.5 beats past the",
    ),
    ("over: IV:0 V\nline: [degree 1]", 3, "over", "'IV:0' lasts too short: give it 0.5 to 32"),
    ("over: IV:2.3 V\nline: [degree 1]", 3, "over", "give it whole or half beats"),
    ("over: IV:99 V\nline: [degree 1]", 3, "over", "'IV:99' lasts too long: give it 0.5 to 32"),
    ("starts: 6 before\nline: [degree 1]", 3, "starts", "and of 4 before"),
    ("line: [in sixteens, degree 1]", 3, "line[0]", "Did you mean `in sixteenths`?"),
    ("line: [fall in thirds to the 3rd]", 3, "line[0]", "as in `thirds 9 down to the 3rd`"),
    ("line: []", 3, "line", "write a device"),
    ("line: ','", 3, "line", "write a device"),
    ("line: [from the and of 2, degree 1]", 3, "line[0]", "as in `starts: and of 2`"),
    ("line: [leap up to 5, scale down to 1]", 3, "line[1]", "as in `scale 5 down to 1`"),
    ("line: 'from the end of 2: degree 1'", 3, "line", "no place in a bar"),
    ("starts: 1\nline: 'from 2: degree 1'", 4, "line", "keep one"),
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
lines = (
    st.lists(item, min_size=1, max_size=10)
    .filter(lambda line: line.count("land on 3") < 2)
    .map(lambda line: ["degree 1", *line])
)


@given(lines, st.sampled_from(["any", "minor, dominant", "half-diminished"]))
def test_what_is_read_reads_back(line: list[str], over: str) -> None:
    """A recipe written out as a file is the same recipe."""
    recipe = LineRecipe(name="mine", about="# a line: of my own", over=over, line=line)
    again = load_recipe(describe(recipe), "mine.yaml")
    assert again.model_dump() == recipe.model_dump()
    assert again.devices == recipe.devices
