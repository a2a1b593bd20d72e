"""A take: driven along a clock, it leaves what a render leaves, and is the same again."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from twin_process import HandClock, TwinProcess

from jam import log
from jam.core.setup import Turns
from jam.events import Input, Intent, MidiIn
from jam.ports.wishes import Wishes
from jam.session.folder import LOG, MIDI, TIMING, read_session
from jam.session.io_client import IoClient
from jam.session.live_options import LiveOptions
from jam.session.live_plan import LivePlan, plan_live
from jam.session.replay import replay
from jam.session.take import Take

BPM = 240.0
BEAT_SEC = 60.0 / BPM
BEGAN_SEC = 500.0


class Stage:
    """A take on a process in memory, driven by a clock that is set by hand."""

    def __init__(self, plan: LivePlan, folder: Path) -> None:
        self.clock = HandClock(BEGAN_SEC)
        self.processes: list[TwinProcess] = []
        self.deaf_sec = 0.0
        self.client = IoClient(Wishes(), self._spawn, self.clock)
        self.client.listen()
        self.take = Take(plan, folder, self.client, BEGAN_SEC)
        self.records: list[log.Record] = []

    def _spawn(self, _: Wishes) -> TwinProcess:
        self.processes.append(TwinProcess(self.clock, self.deaf_sec))
        return self.processes[-1]

    def run(self, until: float, inputs: list[Input] | None = None, step_sec: float = 0.01) -> None:
        """Let time pass up to session second ``until``; inputs come when they are due."""
        waiting = sorted(inputs or [], key=lambda item: item.t)
        while self.client.now < until and not self.take.ended:
            self.clock.sec = BEGAN_SEC + log.rounded(min(self.client.now + step_sec, until))
            self.client.listen()
            due = [item for item in waiting if item.t <= self.client.now]
            waiting = waiting[len(due) :]
            self.records += self.take.go([*due, *self.client.inputs()], self.client.now)


@pytest.fixture
def plan(tmp_path: Path) -> LivePlan:
    """Return fours over the blues of the house, four bars a second."""
    asked = LiveOptions(
        chart="lamplight-blues", tempo_bpm=BPM, seed=7, anew=True, home=tmp_path / "own"
    )
    return plan_live(asked)


def line(start: float, bars: int) -> list[Input]:
    """Return a plain line of eighths, each note released before the next."""
    pitches = (65, 69, 72, 75, 74, 70, 69)
    notes: list[Input] = []
    for bar in range(bars):
        for place, pitch in enumerate(pitches):
            t = start + bar * 4 * BEAT_SEC + place * BEAT_SEC / 2
            notes += [
                MidiIn(t, "player", (0x90, pitch, 80)),
                MidiIn(t + 0.09, "player", (0x80, pitch, 0)),
            ]
    return notes


def test_one_pedal_press_four_bars_an_answer(plan: LivePlan, tmp_path: Path) -> None:
    """The pedal starts the count-in, four bars are played, four bars are answered; the folder
    holds the log, the MIDI file and the figures, and a replay gives the same notes."""
    plan = replace(plan, setup=replace(plan.setup, turns=Turns(), road_map=None))
    stage = Stage(plan, tmp_path / "take")
    pedal = [MidiIn(0.5, "player", (0xB0, 66, value)) for value in (127, 0)]
    stage.run(0.6, [*pedal])
    downbeat = 0.5 + 8 * BEAT_SEC
    turns = [r for r in stage.records if r["kind"] == "turn"]
    stage.run(downbeat + 1.0)
    turns = [r for r in stage.records if r["kind"] == "turn"]
    head_sec = 0.0 if turns[0]["who"] == "player" else 12 * 4 * BEAT_SEC
    stage.run(downbeat + head_sec + 9.0, line(downbeat + head_sec, 4))
    stage.take.finish()
    left = stage.take.leave()
    said = read_session(tmp_path / "take")
    replies = [r for r in said.of("reply") if "replans" not in r]
    assert replies
    assert replies[0]["answers"] is not None
    assert left.replies == len(replies)
    names = {path.name for path in (tmp_path / "take").iterdir()}
    assert {LOG, MIDI, TIMING, "style.yaml", "config.yaml", "chart.yaml"} <= names
    result = replay(tmp_path / "take")
    assert result.same, result.text


@pytest.mark.parametrize("step_sec", [0.003, 0.05, 0.4])
def test_how_often_the_loop_wakes_changes_no_note(
    plan: LivePlan, tmp_path: Path, step_sec: float
) -> None:
    """Driven finely or in fits and starts, the band's notes are the same, late ones told apart."""
    stage = Stage(plan, tmp_path / "take")
    stage.run(6.0, [Intent(0.2, "start")], step_sec)
    stage.take.finish()
    stage.take.leave()
    result = replay(tmp_path / "take")
    assert result.same, result.text
    assert result.messages > 100


def test_a_take_without_music_leaves_no_folder(plan: LivePlan, tmp_path: Path) -> None:
    """Nothing was started: what had been laid out for the session is gone again."""
    stage = Stage(plan, tmp_path / "take")
    stage.run(1.0)
    stage.take.finish()
    assert stage.take.leave().folder is None
    assert not (tmp_path / "take").exists()


@pytest.mark.parametrize("deaf_sec", [0.0, 0.3, 2.7])
def test_a_process_that_dies_is_followed_by_another(
    plan: LivePlan, tmp_path: Path, deaf_sec: float
) -> None:
    """The form goes on, every note that was on is ended, and the replay knows, however long the
    next process takes to open its ports."""
    stage = Stage(plan, tmp_path / "take")
    stage.run(4.0, [Intent(0.2, "start")])
    stage.deaf_sec = deaf_sec
    stage.processes[-1].gone = True
    stage.run(8.0)
    stage.take.finish()
    stage.take.leave()
    said = read_session(tmp_path / "take")
    assert len(stage.processes) == 2
    assert [r["what"] for r in said.of("io")].count("process lost") == 1
    on: dict[int, int] = {}
    for record in said.of("sent"):
        step = {0x90: 1, 0x80: -1}.get(record["bytes"][0] & 0xF0, 0)
        on[record["note"]] = on.get(record["note"], 0) + step
    assert set(on.values()) == {0}
    assert said.of("beat")[-1]["t"] > 7.5
    result = replay(tmp_path / "take")
    assert result.same, result.text


def test_the_log_is_in_order(plan: LivePlan, tmp_path: Path) -> None:
    """Records stand in order of ``at``, though what was sent is reported later."""
    stage = Stage(plan, tmp_path / "take")
    stage.run(5.0, [Intent(0.2, "start")])
    stage.take.finish()
    moments = [record["at"] for record in read_session(tmp_path / "take").records]
    assert moments == sorted(moments)
