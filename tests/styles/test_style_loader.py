"""Styles: those that come along, and what is said about one that cannot be used."""

from __future__ import annotations

from itertools import combinations

import pytest

from jam.errors import InputError
from jam.players.soloist.degrees import STEPS
from jam.session.resources import Entry, find_style, list_styles
from jam.styles.loader import load_style
from jam.styles.names import USUAL_MOVES
from jam.styles.profile import DEGREES, MOVES, Recipe, Style
from jam.styles.text import describe

HEAD = "name: mine\nabout: a try\n"


def shipped() -> list[Entry]:
    return [entry for entry in list_styles() if entry.origin == "built in"]


def measures(style: Style) -> tuple[float, ...]:
    """Return what styles must differ by, each scaled so that 1 is a difference to be heard."""
    instrument = style.instrument
    return (
        style.rhythm.density / 0.3,
        style.rhythm.triplets / 0.2,
        style.lines.approach / 0.3,
        style.lines.tensions / 0.2,
        style.lines.leaps / 0.2,
        style.lines.repeats / 0.2,
        style.feel.legato / 0.15,
        (instrument.high - instrument.low) / 5.0,
    )


@pytest.mark.parametrize("entry", shipped(), ids=lambda entry: entry.name)
def test_every_style_that_comes_along_is_whole(entry: Entry) -> None:
    """It loads, is called as its file is, says what it is, and brings stock phrases."""
    style = find_style(str(entry.path)).value
    assert style.name == entry.name
    assert len(style.about) > 20
    assert 2 <= len(style.recipes) <= 5
    own = [recipe for recipe in style.recipes if isinstance(recipe, Recipe)]
    assert all(2.0 <= sum(recipe.beats) <= 16.0 for recipe in own)


def test_styles_differ_by_measure() -> None:
    """There are eight and more, and any two differ audibly in two measures at least; the levels
    of the teacher differ by what they may play at all."""
    found = [find_style(entry.name).value for entry in shipped()]
    styles = [style for style in found if style.material == "everything"]
    levels = [style.material for style in found if style.material != "everything"]
    assert len(styles) >= 8
    assert sorted(levels) == ["approaches", "arpeggios", "chord tones", "guide tones"]
    for one, other in combinations(styles, 2):
        pairs = zip(measures(one), measures(other), strict=True)
        apart = sum(abs(a - b) >= 0.99 for a, b in pairs)
        assert apart >= 2, f"{one.name} and {other.name} differ in {apart} measures"


def test_a_name_and_a_line_are_enough() -> None:
    """All else has its usual value, so that a first style is two lines long."""
    style = load_style(HEAD, "mine.yaml")
    assert style.rhythm.density == Style(name="mine", about="a try").rhythm.density
    assert set(style.idea.moves) == set(MOVES)


def test_moves_that_are_not_named_keep_their_weight() -> None:
    """To weigh one move is not to switch off the others."""
    moves = load_style(HEAD + "idea:\n  moves:\n    invert: 0.9\n", "mine.yaml").idea.moves
    assert moves == {**USUAL_MOVES, "invert": 0.9}


def test_degrees_and_lengths_are_read_as_musicians_write_them() -> None:
    """Numbers need no quotes, signs do, and a third of a beat is 1/3."""
    text = HEAD + (
        "landing: [3, 7, b9, '#11']\n"
        "recipes:\n  - name: turn\n    degrees: [1, b3, 5]\n    beats: [1/3, 0.5, 2]\n"
    )
    style = load_style(text, "mine.yaml")
    assert style.landing == ["3", "7", "b9", "#11"]
    assert style.recipes[0].degrees == ["1", "b3", "5"]
    assert style.recipes[0].beats == [1 / 3, 0.5, 2.0]


@pytest.mark.parametrize("entry", shipped(), ids=lambda entry: entry.name)
def test_a_style_told_in_text_reads_back_the_same(entry: Entry) -> None:
    """What `jam styles NAME` shows is the whole style, ready to be saved as a file."""
    style = find_style(entry.name).value
    assert load_style(describe(style), "told.yaml") == style


def test_awkward_words_read_back_the_same() -> None:
    """A colon, a sharp or a quote in a text does not get lost on the way."""
    style = Style(name="true", about='half: "time" #11, all of it')
    assert load_style(describe(style), "told.yaml") == style


