"""Charts as they are typed: what is read, and what is refused with which words."""

from __future__ import annotations

import pytest

from jam.charts.loader import load_chart
from jam.charts.model import Chart
from jam.charts.text import bar_text, chart_to_text
from jam.errors import InputError

HEAD = "title: Try\nkey: C\nmetre: 4/4\ntempo: 120\n"


def chart(changes: str, head: str = HEAD, more: str = "") -> Chart:
    return load_chart(f"{head}sections:\n  A:\n    changes: |\n      {changes}\n{more}", "try.yaml")


def symbols(made: Chart) -> list[list[tuple[float, str, bool]]]:
    return [[(c.beat, c.chord.symbol, c.passing) for c in bar.changes] for bar in made.chorus.bars]


def refused(text: str) -> InputError:
    with pytest.raises(InputError) as caught:
        load_chart(text, "try.yaml")
    assert caught.value.source == "try.yaml"
    assert caught.value.mend
    return caught.value


@pytest.mark.parametrize(
    ("metre", "typed", "beats"),
    [
        ("4/4", "C6", [0]),
        ("4/4", "Dm7 G7", [0, 2]),
        ("4/4", "Dm7 G7 C6 A7", [0, 1, 2, 3]),
        ("4/4", "Dm7:3 G7", [0, 3]),
        ("4/4", "Dm7:2 G7 C6", [0, 2, 3]),
        ("4/4", "C6 / / A7", [0, 3]),
        ("3/4", "C6 A7", [0, 1.5]),
        ("3/4", "C6:2 A7", [0, 2]),
        ("5/4", "C6:3 A7", [0, 3]),
        ("12/8", "C6 A7", [0, 3]),
        ("12/8", "C6 / / A7", [0, 4.5]),
        ("6/8", "C6 A7", [0, 1.5]),
        ("2/2", "C6 A7", [0, 2]),
    ],
)
def test_chords_share_the_bar(metre: str, typed: str, beats: list[float]) -> None:
    """Chords stand on equal shares of the bar or on the counts given, in quarter notes."""
    made = chart(typed, HEAD.replace("4/4", metre))
    assert [c.beat for c in made.chorus.bars[0].changes] == beats


def test_marks_in_the_changes() -> None:
    """Slash chords, passing chords, repeated bars, no chord and comments are read."""
    made = chart("| Ab/C | Dm7:3 ~Db7 || % | N.C. |   # a comment\n      G7(b9, b13)")
    assert symbols(made) == [
        [(0, "Ab/C", False)],
        [(0, "Dm7", False), (3, "Db7", True)],
        [(0, "Dm7", False), (3, "Db7", True)],
        [(0, "N.C.", False)],
        [(0, "G7(b9,b13)", False)],
    ]


@pytest.mark.parametrize(
    ("metre", "pulse", "tempo", "bpm", "pulse_beats"),
    [
        ("4/4", None, 120, 120, 1.0),
        ("4/4", "half", 120, 240, 2.0),
        ("2/2", None, 100, 200, 2.0),
        ("6/8", None, 100, 150, 1.5),
        ("12/8", "dotted quarter", 80, 120, 1.5),
        ("3/4", "bar", 60, 180, 3.0),
    ],
)
def test_tempo_counts_pulses(
    metre: str, pulse: str | None, tempo: int, bpm: float, pulse_beats: float
) -> None:
    """The tempo is typed in pulses a minute and kept in quarter notes a minute."""
    head = f"title: Try\nkey: C\nmetre: {metre}\ntempo: {tempo}\n"
    made = chart("C6", head + (f"pulse: {pulse}\n" if pulse else ""))
    assert made.tempo_bpm == bpm
    assert made.metre.pulse_beats == pulse_beats


@pytest.mark.parametrize(
    "metre", ["2/4", "3/4", "4/4", "5/4", "6/4", "7/4", "2/2", "6/8", "9/8", "12/8"]
)
def test_metres_that_can_be_played(metre: str) -> None:
    """Each of the usual metres makes bars of its own length."""
    made = chart("C6 | %", HEAD.replace("4/4", metre))
    over, under = metre.split("/")
    assert [bar.beats for bar in made.chorus.bars] == [int(over) * 4 / int(under)] * 2


