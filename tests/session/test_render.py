"""Render and replay of the real core: a whole folder, from which the same notes come again."""

import json
import shutil
import wave
from dataclasses import replace
from pathlib import Path

import mido
import pretty_midi
import pytest
from made_files import line, shells, write_beats, write_changes, write_midi

from jam.errors import InputError
from jam.log import Log, read_log
from jam.session.folder import read_session
from jam.session.options import RenderOptions
from jam.session.render import render
from jam.session.replay import replay

SYMBOLS = ["Dm7", "G7", "Cmaj7", "A7b9"] * 3


@pytest.fixture
def files(tmp_path: Path) -> dict[str, Path]:
    return {
        "player": write_midi(tmp_path / "player.mid", {"horn": line(0.0, 8.0)}, channel=5),
        "changes": write_changes(tmp_path / "changes.txt", SYMBOLS),
        "beats": write_beats(tmp_path / "beats.txt", 40),
        "band": write_midi(
            tmp_path / "band.mid",
            {"keys": shells([(38, 53, 57, 60, 64), (43, 53, 59, 64), (36, 52, 59, 62)] * 3)},
        ),
    }


def rendered(out: Path, **named: object) -> Path:
    options = RenderOptions(out=out, turns="2")
    return render(replace(options, **named)).folder  # type: ignore[arg-type]


def read(folder: Path) -> Log:
    text = (folder / "session.jsonl").read_text(encoding="ascii")
    return read_log(text.splitlines(keepends=True), "session.jsonl")


def test_a_folder_holds_all_that_was_used_and_made(tmp_path: Path, files: dict[str, Path]) -> None:
    """Log, MIDI, copies, timing and, when asked for, sound; the log is sound and in order."""
    out = rendered(
        tmp_path / "a" / "b",
        player=files["player"],
        changes=files["changes"],
        beats=files["beats"],
        wav=True,
    )
    names = {path.name for path in out.iterdir()}
    assert names == {
        "session.jsonl",
        "session.mid",
        "session.wav",
        "style.yaml",
        "idiom.json",
        "config.yaml",
        "beats.txt",
        "changes.txt",
        "timing.jsonl",
    }
    log = read(out)
    assert log.of("call")
    assert log.of("reply")
    moments = [record["at"] for record in log.records]
    assert moments == sorted(moments)
    timing = (out / "timing.jsonl").read_text(encoding="ascii").splitlines()
    kinds = [json.loads(row)["kind"] for row in timing]
    assert kinds[-2:] == ["steps", "session"]
    assert "plan" in kinds
    with wave.open(str(out / "session.wav")) as sound:
        assert sound.getnframes() / sound.getframerate() > 8.0


def test_second_0_of_a_render_is_tick_0_of_its_files(
    tmp_path: Path, files: dict[str, Path]
) -> None:
    """The player's notes lie in the session's MIDI file where they lie in his own.

    Read back by mido and pretty_midi; onsets within a millisecond.
    """
    out = rendered(tmp_path / "out", player=files["player"], changes=files["changes"])
    file = mido.MidiFile(out / "session.mid")
    assert file.type == 1
    assert [track.name for track in file.tracks[1:]] == ["player", "companion", "band"]
    markers = [m.text for m in file.tracks[0] if m.type == "marker"]
    assert markers[:4] == SYMBOLS[:4]
    assert all(text.isascii() for text in markers)
    mine = pretty_midi.PrettyMIDI(str(files["player"])).instruments[0].notes
    session = pretty_midi.PrettyMIDI(str(out / "session.mid"))
    theirs = next(i for i in session.instruments if i.name == "player").notes
    assert [note.pitch for note in theirs] == [note.pitch for note in mine]
    for one, other in zip(mine, theirs, strict=True):
        assert other.start == pytest.approx(one.start, abs=0.001)
        assert other.end == pytest.approx(one.end, abs=0.001)


def test_the_parts_ask_for_their_sounds(tmp_path: Path, files: dict[str, Path]) -> None:
    """The companion's program is its style's (66 there, 65 from 0: General MIDI, alto sax), the
    bass an acoustic one; names by pretty_midi."""
    out = rendered(tmp_path / "out", player=files["player"], changes=files["changes"], style="bop")
    session = pretty_midi.PrettyMIDI(str(out / "session.mid"))
    sounds = {
        (i.name, pretty_midi.program_to_instrument_name(i.program))
        for i in session.instruments
        if not i.is_drum
    }
    assert ("companion", "Alto Sax") in sounds
    assert ("band", "Acoustic Bass") in sounds


