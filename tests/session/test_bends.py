"""Bent notes from the style to the folder: sent, replayed, in the MIDI file, in the sound."""

from __future__ import annotations

from pathlib import Path

import mido
import numpy as np
import pretty_midi
import pytest
from made_files import line, write_changes, write_midi

from jam.log import Log, read_log
from jam.session.heard import heard_notes
from jam.session.options import RenderOptions
from jam.session.render import render
from jam.session.replay import replay

STYLE = """
name: slides
about: Every long note it can bend is bent.
based_on: sparse
instrument: tenor saxophone
feel: {falls: 0.5, scoops: 1.0}
lines: {leaps: 0.6}
idea: {literal: 0.2}
"""
LINE = [note for note in line(0.0, 96.0) if note[0] % 16.0 < 7.0]
"""Two bars on, two bars off."""

CENTRE = 0x2000
WHEEL, ON = 0xE0, 0x90


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A session of some ten exchanges in a style that bends."""
    home = tmp_path_factory.mktemp("bends")
    style = home / "slides.yaml"
    style.write_text(STYLE, encoding="utf-8")
    options = RenderOptions(
        out=home / "out",
        turns="2",
        player=write_midi(home / "player.mid", {"horn": LINE}, channel=5),
        changes=write_changes(home / "changes.txt", ["Dm7", "G7", "Cmaj7", "A7b9"] * 12),
        style=str(style),
        wav=True,
    )
    return render(options).folder


@pytest.fixture(scope="module")
def log(folder: Path) -> Log:
    text = (folder / "session.jsonl").read_text(encoding="ascii")
    return read_log(text.splitlines(keepends=True), "session.jsonl")


def value(data: list[int]) -> int:
    """Return the 14 bits of a pitch-wheel message (MIDI 1.0)."""
    return data[1] | data[2] << 7


def test_replies_tell_their_bends_and_send_them(log: Log) -> None:
    """Each note that is told as bent, and no other, has its wheel messages; falls go two semitones
    down, the whole range (common practice)."""
    told = {n["id"]: n["bend"] for r in log.of("reply") for n in r["notes"] if "bend" in n}
    assert {"scoop", "fall"} <= set(told.values())
    moved = {r["note"] for r in log.of("sent") if r["bytes"][0] & 0xF0 == WHEEL}
    sounded = {r["note"] for r in log.of("sent") if r["bytes"][0] & 0xF0 == ON}
    assert moved & set(told) == sounded & set(told)
    for note in moved & set(told):
        lowest = min(
            value(r["bytes"])
            for r in log.of("sent")
            if r["note"] == note and r["bytes"][0] & 0xF0 == WHEEL
        )
        assert lowest < CENTRE
        assert told[note] == "scoop" or lowest == 0


def test_steady_notes_begin_at_the_centre(log: Log) -> None:
    """Whatever was bent before, a note that is not bent begins with the wheel at rest; so does the
    end of the session."""
    told = {n["id"] for r in log.of("reply") for n in r["notes"] if "bend" in n}
    stands = CENTRE
    for record in sorted(log.of("sent"), key=lambda r: r["t"]):
        if record["part"] != "companion":
            continue
        if record["bytes"][0] & 0xF0 == WHEEL:
            stands = value(record["bytes"])
        elif record["bytes"][0] & 0xF0 == ON and record["note"] not in told:
            assert stands == CENTRE
    assert stands == CENTRE


def test_a_bent_session_replays(folder: Path) -> None:
    """The same messages again, wheels and all."""
    result = replay(folder)
    assert result.same, result.text


def test_the_file_has_the_same_wheel(folder: Path, log: Log) -> None:
    """Read back by mido and pretty_midi: the values sent, in their order, and the last is 0."""
    sent = [value(r["bytes"]) - CENTRE for r in log.of("sent") if r["bytes"][0] & 0xF0 == WHEEL]
    file = mido.MidiFile(folder / "session.mid")
    track = next(t for t in file.tracks if t.name == "companion")
    assert [m.pitch for m in track if m.type == "pitchwheel"] == sent
    session = pretty_midi.PrettyMIDI(str(folder / "session.mid"))
    (own,) = (i for i in session.instruments if i.name == "companion")
    assert own.pitch_bends[-1].pitch == 0
    assert len(own.pitch_bends) == len(sent)


def test_the_sound_takes_its_pitch_from_what_was_sent(log: Log) -> None:
    """A note that falls is heard as a curve that ends two semitones down, a steady one has none."""
    told = {n["id"]: n for r in log.of("reply") for n in r["notes"]}
    falls = [n for n in told.values() if n.get("bend") == "fall"]
    heard = {(round(n.t, 3), n.pitch): n for n in heard_notes(log.records)}
    keys = [(round(n["t"], 3), n["pitch"]) for n in falls]
    curves = [heard[key].bend for key in keys if key in heard]
    assert curves
    for curve in curves:
        sec, semitones = np.array(curve).T
        assert np.all(np.diff(sec) > 0)
        assert semitones[0] == 0.0
        assert semitones[-1] == pytest.approx(-2.0, abs=0.01)
    steady = {(round(n["t"], 3), n["pitch"]) for n in told.values() if "bend" not in n}
    assert not any(note.bend for key, note in heard.items() if key in steady)
