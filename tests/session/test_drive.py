"""The drive: steps when it should, a log in order, and a performance that can be done again."""

from math import inf

import pytest
from made_session import PERIOD_SEC, TinyCore, key, written

from jam import log
from jam.core.core import StepResult
from jam.events import MidiIn
from jam.session.drive import EFFORT, Drive

INPUTS = [
    key(0.1234567, 60),
    key(0.5, 60, down=False),
    key(0.6, 62),
    key(0.9, 62, down=False),
]


def test_the_core_is_stepped_at_inputs_and_when_it_is_due() -> None:
    """Steps fall on each input and on each due time, in order, and nowhere else."""
    core = TinyCore(until_sec=1.0)
    written(core, INPUTS, Drive)
    times = [now for now, _, _ in core.steps]
    assert times == sorted(times)
    assert set(times) == {0.0, 0.123457, PERIOD_SEC, 0.5, 0.6, 0.9}
    assert [count for now, count, _ in core.steps if now == 0.5] == [1]


def test_times_are_whole_microseconds_when_the_core_sees_them() -> None:
    """An input and its record have the same time, to the last digit."""
    _, records = written(TinyCore(), INPUTS, Drive)
    taken = [record for record in records if record["kind"] == "in"]
    assert [record["t"] for record in taken] == [0.123457, 0.5, 0.6, 0.9]
    assert all(record["t"] == record["at"] for record in taken)


def test_the_log_is_in_order_of_at() -> None:
    """What was sent stands between what the core made before and after it."""
    _, records = written(TinyCore(), INPUTS, Drive)
    moments = [log.rounded(record["at"]) for record in records]
    assert moments == sorted(moments)
    assert {record["kind"] for record in records} == {"effort", "in", "reply", "sent"}
    assert records[0] == log.effort(0.0, EFFORT)


def test_efforts_are_granted_from_their_moment_on() -> None:
    """Each step has the effort of the last grant before it, and each grant is logged once."""
    core = TinyCore(until_sec=1.0)
    _, records = written(core, INPUTS, Drive, grants=((0.0, 10), (0.5, 20)))
    assert {effort for now, _, effort in core.steps if now < 0.5} == {10}
    assert {effort for now, _, effort in core.steps if now >= 0.5} == {20}
    assert [r["granted"] for r in records if r["kind"] == "effort"] == [10, 20]


def test_what_the_port_refuses_comes_back_to_the_core() -> None:
    """A revocation that comes too late is reported to the core and logged."""
    _, records = written(TinyCore(hasty=True), INPUTS, Drive)
    reports = [record for record in records if record["kind"] == "io"]
    assert reports
    assert {record["what"] for record in reports} == {"revoke refused"}
    _, silent = written(TinyCore(hasty=True), INPUTS, Drive, port_reports=False)
    assert not [record for record in silent if record["kind"] == "io"]


def test_inputs_may_be_added_while_it_runs() -> None:
    """Somebody who listens first can play later; what is late is taken at once."""
    records: list[log.Record] = []
    core = TinyCore(until_sec=2.0)
    drive = Drive(core, records.extend)
    drive.run(1.0)
    drive.add([key(0.2, 64), key(1.5, 65)])
    drive.run(10.0)
    taken = [(record["t"], record["at"]) for record in records if record["kind"] == "in"]
    assert taken == [(0.2, 0.900001), (1.5, 1.5)], "a step of 0.9 s had been made already"


def test_a_run_stops_when_it_is_told_to() -> None:
    """The condition is asked before each step."""
    core = TinyCore()
    drive = Drive(core, lambda records: None)
    drive.run(stop=lambda: len(core.steps) == 3)
    assert len(core.steps) == 3
    drive.run(stop=lambda: True)
    assert len(core.steps) == 3


def test_the_end_leaves_no_note_sounding() -> None:
    """Every note-on has its note-off, wherever the session is cut."""
    for end_sec in (0.5, 0.65, 0.95, 5.0):
        records: list[log.Record] = []
        drive = Drive(TinyCore(), records.extend)
        drive.add(INPUTS)
        drive.run(end_sec)
        drive.finish(end_sec)
        sent = [record["bytes"] for record in records if record["kind"] == "sent"]
        ons = sorted(pitch for status, pitch, _ in sent if status == 0x90)
        assert ons == sorted(pitch for status, pitch, _ in sent if status == 0x80)


def test_a_core_that_has_ended_is_left_its_last_notes() -> None:
    """The session ends with the last note, not at the latest time allowed."""
    drive = Drive(TinyCore(until_sec=0.3), lambda records: None)
    drive.add([key(0.1, 60)])
    drive.run(3600.0)
    assert drive.ended
    assert drive.finish(3600.0) == pytest.approx(0.1 + PERIOD_SEC + 0.45)


def test_a_core_that_never_lets_go_is_stopped() -> None:
    """A core that wants the same moment again and again is a fault, not a hang."""

    class Stuck(TinyCore):
        def step(self, inputs: object, now: float, effort: int) -> StepResult:
            nothing: tuple[()] = ()
            return StepResult(nothing, nothing, None, now, False)  # type: ignore[arg-type]

    with pytest.raises(RuntimeError, match="again and again"):
        Drive(Stuck(), lambda records: None).run(1.0)


def test_timing_tells_plans_and_steps() -> None:
    """Each step that planned is a line, and a summary closes."""
    drive, _ = written(TinyCore(), INPUTS, Drive)
    lines = drive.timing.records()
    assert [line["kind"] for line in lines] == ["plan", "plan", "steps"]
    assert [line["at"] for line in lines[:2]] == [0.123457, 0.6]
    assert lines[2]["count"] == len(drive.timing.step_ms)
    assert 0 <= lines[2]["median_ms"] <= lines[2]["max_ms"] < inf


def test_nothing_to_wait_for_ends_a_run() -> None:
    """Without inputs and without anything due the run returns by itself."""
    core = TinyCore(until_sec=-1.0)
    drive = Drive(core, lambda records: None)
    drive.add([MidiIn(0.5, "player", (0xB0, 1, 1))])
    drive.run()
    assert drive.now <= 0.5
