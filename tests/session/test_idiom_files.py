"""Idioms as a user meets them: learnt from files and sessions, named by styles, kept with both."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import mido
import numpy as np
import pytest

from jam.cli.main import main
from jam.errors import InputError
from jam.idiom.blending import ENOUGH_NOTES
from jam.idiom.learn import learn
from jam.idiom.text import read_counts
from jam.session.check import check_file
from jam.session.copies import read_setup, setup_record, write_copies
from jam.session.demo import demo
from jam.session.health import examine
from jam.session.idiom_lines import line_in_midi, lines_in_session
from jam.session.idioms import find_idiom
from jam.session.live_options import LiveOptions
from jam.session.live_plan import plan_live
from jam.session.options import DemoOptions
from jam.session.replay import replay
from jam.session.resources import data_folder, find_chart

Captured = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of a short session with the stand-in player."""
    folder = tmp_path_factory.mktemp("sessions") / "demo"
    demo(DemoOptions(folder, "lamplight-blues", seed=2, choruses=1, wav=False))
    return folder


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return the user's own folder, empty."""
    folder = tmp_path / "own"
    monkeypatch.setenv("JAM_HOME", str(folder))
    return folder


def put(path: Path, text: str) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def refusal(words: list[str], capsys: Captured) -> str:
    assert main(words) == 2
    said = capsys.readouterr()
    assert said.err.count("\n") == 1
    return said.err


