"""What is plugged in, and what the configuration makes of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from jam.session import port_list
from jam.session.port_list import Machine, ports_text
from jam.session.resources import CONFIG

FULL = Machine(
    "ALSA", True, ("Midi Through 14:0", "Keys 20:0", "Pads 24:0"), ("Rack 28:0",), ("Speakers",)
)


def told(
    machine: Machine, config: str, home: Path, monkeypatch: pytest.MonkeyPatch
) -> dict[str, str]:
    """Return what is said of each role and part."""
    (home / CONFIG).parent.mkdir(exist_ok=True)
    (home / CONFIG).write_text(config)
    monkeypatch.setattr(port_list, "look", lambda wanted: machine)
    text = ports_text(home).partition("makes of it")[2]
    rows = [line.split(maxsplit=1) for line in text.splitlines()[1:]]
    return {row[0]: row[1] for row in rows}


@pytest.mark.parametrize(
    ("config", "word", "place"),
    [
        ("ports: {player: auto}", "player", "Keys 20:0"),
        ("ports: {player: pads}", "player", "Pads 24:0 (`pads`)"),
        ("ports: {player: Horn}", "player", "nothing that fits `Horn`"),
        ("ports: {player: '0'}", "player", "fits several"),
        ("ports: {band: virtual}", "band", "phrase-turns:band"),
        ("ports: {out: auto}", "companion", "built-in sound, outputs 1 and 2"),
        ("ports: {out: rack}", "companion", "Rack 28:0 (`rack`), channel 4"),
        ("parts: {click: {sound: [3, 4]}}", "click", "outputs 3 and 4"),
        ("parts: {click: {port: rack, sound: [3, 4]}}", "click", "and Rack 28:0"),
        ("parts: {click: {port: none}}", "click", "nowhere"),
    ],
)
def test_every_role_and_part_is_told_its_place(
    config: str, word: str, place: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What ``auto`` takes, what a part of a name means, and what is not there."""
    assert place in told(FULL, config + "\n", tmp_path, monkeypatch)[word]


def test_without_anything_it_says_what_mends_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The troubles come first; no role claims a port."""
    bare = Machine(troubles=("MIDI: no server. start it",))
    assert "nothing yet" in told(bare, "style: bop\n", tmp_path, monkeypatch)["companion"]
    assert ports_text(tmp_path).startswith("MIDI: no server. start it")
