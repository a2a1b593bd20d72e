"""``jam play``: what was typed reaches the session, and `jam` alone means it."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest

from jam.cli.main import build_parser, main, with_command
from jam.cli.play import options_of
from jam.session.live_options import LiveOptions

Captured = pytest.CaptureFixture[str]


def test_play_hands_over_what_was_typed() -> None:
    """Every option of the command reaches the session under its own name."""
    words = shlex.split(
        "play --chart c.yaml --style bop --tempo 132.5 --turns 'on cue' --first companion"
        " --uneven restart --eager --clock taps --setup horn --melody companion --in Keys"
        " --band-in Trio --clock-in Box --cues-in Pads --out sound --system JACK --seed 7"
        " --split comping --split-at F4 --metre 3/4 --key 'Eb major' --choruses 3 --no-band"
        " --click --turn-signal --hold --lines --folder o --anew --config j.yaml --home h"
    )
    assert options_of(build_parser().parse_args(words)) == LiveOptions(
        chart="c.yaml",
        style="bop",
        tempo_bpm=132.5,
        turns="on cue",
        first="companion",
        uneven="restart",
        eager=True,
        clock="taps",
        setup="horn",
        melody="companion",
        player_in="Keys",
        band_in="Trio",
        clock_in="Box",
        cues_in="Pads",
        out="sound",
        system="JACK",
        seed=7,
        split="comping",
        split_at=65,
        metre="3/4",
        key="Eb major",
        choruses=3,
        with_band=False,
        click=True,
        turn_signal=True,
        hold=True,
        view="lines",
        out_folder=Path("o"),
        anew=True,
        config=Path("j.yaml"),
        home=Path("h"),
    )


def test_without_options_nothing_is_said() -> None:
    """What is not typed is left to the set-up, last night and the configuration."""
    assert options_of(build_parser().parse_args(["play"])) == LiveOptions()


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("", "play"),
        ("--setup horn", "play --setup horn"),
        ("--home h", "--home h play"),
        ("--home=h --anew", "--home=h play --anew"),
        ("--home h styles", "--home h styles"),
        ("demo --seed 1", "demo --seed 1"),
        ("--help", "--help"),
        ("--version", "--version"),
        ("nonsense", "nonsense"),
    ],
)
def test_no_command_means_play(typed: str, meant: str) -> None:
    """`jam` and its options alone play; a command, help and version stay what they are."""
    assert with_command(typed.split()) == meant.split()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--setup", "hron"], "--setup hron: there is no such set-up. Did you mean `horn`?"),
        (["--chart", "lamplight-blus"], "`lamplight-blues`"),
        (["--style", "bopp"], "`bop`"),
        (["--key", "H"], "--key H"),
        (["--metre", "3/4"], "--metre 3/4"),
        (["--metre", "3/3", "--chart", "none"], "Metres:"),
        (["--chart", "none", "--choruses", "2"], "--choruses 2"),
        (["--config", "none.yaml"], "no such file"),
    ],
)
def test_what_cannot_be_used_is_one_line(words: list[str], told: str, capsys: Captured) -> None:
    """It is told before anything is opened, with what mends it, and exit code 2."""
    assert main(["play", *words]) == 2
    said = capsys.readouterr()
    assert told in said.err
    assert (said.out, said.err.count("\n")) == ("", 1)


def test_ports_always_answers(capsys: Captured) -> None:
    """Exit code 0 whatever is plugged in, and a line for each part."""
    assert main(["ports", "--setup", "band"]) == 0
    told = capsys.readouterr().out
    for word in ("player", "band", "clock", "companion", "drums", "click"):
        assert f"\n  {word} " in told
    assert main(["ports", "--setup", "bnad"]) == 2


def test_cues_are_listed_assigned_and_forgotten(tmp_path: Path, capsys: Captured) -> None:
    """A cue that was given a trigger is listed with its file; clashes are told."""
    own = ["--home", str(tmp_path)]
    assert main([*own, "cue", "Take It", "--from", "note:A0"]) == 0
    assert "note 21 asks for `take it` from now on" in capsys.readouterr().out
    assert main([*own, "cue"]) == 0
    told = capsys.readouterr().out.splitlines()
    line = next(line for line in told if line.startswith("take it"))
    assert "note 21" in line
    assert "cues.yaml" in line
    assert main([*own, "cue", "stop", "--from", "note:21"]) == 2
    assert "note 21 asks for `take it` already" in capsys.readouterr().err
    assert main([*own, "cue", "stop", "--from", "note:21", "--instead"]) == 0
    assert "no more for `take it`" in capsys.readouterr().out
    assert main([*own, "cue", "stop", "--forget"]) == 0
    capsys.readouterr()
    assert main([*own, "cue"]) == 0
    assert "note 21" not in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["tak it"], "`take it`"),
        (["tap", "--from", "control:64"], "damper"),
        (["tap", "--from", "wheel:1"], "Write control:66"),
        (["tap", "--from", "program:0"], "Take 1 to 128"),
        (["tap", "--from", "note:H4"], "Write C4"),
    ],
)
def test_what_is_no_cue_is_one_line(words: list[str], told: str, capsys: Captured) -> None:
    """An unknown cue or trigger is told with what would do."""
    assert main(["cue", *words]) == 2
    said = capsys.readouterr()
    assert told in said.err
    assert (said.out, said.err.count("\n")) == ("", 1)