def solo(path: Path, notes: int, *, markers: bool = True, tracks: int = 1) -> Path:
    """Write a made-up solo in eighths at 150 bpm, a rest every two bars, chords as markers."""
    rng = np.random.default_rng(7)
    file = mido.MidiFile(ticks_per_beat=480)
    conductor = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=400_000)])
    for number in range(notes // 14 + 1) if markers else ():
        text = ("Dm7", "G7", "coda sign")[number % 3]
        conductor.append(mido.MetaMessage("marker", text=text, time=480 * 8 if number else 0))
    file.tracks.append(conductor)
    for number in range(tracks):
        track = mido.MidiTrack([mido.MetaMessage("track_name", name=("horn", "piano")[number])])
        pitch = 67
        for index in range(notes):
            pitch += int(rng.choice([-2, -1, 1, 2, 3, -4])) if 50 < pitch < 80 else 67 - pitch
            wait = 480 if index and index % 14 == 0 else 0
            track.append(mido.Message("note_on", note=pitch, velocity=80, time=wait))
            track.append(mido.Message("note_off", note=pitch, velocity=0, time=240))
        file.tracks.append(track)
    file.save(path)
    return path


def test_one_learns_from_a_session_and_a_style_uses_it(
    session: Path, home: Path, tmp_path: Path, capsys: Captured
) -> None:
    """Little playing is laid over the shipped idiom, says so, and is played with."""
    assert main(["idiom", str(session), "--name", "mine"]) == 0
    told = capsys.readouterr().out
    assert told.startswith("Learnt: ")
    assert f"Few notes: from {ENOUGH_NOTES:,} on" in told
    written = home / "styles" / "idioms" / "mine.json"
    idiom = find_idiom("mine").value
    assert idiom.text == written.read_text(encoding="utf-8")
    assert idiom.licence == "yours; mainstream: ODbL-1.0"
    assert "Weimar Jazz Database" in " ".join(idiom.sources)
    style = put(tmp_path / "s.yaml", "name: s\nabout: s\nidiom: {name: mine}\n")
    played = demo(DemoOptions(tmp_path / "out", style=str(style), choruses=1, wav=False))
    assert (played.folder / "idiom.json").read_text(encoding="utf-8") == idiom.text
    assert replay(played.folder).same


def test_nothing_is_written_over(session: Path, home: Path, capsys: Captured) -> None:
    """A name that is taken is refused, by a file or a built-in idiom, until it is asked for."""
    words = ["idiom", str(session), "--name", "mine"]
    assert main(words) == 0
    before = (home / "styles" / "idioms" / "mine.json").read_bytes()
    capsys.readouterr()
    assert "--instead" in refusal([*words, "--companion"], capsys)
    assert (home / "styles" / "idioms" / "mine.json").read_bytes() == before
    assert main([*words, "--companion", "--instead"]) == 0
    assert (home / "styles" / "idioms" / "mine.json").read_bytes() != before
    capsys.readouterr()
    taken = refusal(["idiom", str(session), "--name", "mainstream"], capsys)
    assert "take its place" in taken


def test_much_playing_stands_alone(home: Path, tmp_path: Path, capsys: Captured) -> None:
    """From enough notes on nothing of the shipped idiom is in it but spreads it never measured."""
    path = solo(tmp_path / "solo.mid", 1_400)
    assert main(["idiom", str(path), "--name", "long"]) == 0
    assert "Few notes" not in capsys.readouterr().out
    idiom = find_idiom("long").value
    counts = read_counts(idiom.text, "long")
    assert idiom.licence == "as the files it was learnt from"
    assert (counts.notes, counts.phrases) == (1_400, 100)
    assert counts.bare.total() == 1_300
    assert counts.steps.total() == 1_300
    assert set(counts.patterns) <= {(), (0,), (6,), (0, 6)}


def test_chords_come_from_markers_or_a_chart(tmp_path: Path, home: Path) -> None:
    """Markers that are no chords are passed over; a chart begins in the bar that is said."""
    path = solo(tmp_path / "solo.mid", 70)
    marked = line_in_midi(path)
    assert [change.chord.symbol for change in marked.changes] == ["Dm7", "G7", "Dm7", "G7"]
    assert [change.beat for change in marked.changes] == [0.0, 8.0, 24.0, 32.0]
    assert marked.bpm == pytest.approx(150)
    assert [len(phrase) for phrase in marked.phrases] == [14] * 5
    head = "title: T\nkey: F\nmetre: 4/4\ntempo: 150\n"
    text = head + "sections:\n  A:\n    changes: F7 | Bb7\nform: A\n"
    chart = put(home / "config" / "charts" / "t.yaml", text)
    over = line_in_midi(path, find_chart(str(chart)).value, from_bar=3)
    assert [(c.beat, c.chord.symbol) for c in over.changes[:3]] == [
        *((8.0, "F7"), (12.0, "Bb7"), (16.0, "F7")),
    ]
    assert over.bars.at(8.0) == (0, 0.0)


def test_a_session_file_is_learnt_from_by_its_markers(session: Path) -> None:
    """The chords that the log says come back from the markers of its MIDI file."""
    line = line_in_midi(session / "session.mid", track="player")
    (said, *_) = lines_in_session(session)
    symbols = [change.chord.symbol for change in line.changes]
    assert symbols[:3] == [change.chord.symbol for change in said.changes][:3]
    pitches = [note.pitch for phrase in line.phrases for note in phrase]
    assert pitches[: len(said.phrases[0])] == [note.pitch for note in said.phrases[0]]


def test_a_session_and_its_file_teach_the_same(session: Path) -> None:
    """The log, cut at the rests in each turn, holds the phrases that its MIDI file holds over the
    chart, which begins after two bars of count-in; what is counted in them is nearly the same."""
    lines = lines_in_session(session)
    chart = find_chart("lamplight-blues").value
    line = line_in_midi(session / "session.mid", chart, from_bar=3, track="player")
    said = [phrase for line in lines for phrase in line.phrases]
    assert len(said) > len(lines)
    assert [[n.pitch for n in phrase] for phrase in said] == [
        [n.pitch for n in phrase] for phrase in line.phrases
    ]
    one, other = learn(lines), learn([line])
    assert (one.notes, one.phrases) == (other.notes, other.phrases)
    for name in ("steps", "bare", "first", "last"):
        few, many = getattr(one, name), getattr(other, name)
        assert (few & many).total() >= 0.9 * many.total(), name
    middle = [counts.spreads["phrase_beats"][1][10] for counts in (one, other)]
    assert middle[0] == pytest.approx(middle[1], abs=0.1)


def test_the_others_turn_is_no_rest(session: Path) -> None:
    """Between two lines of a session lies what the other one said."""
    for companion in (False, True):
        lines = lines_in_session(session, companion=companion)
        assert len(lines) > 1
        assert all(line.phrases for line in lines)
    first = lines_in_session(session)[0].phrases[-1][-1].heard_beat
    answer = lines_in_session(session, companion=True)[0].phrases[0][0].heard_beat
    again = lines_in_session(session)[1].phrases[0][0].heard_beat
    assert first < answer < again


BAD: dict[str, tuple[list[str], str]] = {
    "no such file": (["nothing.mid"], "there is no such file"),
    "several tracks": (["two.mid"], "--track: 2 'horn', 3 'piano'"),
    "another track": (["two.mid", "--track", "flute"], "there is no track 'flute'"),
    "no chords": (["bare.mid"], "no marker in it names a chord"),
    "no session": (["."], "there is no session.jsonl in it"),
    "chart for a session": (["demo", "--chart", "lamplight-blues"], "a session folder needs none"),
    "unknown chart": (["bare.mid", "--chart", "nowhere"], "not known"),
    "bar without chart": (["two.mid", "--from-bar", "3"], "no tune begins there"),
    "bar past the end": (
        ["bare.mid", "--chart", "lamplight-blues", "--from-bar", "9"],
        "begins in bar 5",
    ),
    "companion in a file": (["bare.mid", "--companion"], "no session folder is named"),
    "no suffix": (["demo", "--out", "x"], "must end in .json"),
    "no folder": (["demo", "--out", "bare.mid/x.json"], "cannot be written"),
    "one note": (["one.mid"], "no phrase of two notes"),
}


@pytest.mark.parametrize("case", BAD)
def test_what_cannot_be_learnt_is_one_line(
    case: str,
    session: Path,
    home: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: Captured,
) -> None:
    """One line that says what is wrong, exit code 2, and nothing is written."""
    monkeypatch.chdir(tmp_path)
    shutil.copytree(session, tmp_path / "demo")
    solo(tmp_path / "two.mid", 30, tracks=2)
    solo(tmp_path / "bare.mid", 30, markers=False)
    solo(tmp_path / "one.mid", 1)
    words, problem = BAD[case]
    assert problem in refusal(["idiom", *words, "--name", "mine"], capsys)
    assert not home.exists()


@pytest.mark.parametrize("name", ["", "plain", "a/b", "../x", "a b", "ä", "x" * 80])
def test_names_that_will_not_do_are_refused(
    name: str, session: Path, home: Path, capsys: Captured
) -> None:
    """A name becomes a file's name: no folders, no signs, and not that of the built-in one."""
    assert "no name for an idiom" in refusal(["idiom", str(session), "--name", name], capsys)


def test_without_a_name_idioms_are_told(session: Path, home: Path, capsys: Captured) -> None:
    """All of them with licence and source, or one in words; learning without a name is refused."""
    put(home / "styles" / "idioms" / "broken.json", "{}")
    assert main(["idiom"]) == 0
    told = capsys.readouterr().out
    assert "mainstream: " in told
    assert "licence: ODbL-1.0" in told
    assert "Weimar Jazz Database" in told
    assert "plain: " in told
    assert "broken: cannot be used: " in told
    assert main(["idiom", "mainstream", "plain"]) == 0
    assert "it moves by steps" in capsys.readouterr().out
    assert "Add --name" in refusal(["idiom", str(session)], capsys)
    assert "Did you mean `mainstream`" in refusal(["idiom", "mainstram"], capsys)
    assert "`jam idiom` lists" in refusal(["idiom", "zzz"], capsys)


def test_an_unknown_idiom_is_told_with_its_place(
    home: Path, tmp_path: Path, capsys: Captured
) -> None:
    """File, line, field and mend, by the check and by whatever would play it."""
    path = put(tmp_path / "s.yaml", "name: s\nabout: s\nidiom:\n  name: mainstraem\n")
    line = f"{path}:4: idiom.name: found 'mainstraem': not known. Did you mean `mainstream`?"
    assert refusal(["check", str(path)], capsys).startswith(line)
    words = ["demo", "--style", str(path), "--out", str(tmp_path / "out")]
    assert refusal(words, capsys).startswith(line)
    assert refusal(["styles", str(path)], capsys).startswith(line)
    assert check_file(data_folder() / "styles" / "idioms" / "mainstream.json") == (
        "idiom 'mainstream'"
    )


def test_a_style_with_an_unknown_idiom_does_not_stop_the_music(home: Path) -> None:
    """Among the styles to come it is left out and told; asked for, it is refused."""
    put(home / "styles" / "odd.yaml", "name: odd\nabout: x\nidiom: {name: nowhere}\n")
    made = plan_live(LiveOptions(home=home))
    assert any("nowhere" in remark for remark in made.remarks)
    assert "odd" not in [style.name for style in made.setup.styles]
    assert any("nowhere" in finding.found for finding in examine(home) if not finding.good)
    with pytest.raises(InputError, match="nowhere"):
        plan_live(LiveOptions(home=home, style="odd"))


def test_a_replay_uses_the_copy(session: Path, home: Path, tmp_path: Path) -> None:
    """What becomes of an idiom in the user's folder afterwards changes nothing."""
    assert main(["idiom", str(session), "--name", "mine"]) == 0
    own = home / "styles" / "idioms" / "mine.json"
    style = put(tmp_path / "s.yaml", "name: s\nabout: s\nidiom: {name: mine, weight: 1}\n")
    played = demo(DemoOptions(tmp_path / "out", style=str(style), choruses=1, wav=False))
    other = solo(tmp_path / "solo.mid", 1_400)
    assert main(["idiom", str(other), "--name", "mine", "--instead"]) == 0
    assert replay(played.folder).same
    shutil.copy(own, played.folder / "idiom.json")
    assert not replay(played.folder).same, "another idiom gives the same notes: a test of nothing"
    (played.folder / "idiom.json").unlink()
    with pytest.raises(InputError, match=r"idiom\.json is missing"):
        replay(played.folder)


def test_two_idioms_have_two_copies(session: Path, home: Path, tmp_path: Path) -> None:
    """Each style gets its own back, however they are called in the folder."""
    assert main(["idiom", str(session), "--name", "mine"]) == 0
    put(home / "styles" / "late.yaml", "name: late\nabout: x\nidiom: {name: mine}\n")
    made = plan_live(LiveOptions(home=home, style="late"))
    setup = replace(made.setup, chart=None)
    folder = tmp_path / "kept"
    folder.mkdir()
    write_copies(folder, setup, made.config, None)
    assert (folder / "idiom.json").read_text() == find_idiom("mine").value.text
    assert (folder / "idiom-2.json").read_text() == find_idiom("mainstream").value.text
    assert not (folder / "idiom-3.json").exists()
    header = {"seed": 1, "chart": None, "setup": setup_record(setup)}
    back = read_setup(folder, header)
    for style in back.styles:
        assert back.idiom_of(style).name == style.idiom.name
    assert back.idiom_of(back.styles[0]).name == "mine"


def test_what_stands_alone_holds_nothing_of_the_shipped_idiom(
    session: Path, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not even a row of a spread that was never measured: the file says `yours` and no more."""
    monkeypatch.setattr("jam.session.idiom_learn.ENOUGH_NOTES", 10)
    said = [replace(line, phrases=line.phrases[:1]) for line in lines_in_session(session)]
    monkeypatch.setattr("jam.session.idiom_learn.lines_in_session", lambda *_, **__: said)
    assert main(["idiom", str(session), "--name", "own"]) == 0
    own = find_idiom("own").value
    assert (own.licence, own.sources) == ("yours", ("demo",))
    mine = read_counts(own.text, "own")
    shipped = read_counts(find_idiom("mainstream").value.text, "mainstream")
    assert not any(learn(said).spreads["rest_beats"]), "a test of nothing"
    theirs = [row for rows in shipped.spreads.values() for row in rows]
    assert not [row for rows in mine.spreads.values() for row in rows if row and row in theirs]
    assert not mine.windows & shipped.windows


def test_the_companions_half_keeps_the_licence_it_was_played_by(
    session: Path, home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its lines were drawn from an idiom, however many they are."""
    monkeypatch.setattr("jam.session.idiom_learn.ENOUGH_NOTES", 10)
    assert main(["idiom", str(session), "--companion", "--name", "its"]) == 0
    its = find_idiom("its").value
    assert its.licence == "yours; mainstream: ODbL-1.0"
    assert "Weimar Jazz Database" in " ".join(its.sources)


def test_what_is_named_twice_counts_once(
    session: Path, home: Path, tmp_path: Path, capsys: Captured
) -> None:
    """The same folder, or a copy of it, is left out and said to be."""
    assert main(["idiom", str(session), "--name", "once"]) == 0
    copy = shutil.copytree(session, tmp_path / "copy")
    capsys.readouterr()
    words = [str(session), str(session), str(copy)]
    assert main(["idiom", *words, "--name", "thrice"]) == 0
    told = capsys.readouterr().out
    assert f"Left out: {session}, named twice" in told
    assert f"Left out: {copy}, the same as {session}" in told
    assert find_idiom("thrice").value.notes == find_idiom("once").value.notes
    assert find_idiom("thrice").value.sources == find_idiom("once").value.sources


def test_no_folder_is_made_for_out(
    session: Path, home: Path, tmp_path: Path, capsys: Captured
) -> None:
    """A folder that is not there is most often a slip of the hand."""
    out = tmp_path / "nowhere" / "deep" / "x.json"
    told = refusal(["idiom", str(session), "--name", "x", "--out", str(out)], capsys)
    assert f"there is no folder {out.parent}" in told
    assert not (tmp_path / "nowhere").exists()


def over_changes(path: Path, tones: list[tuple[int, ...]], late: int = 0) -> Path:
    """Write eighths that break a chord a bar, ``late`` bars after the top, chorus after chorus."""
    rng = np.random.default_rng(3)
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=400_000)])
    for number in range(8 * len(tones)):
        chord = tones[(number - late) % len(tones)]
        for place in range(8):
            pitch = 60 + int(rng.choice(chord))
            wait = 240 if place == 0 else 0
            track.append(mido.Message("note_on", note=pitch, velocity=80, time=wait))
            length = 180 if place == 7 else 240
            track.append(mido.Message("note_off", note=pitch, time=240 - wait if wait else length))
            if place == 7:
                track.append(mido.Message("control_change", control=1, value=0, time=60))
    file = mido.MidiFile(ticks_per_beat=480)
    file.tracks.append(track)
    file.save(path)
    return path


