"""The page of the terminal view, as text of a given width."""

from __future__ import annotations

import io
from dataclasses import replace
from typing import Any

import pytest
from rich.console import Console
from stage_made import STANDING, a_whole_turn, before_the_start, snapshot

from jam.core.snapshot import Snapshot
from jam.harmony.families import FAMILIES
from jam.stage.terminal.glyphs import ASCII, BLUE, BROWN, PURPLE, SHAPES, glyphs_for, large
from jam.stage.terminal.screen import Page
from jam.stage.terminal.story import Story
from jam.stage.terminal.systems import systems
from jam.transport.metre import Metre

SIZES = [(80, 24), (40, 24), (40, 60), (120, 50)]
NEWS = ["The keyboard 'Stage 73' is gone: plug it in again."]


def story() -> Story:
    """Return the story of a call and its reply."""
    made = Story()
    for record in a_whole_turn():
        made.take(record)
    return made


def page(shown: Snapshot | None, width: int, height: int, **changes: Any) -> list[str]:
    """Return the lines of the page as plain text."""
    values: dict[str, Any] = {"news": NEWS, "glyphs": SHAPES, "story": story()} | changes
    lines = Page(STANDING, shown=shown, **values).lines(width, height)
    return [line.plain for line in lines]


def words(lines: list[str]) -> str:
    """Return all of a page in one line with single blanks."""
    return " ".join(" ".join(lines).split())


@pytest.mark.parametrize(("width", "height"), [*SIZES, (20, 8), (1, 1), (300, 100)])
@pytest.mark.parametrize("shown", [snapshot(), before_the_start(), None])
def test_no_line_is_too_long_and_none_too_many(
    shown: Snapshot | None, width: int, height: int
) -> None:
    """Whatever the size of the terminal, the page fits into it."""
    for glyphs in (SHAPES, ASCII):
        for keys_shown in (False, True):
            lines = page(shown, width, height, glyphs=glyphs, keys_shown=keys_shown)
            assert len(lines) <= height
            assert max(len(line) for line in lines) <= width


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_what_a_player_needs_is_on_the_page(width: int, height: int) -> None:
    """Place, chord to come, turn, beats left, allowed notes, reply and news are there."""
    text = words(page(snapshot(), width, height))
    for wanted in (
        "bar 8 of 12", "beat 3 of 4", "chorus 1 of 2", "section A", "next", "in 2 beats",
        "COMPANION'S TURN", "2 beats left, then your turn", "Companion: 4 notes", "132 bpm",
        "Lamplight Blues", "bop", "Stage 73", "plug it in again", "? all keys",
        "F# 3", "Eb b9", "9 7 1 | b7",
    ):  # fmt: skip
        assert wanted in text, wanted


def test_the_reply_shows_names_degrees_and_marks_one_under_another() -> None:
    """Each note of a reply stands over its degree and the shape of its role; the arrow of an
    approach points to the note it leads to; a tail that was planned anew is the one shown."""
    lines = page(snapshot(beat=16.0), 80, 24)
    at = next(i for i, line in enumerate(lines) if line.startswith("Companion:"))
    chords, names, degrees, marks = (line.split() for line in lines[at + 1 : at + 5])
    assert chords == ["Bb7", "|"]
    assert names == ["C", "A", "Bb", "|", "Ab"]
    assert degrees == ["9", "7", "1", "|", "b7"]
    assert marks == [SHAPES.tension, SHAPES.up, SHAPES.tone, "|", SHAPES.tone]


def test_each_line_of_a_phrase_begins_with_its_chord() -> None:
    """A phrase that is broken into lines says over each of them what the degrees refer to."""
    reply = story().reply
    assert reply is not None
    lines = [line.plain for line in systems(reply, story(), SHAPES, 8, 9, 0.0)]
    assert [line.split() for line in lines[::4]] == [["Bb7"], ["Bb7"], ["Bb7"]]
    assert [line.split()[0] for line in lines[1::4]] == ["C", "Bb", "Ab"]


def test_a_note_a_hair_early_belongs_to_the_chord_it_is_meant_for() -> None:
    """What a person plays just before the bar line is named by the chord of that bar."""
    call = story().call
    assert call is not None
    assert [(note.chord, note.degree) for note in call.notes] == [
        ("F7", "1"), ("F7", "3"), ("Bb7", "1"),
    ]  # fmt: skip


@pytest.mark.parametrize("width", [40, 80])
def test_the_turn_is_told_by_word_mark_and_place(width: int) -> None:
    """The player's turn stands to the left, the companion's to the right, each with its marks."""
    mine = next(line for line in page(snapshot(who="player"), width, 24) if "YOUR TURN" in line)
    theirs = next(line for line in page(snapshot(), width, 24) if "COMPANION'S TURN" in line)
    assert mine.startswith(f" {SHAPES.left}")
    assert theirs.rstrip().endswith(SHAPES.right)
    assert theirs.startswith(" " * 4)