FORM = """
sections:
  A:
    changes: C6 | Dm7 to_coda
    melody: |
      1/1: C4 | D
    first_ending:
      changes: G7
      melody: |
        1/1: _
    second_ending:
      changes: A7
  B:
    repeat: 2
    changes: F6
    melody: |
      pickup 1/4: E4 |
      1/1: F
  Z:
    changes: Ab7 | C6
    melody: |
      1/1: Ab4 | G
form: A A B A
road_map:
  coda: Z
  tag: Z B
"""


def test_endings_repeats_coda_and_tag() -> None:
    """A chorus is written out bar by bar, and so is the last time."""
    made = load_chart(HEAD + FORM, "try.yaml")
    one = " ".join(bar.changes[0].chord.symbol for bar in made.chorus.bars)
    last = " ".join(bar.changes[0].chord.symbol for bar in made.last.bars)
    assert one == "C6 Dm7 G7 C6 Dm7 A7 F6 F6 C6 Dm7 A7"
    assert last == "C6 Dm7 G7 C6 Dm7 A7 F6 F6 C6 Dm7 Ab7 C6 Ab7 C6 F6 F6"
    assert [bar.section for bar in made.chorus.bars] == list("AAAAAABBAAA")


def test_melody_over_the_form() -> None:
    """Holds cross into an ending, a pickup lies in the bar before its section."""
    made = load_chart(HEAD + FORM, "try.yaml")
    notes = [(n.beat, n.beats, n.pitch) for n in made.chorus.melody]
    assert notes[:4] == [(0, 4, 60), (4, 8, 62), (12, 4, 60), (16, 4, 62)]
    assert notes[4:8] == [(23, 1, 64), (24, 3, 65), (27, 1, 64), (28, 4, 65)]


def test_endings_can_be_asked_for() -> None:
    """A2 plays the second ending outright."""
    text = FORM.replace("form: A A B A", "form: A2 A1 B")
    made = load_chart(HEAD + text, "try.yaml")
    one = " ".join(bar.changes[0].chord.symbol for bar in made.chorus.bars)
    assert one == "C6 Dm7 A7 C6 Dm7 G7 F6 F6"


def test_road_map_and_plain_facts() -> None:
    """The road map, the feel, the key and the words about the tune reach the chart."""
    more = (
        "about: |\n  One line,\n  and another.\nfeel: straight\nblues: true\nroad_map:\n"
        "  count_in: 1\n  head: player\n  choruses: 3\n  head_out: companion\n"
    )
    made = chart("C7", HEAD.replace("key: C", "key: D dorian"), more)
    road = made.road_map
    assert (road.count_in_bars, road.head, road.choruses) == (1, "player", 3)
    assert (road.head_out, made.feel, made.blues) == ("companion", "straight", True)
    assert made.key.name == "D dorian"
    assert made.about == "One line, and another."
    assert made.last == made.chorus


def test_plain_text_can_be_typed_back() -> None:
    """The bars of the plain text, typed into a chart, make the same changes."""
    typed = "C6 | Dm7:3 ~Db7 | Dm7 G7 | C6:2 A7 Ab7 | Em7b5 A7b9 | Fmaj7/G | N.C."
    made = chart(typed)
    text = " | ".join(bar_text(bar, made.metre) for bar in made.chorus.bars)
    assert symbols(chart(text)) == symbols(made)
    shown = chart_to_text(made)
    assert "Try" in shown
    assert "C major, 4/4, 120 a minute" in shown
    assert "A   | C6       | Dm7:3 ~Db7:1 | Dm7 G7   | C6:2 A7:1 Ab7:1 |" in shown


