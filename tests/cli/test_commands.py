"""The command line: what each command prints, and that bad input is one plain line."""

from __future__ import annotations

import ast
import json
import os
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

import jam
from jam.cli import main as cli
from jam.cli.main import build_parser, main
from jam.cli.render import options_of
from jam.errors import PortError
from jam.session.options import RenderOptions

PACKAGE = Path(jam.__file__).parent
Captured = pytest.CaptureFixture[str]


def usage_error(words: list[str], capsys: Captured) -> str:
    """Return what argparse's refusal says: exit code 2 and one line."""
    with pytest.raises(SystemExit) as caught:
        main(words)
    assert caught.value.code == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1
    return said.err


def refusal(words: list[str], capsys: Captured) -> str:
    """Return the one error about bad input: exit code 2, nothing but that line."""
    assert main(words) == 2
    said = capsys.readouterr()
    assert said.err.count("\n") == 1
    assert "Traceback" not in said.err
    return said.err


def test_version_and_help(capsys: Captured) -> None:
    """The version is the package's, and help names every command."""
    with pytest.raises(SystemExit) as caught:
        main(["--version"])
    assert caught.value.code == 0
    assert capsys.readouterr().out == f"jam {jam.__version__}\n"
    with pytest.raises(SystemExit) as caught:
        main(["--help"])
    assert caught.value.code == 0
    told = capsys.readouterr().out
    for command in (
        *("play", "render", "replay", "demo", "ports", "cue", "charts", "styles", "check"),
        *("compare", "doctor"),
    ):
        assert f"    {command} " in told


def test_styles_are_listed_and_told(capsys: Captured) -> None:
    """The list has a line a style; one by name is told in words, or in full."""
    assert main(["styles"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) >= 5
    assert any(line.startswith("bop ") for line in lines)
    assert main(["styles", "bop"]) == 0
    assert "Your idea. It " in capsys.readouterr().out
    assert main(["styles", "bop", "--yaml"]) == 0
    assert "  density: 2" in capsys.readouterr().out
    assert main(["styles", "--schema"]) == 0
    assert json.loads(capsys.readouterr().out)["required"] == ["name", "about"]
    assert main(["styles", "--yaml"]) == 2
    assert "no style is named" in capsys.readouterr().err


def test_charts_are_listed_and_told(capsys: Captured) -> None:
    """The list has a line a tune; one by name shows its changes."""
    assert main(["charts"]) == 0
    names = [line.split()[0] for line in capsys.readouterr().out.splitlines()]
    assert len(names) >= 8
    for name in names:
        assert main(["charts", name]) == 0
        assert "|" in capsys.readouterr().out


def test_a_bad_file_of_the_users_own_does_not_hide_the_others(
    tmp_path: Path, capsys: Captured
) -> None:
    """The list goes on, and says which file cannot be used and why."""
    folder = tmp_path / "styles"
    folder.mkdir()
    (folder / "broken.yaml").write_text("name: x\nabuot: y\n")
    assert main(["--home", str(tmp_path), "styles"]) == 0
    told = capsys.readouterr().out
    assert "`abuot` is not known here" in told
    assert "bop " in told


def test_home_may_stand_before_or_after_the_command(tmp_path: Path, capsys: Captured) -> None:
    """``--home`` means the same in both places."""
    (tmp_path / "styles").mkdir()
    (tmp_path / "styles" / "mine.yaml").write_text("name: mine\nabout: a try\n")
    assert main(["--home", str(tmp_path), "styles", "mine"]) == 0
    before = capsys.readouterr().out
    assert main(["styles", "mine", "--home", str(tmp_path)]) == 0
    assert capsys.readouterr().out == before


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["styles", "bopp"], "`bop`"),
        (["styles", "no/such.yaml"], "no such file"),
        (["charts", "lamplight-blus"], "`lamplight-blues`"),
        (["charts", "zzz"], "`jam charts`"),
        (["check", "none.yaml"], "no such file"),
    ],
)
def test_bad_names_are_one_line(words: list[str], told: str, capsys: Captured) -> None:
    """An unknown name or file is told with what mends it, and exit code 2."""
    assert told in refusal(words, capsys)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--tempo", "0"], "--tempo: 0 is no tempo"),
        (["--tempo", "900"], "30 to 400"),
        (["--tempo", "nan"], "--tempo"),
        (["--tempo", "fast"], "'fast' is no number"),
        (["--turns", "3"], "--turns"),
        (["--clock", "sundial"], "--clock"),
        (["--split-at", "H4"], "write C4"),
        (["--seed", "-1"], "--seed"),
        (["--choruses", "0"], "1 to 1000"),
        (["--temp", "90"], "--temp"),
    ],
)
def test_bad_options_are_one_line(words: list[str], told: str, capsys: Captured) -> None:
    """A bad value names its option and what would do, on one line, with exit code 2."""
    line = usage_error(["render", "--out", "x", *words], capsys)
    assert told in line
    assert "--help" in line