@pytest.mark.parametrize("width", [40, 80])
def test_before_the_start_the_page_says_what_to_press(width: int) -> None:
    """Tune, key, turns, how to start, and what is missing are told before anything plays."""
    text = words(page(before_the_start(), width, 24))
    for wanted in ("Lamplight Blues", "F major", "Press space to start.", "Stage 73", "4/4"):
        assert wanted in text


@pytest.mark.parametrize(
    ("changes", "wanted"),
    [
        ({"count_in": True, "beat": -2.0, "beat_in_bar": 3.0, "bar": 0}, "COUNT-IN beat 3 of 4"),
        ({"running": False}, "STOPPED"),
        ({"ending": "last time"}, "LAST TIME THROUGH"),
        ({"ending": "fermata"}, "CUT IT OFF"),
        ({"laid_out": True, "who": "player"}, "COMPANION LAYS OUT"),
        ({"source": "coast", "locked": False}, "coasting"),
        ({"source": "midi", "locked": False}, "not locked yet"),
        ({"holding": True}, "tempo held"),
        ({"phase": "head", "chorus": 0, "who": "player"}, "YOUR MELODY"),
        ({"chord": None, "strong": frozenset()}, "no chord known yet"),
    ],
)
def test_what_is_out_of_the_ordinary_is_said(changes: dict[str, Any], wanted: str) -> None:
    """Each state that changes what a player does has its words, wide and narrow."""
    for width in (40, 80):
        assert wanted in words(page(snapshot(**changes), width, 24))


def test_a_count_in_six_eight_counts_eighths() -> None:
    """The count is the metre's: the third eighth of a bar of 6/8 begins after a quarter."""
    standing = replace(STANDING, metre=Metre(6, 8, 1.5))
    lines = Page(standing, story(), snapshot(beat_in_bar=2.0), [], SHAPES).lines(80, 24)
    assert "beat 3 of 6" in words([line.plain for line in lines])


def test_without_colour_nothing_is_lost() -> None:
    """A console without colour writes the same words and shapes, and no code of a colour."""
    lines = Page(STANDING, story(), snapshot(), NEWS, SHAPES).lines(80, 24)
    coloured, plain = io.StringIO(), io.StringIO()
    for stream, no_color in ((coloured, False), (plain, True)):
        console = Console(
            file=stream, force_terminal=True, color_system="256", no_color=no_color, width=80,
            _environ={},
        )  # fmt: skip
        for line in lines:
            console.print(line)
    # SGR 38 sets the colour of letters (ECMA-48, ISO 8613-6).
    assert "[38;" in coloured.getvalue()
    assert "38;" not in plain.getvalue()
    for shape in (SHAPES.tone, SHAPES.tension, SHAPES.up):
        assert shape in plain.getvalue()


@pytest.mark.parametrize("colour", [BLUE, BROWN, PURPLE])
def test_colours_can_be_read_on_black_and_on_white(colour: str) -> None:
    """Contrast is 4.5 to 1 at least (WCAG 2.1, 1.4.3, relative luminance after its definition)."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    light = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    assert (light + 0.05) / 0.05 >= 4.5
    assert 1.05 / (light + 0.05) >= 4.5


def test_a_terminal_without_the_shapes_gets_ascii() -> None:
    """Where the encoding has no such signs, the page is plain ASCII, chord in large letters too."""
    assert glyphs_for("utf-8") is SHAPES
    assert glyphs_for("latin-1") is glyphs_for(None) is ASCII
    for width in (40, 80):
        assert "\n".join(page(snapshot(), width, 24, glyphs=ASCII)).isascii()


@pytest.mark.parametrize("glyphs", [SHAPES, ASCII])
def test_every_chord_can_be_written_large(glyphs: Any) -> None:
    """There is a large letter for every sign in a chord symbol, however long the symbol is."""
    roots = ("C", "Db", "D", "Eb", "E", "F#", "G", "Ab", "A", "Bb", "B")
    symbols = ["N.C.", "C7(b9,b13)", "Ab/C", "F#m7b5", *roots]
    symbols += ["C" + family.suffix.format(n=7) for family in FAMILIES.values()]
    assert len(symbols) > 40
    for symbol in symbols:
        rows = large(symbol, glyphs, 1000, 5)
        assert len(rows) == 5, symbol
        assert len({len(row) for row in rows}) == 1
    assert large("C7(b9,b13)", glyphs, 12, 5) == ["C7(b9,b13)"]