@pytest.mark.parametrize(
    ("old", "new", "line", "field", "words"),
    [
        ("metre: 4/4", "metre: 7/16", 3, "metre", "'7/16' cannot be played"),
        ("metre: 4/4", "metre: 0/4", 3, "metre", "'0/4' cannot be played"),
        ("metre: 4/4", "metre: 12:8", 3, "metre", "write 12/8"),
        ("metre: 4/4", "metre: 4", 3, "metre", "put it in quotes"),
        ("metre: 4/4", "metre: 5/4\npulse: half", 4, "pulse", "does not divide"),
        ("metre: 4/4", "metre: 4/4\npulse: halve", 4, "pulse", "Did you mean `half`?"),
        ("tempo: 120", "tempo: 0", 4, "tempo", "a tempo of 0 "),
        ("tempo: 120", "tempo: 900", 4, "tempo", "a tempo of 900 "),
        ("tempo: 120", "tempo: fast", 4, "tempo", "'fast'"),
        ("tempo: 120", "tempo: nan", 4, "tempo", "a tempo of nan "),
        ("tempo: 120", "temp: 120", 4, "temp", "Did you mean `tempo`?"),
        ("key: C", "key: H", 2, "key", "the key 'H' is unknown"),
        ("key: C", "key: C majr", 2, "key", "Did you mean C major?"),
        ("key: C", "key: F #m", 2, "key", "would be lost"),
        ("title: Try", "title: 500", 1, "title", "put it in quotes"),
        ("title: Try", "title: Try\ntitle: Again", 2, "title", "twice"),
        ("Dm7 | G7", "Dmm7 | G7", 8, "sections.A.changes", "bar 1: `Dmm7` is no chord symbol"),
        ("Dm7 | G7", "Dm7 | | G7", 8, "sections.A.changes", "bar 2 of this text is empty"),
        ("Dm7 | G7", "% | G7", 8, "sections.A.changes", "no bar before"),
        ("Dm7 | G7", "Dm7 | / G7", 8, "sections.A.changes", "no chord stands first"),
        ("Dm7 | G7", "Dm7 | G7 C6 A7", 8, "sections.A.changes", "bar 2: `G7 C6 A7`"),
        ("Dm7 | G7", "Dm7:3 G7:3", 8, "sections.A.changes", "does not fill 4 counts"),
        ("Dm7 | G7", "Dm7:x G7", 8, "sections.A.changes", "is no number"),
        ("Dm7 | G7", "Dm7:inf G7", 8, "sections.A.changes", "is no number"),
        ("Dm7 | G7", "# nothing", 8, "sections.A.changes", "there are no bars"),
        ("Dm7 | G7", "Dm7\n\n      G7 | Cmajj7", 10, "sections.A.changes", "bar 3: `Cmajj7`"),
        ("form: A", "form: A Q", 9, "form", "`Q` is no section"),
        ("form: A", "form: [A, A]", 9, "form", "write it in one piece"),
        ("form: A", "form: A1", 9, "form", "has no endings"),
        ("form: A", "form: ' '", 9, "form", "no section is named"),
        ("form: A", "form: " + "A " * 600, 9, "form", "more than 1000 bars"),
        ("form: A", "road_map: {head: companian}", 9, "road_map.head", "`companion`"),
        ("form: A", "road_map: {choruses: 0}", 9, "road_map.choruses", "found 0"),
        (
            "form: A",
            "form: A\nroad_map: {coda: A}",
            10,
            "road_map.coda",
            "no bar of the form is marked",
        ),
        ("Dm7 | G7", "Dm7 to_coda | G7", 8, "sections.A.changes", "there is no coda"),
        ("form: A", "road_map: {tag: Q}", 9, "road_map.tag", "`Q` is no section"),
        ("form: A", "  B: {changes: C6}\nform: A", 9, "sections.B", "never played"),
        ("form: A", "    bars: 3\nform: A", 9, "sections.A.bars", "bars says 3, but 2"),
        ("form: A", "    first_ending: {changes: C6}", 6, "sections.A", "only one ending"),
        ("form: A", "    melody: 1/1 C4", 9, "sections.A.melody", "has no length"),
        (
            "form: A",
            "    melody: '1/1: C4'",
            9,
            "sections.A.melody",
            "has 1 bars, the changes have 2",
        ),
        ("form: A", "    melody_file: x.mid", 9, "sections.A.melody_file", "cannot be read from"),
        ("form: A", "form:\n\t- A", 10, "", "a tab stands"),
    ],
)
def test_what_is_refused(old: str, new: str, line: int, field: str, words: str) -> None:
    """Each mistake is one error that names file, line, key, what was found and what mends it."""
    text = HEAD + "sections:\n  A:\n    changes: |\n      Dm7 | G7\nform: A\n"
    assert old in text
    error = refused(text.replace(old, new))
    assert words in str(error)
    assert error.field == field
    assert error.line == line


def test_nearest_chord_is_named() -> None:
    """An unknown chord symbol comes with the nearest spelling that is known."""
    error = refused(HEAD + "sections:\n  A:\n    changes: Cmajj7\n")
    assert "Did you mean Cmaj7?" in str(error)
    assert error.line == 7


@pytest.mark.parametrize("text", ["", "title: x", "- a", "title: [", "sections: {A: {changes: 7}}"])
def test_broken_charts_never_trace_back(text: str) -> None:
    """Whatever the text, the answer is an InputError."""
    assert str(refused(text)).startswith("try.yaml")