@pytest.mark.parametrize(
    "named",
    [
        {"clock": "file", "use": ("player", "changes")},
        {"clock": "given", "use": ("player", "changes", "beats")},
        {"clock": "taps", "use": ("player", "changes", "beats")},
        {"clock": "midi", "use": ("player", "band"), "turns": "free"},
        {"clock": "internal", "use": ("player",), "chart": "window-waltz", "turns": "solo"},
    ],
    ids=lambda named: named["clock"],
)
def test_every_render_replays_to_the_same_notes(
    tmp_path: Path, files: dict[str, Path], named: dict[str, object]
) -> None:
    """From the folder alone, whatever happens to the originals."""
    used = {name: files[name] for name in named.pop("use")}  # type: ignore[attr-defined]
    out = rendered(tmp_path / "out", **named, **used)
    for path in files.values():
        path.unlink()
    moved = out.rename(tmp_path / "moved")
    assert read(moved).of("beat")
    assert read(moved).of("sent")
    result = replay(moved)
    assert result.same, result.text
    assert result.text.startswith("Same notes: ")


def test_one_seed_one_log(tmp_path: Path, files: dict[str, Path]) -> None:
    """Twice with one seed gives equal logs; another seed gives other notes."""
    used = {name: files[name] for name in ("player", "changes")}
    first, again, other = (
        (rendered(tmp_path / f"out{k}", seed=seed, **used) / "session.jsonl").read_bytes()
        for k, seed in enumerate((1, 1, 2))
    )
    assert first == again
    lines = [text.decode().splitlines()[1:] for text in (first, other)]
    played = [[json.loads(row) for row in rows if '"kind":"reply"' in row] for rows in lines]
    assert [[n["pitch"] for n in r["notes"]] for r in played[0]] != [
        [n["pitch"] for n in r["notes"]] for r in played[1]
    ]


def test_a_log_that_was_tampered_with_is_told_apart(tmp_path: Path, files: dict[str, Path]) -> None:
    """Another seed in the header gives other notes, and replay names the first."""
    out = rendered(tmp_path / "out", player=files["player"], changes=files["changes"])
    path = out / "session.jsonl"
    text = path.read_text(encoding="ascii").replace('"seed":1', '"seed":2', 1)
    path.write_text(text, encoding="ascii")
    result = replay(out)
    assert not result.same
    assert result.text.startswith("Not the same: reply 1")
    assert "made by" not in result.text
    path.write_text(text.replace('"program":"', '"program":"9.', 1), encoding="ascii")
    assert "It was made by version 9." in replay(out).text


def test_a_folder_with_anything_in_it_is_refused(tmp_path: Path, files: dict[str, Path]) -> None:
    """Nothing is written over: neither an earlier session nor anything else."""
    used = {name: files[name] for name in ("player", "changes")}
    out = rendered(tmp_path / "out", **used)
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    with pytest.raises(InputError, match="an earlier session"):
        rendered(out, **used)
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before
    with pytest.raises(InputError, match="already holds"):
        rendered(tmp_path, **used)
    with pytest.raises(InputError, match="this is a file"):
        rendered(files["player"], **used)


def test_a_refused_render_leaves_no_folder(tmp_path: Path, files: dict[str, Path]) -> None:
    """Everything is read before anything is written."""
    with pytest.raises(InputError, match="no such file"):
        rendered(tmp_path / "out", player=tmp_path / "none.mid")
    assert not (tmp_path / "out").exists()


def test_replay_of_something_else_is_refused(tmp_path: Path, files: dict[str, Path]) -> None:
    """A folder without a log, or one whose copies are gone, is one error."""
    with pytest.raises(InputError, match=r"no session\.jsonl"):
        replay(tmp_path)
    out = rendered(tmp_path / "out", player=files["player"], changes=files["changes"])
    (out / "style.yaml").unlink()
    with pytest.raises(InputError, match=r"style\.yaml"):
        replay(out)


def test_a_log_cut_off_in_the_middle_replays(tmp_path: Path, files: dict[str, Path]) -> None:
    """A session whose program died is the same as far as it goes."""
    out = rendered(tmp_path / "out", player=files["player"], changes=files["changes"])
    whole = (out / "session.jsonl").read_bytes()
    for share in (0.3, 0.6, 0.9):
        cut = shutil.copytree(out, tmp_path / f"cut{share}")
        (cut / "session.jsonl").write_bytes(whole[: int(len(whole) * share)])
        result = replay(cut)
        assert result.same, result.text
    assert read_session(out).header["kind"] == "session"
