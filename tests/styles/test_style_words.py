"""A style explained in words: short, readable, and true to its weights."""

from __future__ import annotations

import pytest

from jam.session.resources import find_style, list_styles
from jam.styles.loader import load_style
from jam.styles.words import WIDTH, explain, how_often, wished

SHIPPED = [entry.name for entry in list_styles() if entry.origin == "built in"]


def told(body: str) -> str:
    """Return the explanation of a style in one line."""
    return " ".join(explain(load_style(f"name: x\nabout: y\n{body}", "x.yaml")).split())


@pytest.mark.parametrize("name", SHIPPED)
def test_it_is_short_and_fits_a_terminal(name: str) -> None:
    """A page at most, no line wider than the screen, the description first."""
    text = explain(find_style(name).value)
    assert max(len(line) for line in text.splitlines()) <= WIDTH
    assert len(text.split()) < 350
    assert text.startswith(f"{name}: ")


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("instrument: trumpet\n", "a trumpet from E3 to Bb5"),
        ("instrument: alto saxophone\n", "an alto saxophone"),
        ("instrument: vibraphone\n", "a vibraphone from F3 to F6"),
        ("rhythm: {density: 0.6}\n", "Very sparse: about 0.6 notes a beat"),
        ("rhythm: {mirror: 0.2}\n", "160 bpm, a little swayed by yours"),
        ("rhythm: {triplets: 0.9}\n", "it likes triplets (nearly always)"),
        (
            "rhythm: {sixteenths: 0.05, riffs: 0, rests: 0.2}\n",
            "sixteenths (hardly ever); riffs (not at all)",
        ),
        ("rhythm: {rests: 1}\n", "likes rests (nearly always)"),
        ("rhythm: {start_off_beat: 0}\n", "off-beat beginnings and sixteenths (not at all)"),
        ("rhythm: {end_off_beat: 1}\n", "it likes off-beat ends (nearly always)"),
        ("rhythm: {two_phrases: 0.4}\n", "long replies in two phrases (under half the time)"),
        ("rhythm: {space: 0}\n", "It fills its turn"),
        ("feel: {late_ms: 0, human: 0}\n", "downbeats on the beat. Notes"),
        ("lines: {leaps: 1}\n", "Nearly always leaps"),
        ("lines: {blue: 0}\n", "never blue notes"),
        ("barge_in: shorten\n", "trades shorter turns"),
        ("barge_in: finish\n", "finishes its figure"),
        ("idea: {literal: 0.1}\n", "only a hint"),
        ("idea: {moves: {retrograde: 1}}\n", "retrograde (its notes from the last to the first)"),
        ("vocabulary: {side_step: 1}\n", "side step (a short trip out of the chord"),
        ("material: guide tones\n", "Strictly 3 and 7"),
        ("idiom: {name: plain, weight: 0.2}\n", "steers its pitches a little"),
        ("idiom: {weight: 0, rhythm: 0}\n", "no learnt idiom"),
        ("growth: 1\n", "build towards the last third"),
        ("landing: [13, 9]\n", "Lands on 13, 9"),
        ("tension_curve: rising\n", "grows to the end"),
    ],
)
def test_it_says_what_stands_in_the_file(body: str, words: str) -> None:
    """What a style sets is found in its explanation."""
    assert words in told(body)
    assert words not in told("")


def test_more_is_never_told_as_less_often() -> None:
    """The words for weights rise from never to nearly always."""
    words = list(dict.fromkeys(how_often(weight / 100) for weight in range(101)))
    assert words[0] == "never"
    assert words[-1] == "nearly always"
    assert len(words) == len(set(words)) == 6


def test_wishes_rise_in_words() -> None:
    """From none to nearly always, in finer steps about the half."""
    words = list(dict.fromkeys(wished(weight / 1000) for weight in range(1001)))
    half = words.index("half the time")
    assert words[half - 1] == "under half the time"
    assert words[half + 1] == "over half the time"
    assert words[0] == "not at all"
    assert words[-1] == "nearly always"
    assert len(words) == 8


def test_a_wish_is_told_as_one() -> None:
    """Nothing is told as a share of what will be played: the idea and the idiom have their say."""
    rhythm = told("rhythm: {start_off_beat: 0.8}\n").split("Rhythm. ")[1].split(" Lines. ")[0]
    assert "Where your idea leaves it free it likes" in rhythm
    assert "in 10" not in rhythm


COLOURS = {
    "guide tones": set(),
    "chord tones": {"broken chords"},
    "arpeggios": {"broken chords", "tensions", "altered dominants"},
    "approaches": {
        *("broken chords", "tensions", "altered dominants", "approach notes", "enclosures"),
        "notes that lean on a change",
    },
}


@pytest.mark.parametrize("material", COLOURS)
def test_a_level_tells_only_what_it_lets_happen(material: str) -> None:
    """Weights for what its material rules out are passed over, so are figures and landings."""
    names = ["arpeggios", "approach", "enclosures", "tensions", "altered", "blue", "leaning"]
    weights = ", ".join(f"{name}: 0.5" for name in names)
    vocabulary = "vocabulary: {enclosure: 1, arpeggio: 0.9, broken_chord: 0.8, riff: 0.7}\n"
    text = told(f"material: {material}\nlines: {{{weights}}}\nlanding: [13, 3, 5]\n{vocabulary}")
    lines = text[text.index("Lines.") : text.index("Figures.")]
    taste = lines[lines.index(". ", 8) : lines.index("Lands on")]
    every = {"blue notes"}.union(*COLOURS.values())
    assert {name for name in every if name in taste} == COLOURS[material]
    figures = text[text.index("Figures.") : text.index("Your")]
    assert ("enclosure" in figures) == (material == "approaches")
    assert ("tensions" in figures) == (material in ("approaches", "arpeggios"))
    lands = {"guide tones": "3 first", "chord tones": "3, 5 first"}.get(material, "13, 3, 5 first")
    assert f"Lands on {lands}" in lines
    assert ("colour" in lines) == ("13" in lands)
