"""Performed again from its log, a session is the same, whatever was asked for in it."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

import pytest
from sessions import OTHER_STYLE, STYLE, chord, cue, key, line, setup, tune

from jam import log
from jam.charts.model import MelodyNote, RoadMap
from jam.core.core import Core
from jam.core.setup import CUES, Setup, Turns
from jam.events import Input, IoReport, MidiIn
from jam.listening.who import Split
from jam.session.config import Config
from jam.session.copies import read_setup, setup_record, write_copies
from jam.session.drive import Drive
from jam.session.replay import compare, perform_again

MELODY = (MelodyNote(0.0, 2.0, 64), MelodyNote(14.0, 2.0, 67))
HEADED = tune(road_map=RoadMap(1, "companion", None, "companion"), melody=MELODY)
PRESSES = {("note", 22): "trade", ("control", 66): "take it", ("program", 3): "fermata"}


def header(made: Setup) -> log.Record:
    """Return the header of a log of this setup."""
    return log.session(
        program="test", machine="here", seed=made.seed, style=made.style.name, chart=None,
        clock=made.clock, setup=setup_record(made),
    )  # fmt: skip


def written(made: Setup, inputs: Sequence[Input], until: float) -> log.Log:
    """Return the log of a session, as it is read back."""
    stream = io.StringIO()
    writer = log.LogWriter(stream)
    writer.write([header(made)])
    drive = Drive(Core(made), writer.write, grants=((0.0, 3000),))
    drive.add(inputs)
    drive.run(until)
    drive.finish(until)
    return log.read_log(stream.getvalue().splitlines(keepends=True), "session.jsonl")


def check(made: Setup, inputs: Sequence[Input], until: float = 40.0) -> log.Log:
    """Check that the session's log gives the same notes again; return it."""
    said = written(made, inputs, until)
    result = compare(said, perform_again(said, Core(made)))
    assert result.same, result.text
    return said


@pytest.mark.parametrize("name", CUES)
def test_every_cue_is_performed_again(name: str) -> None:
    """Each cue, early, late and twice, in a session that trades over a head and choruses."""
    made = setup(chart=HEADED, with_band=True, turn_signal=True)
    asked = [cue(t, name) for t in (7.13, 12.087, 19.9)]
    said = check(made, [*line(8, 18), *asked, cue(24.0, "last time"), *line(60, 70)])
    assert len([r for r in said.of("cue") if r["name"] == name]) >= 1


@pytest.mark.parametrize("clock", ["taps", "midi"])
@pytest.mark.parametrize("hold_tempo", [False, True])
def test_hold_and_follow_are_performed_again(clock: str, *, hold_tempo: bool) -> None:
    """On taps and MIDI clock, with a lost port and a new start."""
    made = setup(chart=HEADED, clock=clock, with_band=True, hold_tempo=hold_tempo)
    inputs: list[Input] = [cue(4.3, "hold tempo"), cue(12.6, "follow"), cue(20.0, "stop")]
    inputs += [cue(22.0, "start"), IoReport(26.0, "port lost", {"role": "clock"})]
    if clock == "taps":
        inputs += [cue(round(0.5 + 0.47 * n + 0.013 * (n % 3), 6), "tap") for n in range(40)]
    else:
        inputs += [MidiIn(0.3, "clock", (0xFA,))]
        inputs += [MidiIn(round(0.5 + n / 46.0, 6), "clock", (0xF8,)) for n in range(1150)]
    said = check(made, inputs)
    assert said.of("sent")


def test_presses_of_the_keyboard_are_performed_again() -> None:
    """Cues and the damper come out of the logged messages, and are not given twice."""
    made = setup(
        chart=HEADED, autostart=False, damper_starts=True, cues=PRESSES, with_band=True,
        split=Split("comping"), turns=Turns("on cue"),
    )  # fmt: skip
    inputs = [MidiIn(0.7, "player", (0xB0, 64, 127)), *chord(8, 30, (53, 57, 60, 64))]
    inputs += [MidiIn(14.2, "player", (0xB3, 66, 90)), key(24.4, 22), key(24.5, 22, 0)]
    inputs += [MidiIn(30.0, "player", (0xC0, 3)), cue(31.0, "last time"), cue(50.0, "cut off")]
    said = check(made, inputs, until=60.0)
    assert [r["name"] for r in said.of("cue")] == [
        "start", "take it", "trade", "fermata", "last time", "cut off",
    ]  # fmt: skip
    assert said.of("reply")


def test_a_setup_lies_whole_in_its_folder(tmp_path: Path) -> None:
    """Every field of live play is read back as it was, and every style in its order."""
    styles = (STYLE, OTHER_STYLE, STYLE.model_copy(update={"name": "third"}))
    made = setup(
        chart=None, styles=styles, clock="taps", turns=Turns("on cue"), cues=PRESSES,
        split=Split("reversed", 55, ((3, "band"),), "band"), channels={"companion": 5, "bass": 6},
        turn_signal=True, hold_tempo=True, damper_starts=True, autostart=False,
        road_map=RoadMap(1, "none", 2, "none", 2, fermata=True),
    )  # fmt: skip
    write_copies(tmp_path, made, Config(), None)
    assert read_setup(tmp_path, header(made)) == made
    assert sorted(p.name for p in tmp_path.glob("style*")) == [
        "style-2.yaml", "style-3.yaml", "style.yaml",
    ]  # fmt: skip


def test_a_setup_of_a_former_version_is_still_read(tmp_path: Path) -> None:
    """A log without the fields of live play is played as it was then, on the channels of then."""
    made = setup(chart=None, styles=(STYLE,))
    write_copies(tmp_path, made, Config(), None)
    former = header(made)
    for field in ("channels", "turn_signal", "hold_tempo", "damper_starts"):
        del former["setup"][field]
    del former["setup"]["split"]["other"]
    del former["setup"]["road_map"]["tags"], former["setup"]["road_map"]["fermata"]
    again = read_setup(tmp_path, former)
    assert again.channel_of("companion") == again.channel_of("melody") == 0
    assert (again.turn_signal, again.hold_tempo, again.damper_starts) == (False, False, False)
    assert (again.split, again.road_map) == (made.split, made.road_map)
