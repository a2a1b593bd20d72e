"""`jam recipe`: what it lists, explains and leaves in a folder."""

from __future__ import annotations

import wave
from pathlib import Path

import mido
import pytest

from jam.cli.main import main
from jam.session.drill import KEYS, DrillOptions, drill
from jam.session.resources import find_recipe, list_recipes

Captured = pytest.CaptureFixture[str]
MINE = "name: mine\nabout: All mine.\nover: minor\nline: [degrees 1 3 5, rest, step above 5]\n"


def told(words: list[str], capsys: Captured) -> str:
    assert main(words) == 0
    return capsys.readouterr().out


def refused(words: list[str], capsys: Captured) -> str:
    assert main(words) == 2
    said = capsys.readouterr()
    assert said.err.count("\n") == 1
    return said.err


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A folder of the user's own with one recipe in it."""
    folder = tmp_path / "home" / "styles" / "recipes"
    folder.mkdir(parents=True)
    (folder / "mine.yaml").write_text(MINE, encoding="utf-8")
    return tmp_path / "home"


def test_the_list(capsys: Captured, home: Path) -> None:
    """Without a name all recipes are listed, each with its line; the user's own among them."""
    said = told(["recipe", "--home", str(home)], capsys)
    assert len(said.splitlines()) == len(list_recipes(home)) == 11
    assert "mine" in said
    assert "All mine." in said
    assert "(your own)" in said


def test_one_in_words(capsys: Captured) -> None:
    """A recipe is told item by item, and shown over its own chord with notes and degrees."""
    said = told(["recipe", "minor-doorway"], capsys)
    assert "enclose 3        step above, half step below, 3" in said
    assert "chord    Cm7" in said
    assert "note     F4  D4  Eb4 G4  Bb4 D5  Bb4 G4" in said
    assert "degree   11  9   b3  5   b7  9   b7  5" in said
    assert "arpeggio 5 to 11" in told(["recipe", "--words"], capsys)


def test_through_twelve_keys(tmp_path: Path, capsys: Captured) -> None:
    """The folder holds MIDI with the line on one track, the band on another and the chords as
    markers, the text, and the recipe as it was used."""
    out = tmp_path / "out"
    said = told(
        ["recipe", "over-the-bridge", "--keys", "circle", "--tempo", "180", "--out", str(out)],
        capsys,
    )
    assert "Start quiet" in said
    file = mido.MidiFile(out / "drill.mid")
    assert [track.name for track in file.tracks] == ["conductor", "line", "band"]
    markers = [m.text for m in file.tracks[0] if m.type == "marker"]
    assert markers[:6] == ["Dm7", "G7", "Cmaj7", "Gm7", "C7", "Fmaj7"]
    made = drill(DrillOptions("over-the-bridge", keys="circle", tempo_bpm=180.0))
    at, onsets = 0, []
    for message in file.tracks[1]:
        at += message.time
        if message.type == "note_on" and message.velocity:
            onsets.append((at / file.ticks_per_beat, message.note))
    wanted = [(note.tick / 12, note.pitch) for note in made.notes]
    assert [pitch for _, pitch in onsets] == [pitch for _, pitch in wanted]
    assert all(abs(a - b) < 0.01 for (a, _), (b, _) in zip(onsets, wanted, strict=True))
    assert len(made.rounds) == 12
    assert [one.tonic for one in made.rounds] == list(KEYS["circle"])
    text = (out / "drill.txt").read_text(encoding="utf-8")
    assert text.count("\nchord ") >= 12
    assert find_recipe(str(out / "recipe.yaml")).value == made.recipe


def test_over_a_tune_and_over_chords(tmp_path: Path, capsys: Captured) -> None:
    """A recipe goes over a chart's changes, or over chords typed, in other keys with their
    letters; a long drill says when to rest."""
    chart = drill(DrillOptions("low-lamp", chart="paper-kites"))
    assert chart.bpm == 168
    assert {note.chord.symbol for note in chart.notes} > {"Gm7b5"}
    typed = drill(DrillOptions("minor-doorway", over="Dm7 G7 | Cmaj7", keys="C,Ab", register="low"))
    symbols = [change.chord.symbol for change in typed.changes]
    assert symbols == ["Dm7", "G7", "Cmaj7", "Bbm7", "Eb7", "Abmaj7"]
    assert all(43 <= note.pitch <= 67 for note in typed.notes)
    out = tmp_path / "long"
    words = ["recipe", "low-lamp", "--chart", "paper-kites", "--keys", "all", "--tempo", "90"]
    said = told([*words, "--varied", "--out", str(out)], capsys)
    assert "take breaks" in said
    assert "physician" in said


def test_varied_by_seed() -> None:
    """The first time is as written, the others are not; the same seed is the same drill."""
    plain, one, again, other = (
        drill(DrillOptions("late-climb", keys="all", varied=varied, seed=seed)).rounds
        for varied, seed in ((False, 1), (True, 1), (True, 1), (True, 2))
    )
    assert one == again
    assert one[0] == plain[0]
    assert one[1:] != plain[1:]
    assert one != other