# The chord tones of Ebmaj7, Am7, Abmaj7 and D7, as pitch classes: any textbook.
FOUR = [(3, 7, 10, 2), (9, 0, 4, 7), (8, 0, 3, 7), (2, 6, 9, 0)]
CHART = (
    "title: T\nkey: Eb\nmetre: 4/4\ntempo: 150\nsections:\n  A:\n"
    "    changes: Ebmaj7 | Am7 | Abmaj7 | D7\nform: A\n"
)


def test_a_chart_at_the_wrong_bar_is_told(home: Path, tmp_path: Path, capsys: Captured) -> None:
    """With the bar that fits; where the chart lies right nothing is said."""
    put(home / "config" / "charts" / "t.yaml", CHART)
    path = over_changes(tmp_path / "line.mid", FOUR, late=1)
    words = ["idiom", str(path), "--chart", "t", "--name", "m", "--instead"]
    assert main([*words, "--from-bar", "2"]) == 0
    assert "hardly fits" not in capsys.readouterr().out
    assert main(words) == 0
    assert "It hardly fits the chart there" in (told := capsys.readouterr().out)
    assert "100 % would be with --from-bar 2." in told


def test_a_chart_of_another_tune_is_told(home: Path, tmp_path: Path, capsys: Captured) -> None:
    """No bar of it fits: the notes agree with it no more than notes drawn by lot."""
    put(home / "config" / "charts" / "t.yaml", CHART)
    path = over_changes(tmp_path / "line.mid", [(1, 1, 1, 4)] * 4)
    assert main(["idiom", str(path), "--chart", "t", "--name", "m"]) == 0
    assert "Is it this tune, in this key" in capsys.readouterr().out