# text after the head, line and field of the error, a word that its mend must hold
BAD = [
    ("rhythm:\n  densty: 2\n", 4, "rhythm.densty", "`density`"),
    ("rhythm:\n  density: 9\n", 4, "rhythm.density", "4"),
    ("rhythm:\n  density: .nan\n", 4, "rhythm.density", "number"),
    ("rhythm:\n  density: fast\n", 4, "rhythm.density", "number"),
    ("rhytm:\n  density: 2\n", 3, "rhytm", "`rhythm`"),
    ("lines:\n  tensions: -0.1\n", 4, "lines.tensions", "0"),
    ("lines:\n  tensions: 1.1\n", 4, "lines.tensions", "1"),
    ("lines:\n  blue: yes\n", 4, "lines.blue", "number"),
    ("instrument:\n  low: 80\n  high: 85\n", 3, "instrument", "low + 12"),
    ("instrument:\n  high: 200\n", 4, "instrument.high", "108"),
    ("instrument:\n  program: 0\n", 4, "instrument.program", "1"),
    ("idea:\n  moves:\n    sequnce: 0.5\n", 5, "idea.moves.sequnce", "'sequence'"),
    ("idea:\n  moves:\n    invert: 2\n", 5, "idea.moves.invert", "1"),
    ("landing: [3, b7, #11]\n", 3, "", "'#11'"),
    ("landing:\n  - 3\n  - #11\n", 5, "landing[1]", "'#11'"),
    ("landing: [3, 15]\n", 3, "landing[1]", "b13"),
    ("landing: [3, 7, 3]\n", 3, "landing", "once"),
    ("landing: []\n", 3, "landing", "The fewest entries it may have: 1."),
    ("landing: 3\n", 3, "landing", "Write a list, as in [3, 7, 5]."),
    ("recipes: blue\n", 3, "recipes", "Write a list"),
    ("rhythm:\n  density: true\n", 4, "rhythm.density", "a number, without quotes"),
    ("rhythm:\n  density: '1.8'\n", 4, "rhythm.density", "a number, without quotes"),
    ("growth: true\n", 3, "growth", "a number"),
    ("idea:\n  moves:\n    invert: true\n", 5, "idea.moves.invert", "a number"),
    ("dynamics:\n  level: true\n", 4, "dynamics.level", "a number"),
    ("dynamics:\n  level: 80.5\n", 4, "dynamics.level", "Write a whole number."),
    ("instrument:\n  bends: 1\n", 4, "instrument.bends", "Write true or false."),
    ("instrument:\n  low: H4\n", 4, "instrument.low", "F#3"),
    ("instrument:\n  low: c\n", 4, "instrument.low", "F#3"),
    ("instrument:\n  low: 55.5\n", 4, "instrument.low", "F#3"),
    ("instrument:\n  high: true\n", 4, "instrument.high", "F#3"),
    ("instrument:\n  high: [1]\n", 4, "instrument.high", "F#3"),
    ("instrument:\n  high: 1.0e999\n", 4, "instrument.high", "F#3"),
    ("rhythm:\n  density: 1.0e999\n", 4, "rhythm.density", "4"),
    ("instrument:\n  high: C9\n", 4, "instrument.high", "108"),
    ("tension_curve: arc\n", 3, "tension_curve", "`arch`"),
    ("tension_curve: arch\ntension_curve: level\n", 4, "tension_curve", "line 3"),
    ("rhythm:\n\tdensity: 2\n", 4, "", "spaces"),
    ("rhythm: {density: 2\n", None, "", ""),
    ("recipes:\n  - name: a\n    degrees: [1, 3]\n    beats: [1]\n", 6, "recipes[0].beats", "2"),
    (
        "recipes:\n  - name: a\n    degrees: [1, 3]\n    beats: [1, 1, 1]\n",
        4,
        "recipes[0]",
        "as many",
    ),
    (
        "recipes:\n  - name: a\n    degrees: [1, H]\n    beats: [1, 1]\n",
        5,
        "recipes[0].degrees[1]",
        "b13",
    ),
    (
        "recipes:\n  - name: a\n    degrees: [1, 3]\n    beats: [1, 0]\n",
        6,
        "recipes[0].beats[1]",
        "greater",
    ),
    (
        "recipes:\n  - name: a\n    degrees: [1, 3]\n    beats: [1, 1/0]\n",
        6,
        "recipes[0].beats[1]",
        "1/3",
    ),
]


@pytest.mark.parametrize(("text", "line", "field", "mend"), BAD)
def test_a_bad_style_is_one_error(text: str, line: int | None, field: str, mend: str) -> None:
    """It names the file, the line, the field and what mends it."""
    with pytest.raises(InputError) as caught:
        load_style(HEAD + text, "mine.yaml")
    error = caught.value
    assert error.source == "mine.yaml"
    assert error.field == field
    assert mend in error.mend
    if line is not None:
        assert error.line == line


@pytest.mark.parametrize("name", ["a/b", "a\\b", "x" * 61, '"a\\tb"'])
def test_a_name_is_one_that_a_file_can_have(name: str) -> None:
    """It is short, in one line, and no path."""
    with pytest.raises(InputError) as caught:
        load_style(f"name: {name}\nabout: a try\n", "mine.yaml")
    assert (caught.value.line, caught.value.field) == (1, "name")
    assert "no name for a file" in caught.value.mend


def test_about_is_one_line() -> None:
    """A line break in it is a space, and what is too long is told."""
    style = load_style("name: mine\nabout: |\n  two\n  lines\n", "mine.yaml")
    assert style.about == "two lines"
    with pytest.raises(InputError, match="it has 300 characters: write one line of 200"):
        load_style(f"name: mine\nabout: {'x' * 300}\n", "mine.yaml")


def test_notes_are_read_by_name() -> None:
    """As they are told: middle C is C4, MIDI number 60 (common practice, and MIDI 1.0)."""
    style = load_style(f"{HEAD}instrument:\n  low: C#4\n  high: Bb5\n", "mine.yaml")
    assert (style.instrument.low, style.instrument.high) == (61, 82)


@pytest.mark.parametrize(
    "text", ["", "just words", "- a\n- b\n", "name: x\n", "about: x\n", "[" * 999]
)
def test_what_is_no_style_at_all_is_one_error(text: str) -> None:
    """Nothing, a list, a half of one, or nonsense: an error for the user, never a fault."""
    with pytest.raises(InputError):
        load_style(text, "mine.yaml")


def test_every_degree_that_is_offered_is_taken() -> None:
    """The error for a bad degree lists spellings that really are accepted."""
    quoted = ", ".join(f'"{degree}"' for degree in DEGREES)
    assert load_style(f"{HEAD}landing: [{quoted}]\n", "mine.yaml").landing == list(DEGREES)


def test_the_soloist_knows_every_degree() -> None:
    """What a style may say is understood where it is played."""
    assert set(DEGREES) <= STEPS.keys()
