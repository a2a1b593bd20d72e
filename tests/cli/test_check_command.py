"""``jam check``: tells what files are, and the one error in each bad one."""

from __future__ import annotations

from pathlib import Path

import pytest

from jam.cli.main import main
from jam.session.resources import CONFIG, data_folder, list_charts, list_styles

Captured = pytest.CaptureFixture[str]


def test_all_that_comes_along_is_good(capsys: Captured) -> None:
    """Every style, every chart and the configuration pass the check a user would run."""
    paths = [entry.path for entry in list_styles() + list_charts()] + [data_folder() / CONFIG]
    assert main(["check", *map(str, paths)]) == 0
    told = capsys.readouterr()
    assert told.err == ""
    assert told.out.count(": good\n") == len(paths)
    for kind in ("reply style 'bop'", "chart 'Lamplight Blues', 12 bars in 4/4", "configuration"):
        assert kind in told.out


def test_beats_and_changes_are_told_apart(tmp_path: Path, capsys: Captured) -> None:
    """A text whose second column counts is beats, one with chord symbols is changes."""
    beats, changes = tmp_path / "beats.txt", tmp_path / "changes.txt"
    beats.write_text("0.0 1\n0.5 2\n1.0 3\n1.5 4\n")
    changes.write_text("0.0 Dm7\n1.0 G7\n")
    assert main(["check", str(beats), str(changes)]) == 0
    told = capsys.readouterr().out
    assert "beats.txt: 4 beats in time: good" in told
    assert "changes.txt: 2 changes in time: good" in told


def test_good_and_bad_are_told_in_turn(tmp_path: Path, capsys: Captured) -> None:
    """One bad file makes it 2, and keeps no other from being looked at."""
    bad = tmp_path / "bad.yaml"
    bad.write_text("name: x\nabout: y\nrhythm:\n  densty: 1\n")
    good = tmp_path / "good.yaml"
    good.write_text("name: x\nabout: y\n")
    assert main(["check", str(bad), str(good)]) == 2
    told = capsys.readouterr()
    assert told.err == (
        f"{bad}:4: rhythm.densty: `densty` is not known here. Did you mean `density`?\n"
    )
    assert told.out == f"{good}: reply style 'x': good\n"


BAD = {
    "empty.yaml": b"",
    "list.yaml": b"- a\n- b\n",
    "other.yaml": b"colour: red\n",
    "metre.yaml": b"title: T\nkey: F\nmetre: 12:8\ntempo: 90\nsections:\n  A:\n    changes: F7\n",
    "key.yaml": b"title: T\nkey: H major\ntempo: 90\nsections:\n  A:\n    changes: F7\n",
    "chord.yaml": b"title: T\nkey: F\ntempo: 90\nsections:\n  A:\n    changes: F7 | Hm7\n",
    "slow.yaml": b"title: T\nkey: F\ntempo: 0\nsections:\n  A:\n    changes: F7\n",
    "fast.yaml": b"title: T\nkey: F\ntempo: 900\nsections:\n  A:\n    changes: F7\n",
    "twice.yaml": b"title: T\ntitle: T\n",
    "tab.yaml": b"title: T\n\tkey: F\n",
    "sharp.yaml": b"name: x\nabout: y\nlanding: [3, #11]\n",
    "bytes.yaml": b"name: \xff\n",
    "beats.txt": b"0.0 1\n1.0 2\n0.5 3\n",
    "changes.txt": b"0.0 Dm7\n1.0 Hm7\n",
    "nothing.txt": b"",
    "lead.musicxml": b"<score-partwise",
    "song.mp3": b"ID3",
    "empty.mid": b"",
    "broken.mid": b"MThd\x00\x00\x00\x06\x00\x01\x00\x01\x01\xe0MTrk\x00\x00\xff\xff\x00",
    "text.mid": b"this is no MIDI file",
}


@pytest.mark.parametrize("name", BAD)
def test_every_bad_file_is_one_line(name: str, tmp_path: Path, capsys: Captured) -> None:
    """One line on the error output that begins with the file, exit code 2, no traceback."""
    path = tmp_path / name
    path.write_bytes(BAD[name])
    assert main(["check", str(path)]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith(str(path))
    assert told.err.count("\n") == 1


def test_a_folder_is_one_line(tmp_path: Path, capsys: Captured) -> None:
    """A folder is no file to check, whatever its name ends in."""
    folder = tmp_path / "tune.yaml"
    folder.mkdir()
    assert main(["check", str(folder)]) == 2
    assert "this is a folder" in capsys.readouterr().err