@pytest.mark.parametrize("name", [entry.name for entry in list_recipes()])
def test_one_round_varied(name: str) -> None:
    """A single round is varied from its first note on, and not by each seed in the same way."""
    plain = drill(DrillOptions(name)).notes
    seeds = [drill(DrillOptions(name, varied=True, seed=seed)).notes for seed in range(1, 7)]
    assert all(notes != plain for notes in seeds)
    assert seeds[0] != seeds[1]
    assert len({tuple(notes) for notes in seeds}) >= 3
    assert drill(DrillOptions(name, seed=5)).notes == plain


def test_varied_over_a_tune() -> None:
    """Over a tune every time varies when there is one round; the first does not when there are
    more, but the first of the second round does."""
    tune, keys = "copper-horizon", "G,A"
    plain = drill(DrillOptions("late-climb", chart=tune, keys=keys))
    one = drill(DrillOptions("late-climb", chart=tune, varied=True))
    two = drill(DrillOptions("late-climb", chart=tune, keys=keys, varied=True))
    count = sum(note.tick < 48 * 4 for note in plain.notes)
    assert one.notes[:count] != plain.notes[:count]
    assert two.notes[:count] == plain.notes[:count]
    assert two.rounds[1].notes[:count] != plain.rounds[1].notes[:count]


def test_a_progression_over_a_tune(capsys: Captured) -> None:
    """It is laid where the tune has it, by its bars as the chart has them, and the text says so;
    a tune without it is refused in one line."""
    made = drill(DrillOptions("cellar-stairs", chart="paper-kites"))
    bars = {note.tick // 48 for note in made.notes}
    assert bars == {5, 6, 13, 14, 29, 30}
    assert {note.chord.symbol for note in made.notes} == {"Gm7b5", "C7b9", "Fm7"}
    said = told(["recipe", "cellar-stairs", "--chart", "paper-kites"], capsys)
    assert "Laid where ii7b5 V7b9 i6 occurs, in bar 5, 13, 29; silent elsewhere." in said
    none = refused(["recipe", "cellar-stairs", "--chart", "copper-horizon"], capsys)
    assert "come nowhere in a row" in none
    assert "come nowhere in a row" in refused(
        ["recipe", "cellar-stairs", "--over", "Cm7 F7 Bb7"], capsys
    )


def test_no_long_silence_over_long_chords() -> None:
    """Over eight bars of a chord there is a line in every three bars at least."""
    made = drill(DrillOptions("late-climb", chart="copper-horizon"))
    played = {note.tick // 48 for note in made.notes}
    assert all(played & {bar, bar + 1, bar + 2} for bar in range(1, 31))


def test_too_wide_is_told(tmp_path: Path, capsys: Captured) -> None:
    """A line that does not fit in is told in one line with its bars and items, where it is checked
    and where it is played; the shipped ones all fit."""
    path = tmp_path / "wide.yaml"
    path.write_text("name: wide\nabout: Wide.\nline: [scale low 1 to 15, rest]\n")
    checked = told(["check", str(path)], capsys)
    assert checked.count("\n") == 1
    assert "moved by octaves, in bar 2 `scale low 1 to 15`, bar 3 `scale" in checked
    assert "moved by octaves, in bar 2 `scale" in told(["recipe", str(path)], capsys)
    told(["recipe", str(path), "--out", str(tmp_path / "out")], capsys)
    assert "moved by octaves" in (tmp_path / "out" / "drill.txt").read_text(encoding="utf-8")
    for entry in list_recipes():
        assert not any(note.folded for note in drill(DrillOptions(entry.name, keys="all")).notes)


@pytest.mark.slow
def test_with_its_sound(tmp_path: Path, capsys: Captured) -> None:
    """The sound is as long as the drill and below full scale."""
    out = tmp_path / "out"
    told(["recipe", "downhill", "--out", str(out), "--wav"], capsys)
    with wave.open(str(out / "drill.wav")) as sound:
        assert sound.getnframes() / sound.getframerate() > 4.0


def test_what_is_refused(tmp_path: Path, capsys: Captured) -> None:
    """What cannot be used is one line that names it and mends it."""
    assert "Did you mean `downhill`?" in refused(["recipe", "downhil"], capsys)
    assert "`jam recipe` lists" in refused(["recipe", "xyzzy"], capsys)
    assert "no key" in refused(["recipe", "downhill", "--keys", "C,H"], capsys)
    assert "--out" in refused(["recipe", "downhill", "--wav"], capsys)
    assert "one of the two" in refused(
        ["recipe", "downhill", "--chart", "paper-kites", "--over", "C7"], capsys
    )
    assert "chord symbol" in refused(["recipe", "downhill", "--over", "Cq7"], capsys)
    short = ["recipe", "late-climb", "--over", "C7 F7 | G7 C7"]
    assert "no chord lasts long enough" in refused(short, capsys)
    assert "no recipe is named" in refused(["recipe", "--keys", "all"], capsys)
    (tmp_path / "bad.yaml").write_text("name: a\nabout: b\nline: [degre 1]\n", encoding="utf-8")
    assert "Did you mean `degree 1`?" in refused(["recipe", str(tmp_path / "bad.yaml")], capsys)


def test_check_knows_recipes(home: Path, capsys: Captured) -> None:
    """`jam check` reads a recipe as one."""
    path = home / "styles" / "recipes" / "mine.yaml"
    assert "phrase recipe 'mine'" in told(["check", str(path)], capsys)