def test_render_hands_over_what_was_typed() -> None:
    """Every option of the command reaches the session under its own name."""
    words = shlex.split(
        "render --band b.mid --player p.mid --band-track Piano --player-track 2 --chart c.yaml"
        " --clock taps --beats b.txt --changes c.txt --tempo 132.5 --metre 3/4 --turns free"
        " --first companion --uneven restart --eager --choruses 3 --style bop --seed 7"
        " --split reversed --split-at F4 --no-band --wav --config j.yaml --out o --home h"
        " --key 'Eb major'"
    )
    args = build_parser().parse_args(words)
    assert options_of(args) == RenderOptions(
        out=Path("o"),
        band=Path("b.mid"),
        player=Path("p.mid"),
        band_track="Piano",
        player_track="2",
        chart="c.yaml",
        clock="taps",
        beats=Path("b.txt"),
        changes=Path("c.txt"),
        tempo_bpm=132.5,
        metre="3/4",
        key="Eb major",
        turns="free",
        first="companion",
        uneven="restart",
        eager=True,
        choruses=3,
        style="bop",
        seed=7,
        split="reversed",
        split_at=65,
        with_band=False,
        wav=True,
        config=Path("j.yaml"),
        home=Path("h"),
    )


def test_render_without_options_is_as_the_session_has_it() -> None:
    """The usual values stand in one place: those of the command line equal the session's."""
    assert options_of(build_parser().parse_args(["render", "--out", "o"])) == RenderOptions(
        out=Path("o")
    )


def test_errors_meant_for_the_user_are_one_line(
    monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    """Any error of ours is its text and 2; Ctrl-C is 130 and silent."""

    def busy(argv: object) -> int:
        raise PortError("the port is held by another program. Close it.")

    def stopped(argv: object) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr(cli, "_run", busy)
    assert main([]) == 2
    assert capsys.readouterr().err == "the port is held by another program. Close it.\n"
    monkeypatch.setattr(cli, "_run", stopped)
    assert main([]) == 130
    assert capsys.readouterr().err == ""


def test_a_reader_that_goes_away_is_no_fault() -> None:
    """``jam styles bop | head`` says nothing about a broken pipe."""
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run(
        [sys.executable, "-m", "jam", "styles", "bop"],
        stdout=writing,
        stderr=subprocess.PIPE,
        check=False,
    )
    os.close(writing)
    assert (done.returncode, done.stderr) == (141, b"")


def test_an_old_python_is_told_in_plain_words() -> None:
    """The check comes before anything an old Python lacks, and old Pythons can read that far."""
    for name in ("__init__.py", "__main__.py", "cli/__init__.py", "cli/main.py"):
        ast.parse((PACKAGE / name).read_text(encoding="utf-8"), feature_version=(3, 7))
    program = "import sys; sys.version_info = (3, 9, 2, 'final', 0); import jam.cli.main"
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )
    assert done.returncode == 1
    assert done.stderr.startswith("jam needs Python 3.11 or newer, and this is Python 3.9.")
    assert "Traceback" not in done.stderr


def test_help_loads_nothing_heavy() -> None:
    """``jam --help`` stays quick: it loads no command's work."""
    program = (
        "import sys; from jam.cli.main import build_parser; build_parser().format_help();"
        "print(sorted({'numpy', 'pydantic', 'yaml', 'mido', 'platformdirs'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
