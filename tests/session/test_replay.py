"""Replay: the same notes from the same log, and a plain word on where they differ."""

import io
from collections.abc import Sequence
from copy import deepcopy

import pytest
from made_session import TinyCore, header, key

from jam import log
from jam.events import Input, Intent
from jam.session.drive import Drive
from jam.session.replay import compare, perform_again

INPUTS: list[Input] = [
    key(0.123456789, 60),
    Intent(0.4, "tap"),
    key(0.5, 60, down=False),
    key(0.7, 62),
    key(0.9, 62, down=False),
    key(1.9, 64),
]


def recorded(inputs: Sequence[Input] = INPUTS, *, hasty: bool = False) -> str:
    """Return the text of a log of the tiny core."""
    stream = io.StringIO()
    writer = log.LogWriter(stream)
    writer.write([header()])
    drive = Drive(TinyCore(hasty=hasty), writer.write, grants=((0.0, 10), (0.6, 20)))
    drive.add(inputs)
    drive.run(5.0)
    drive.finish(5.0)
    return stream.getvalue()


def read(text: str) -> log.Log:
    return log.read_log(text.splitlines(keepends=True), "session.jsonl")


@pytest.mark.parametrize("hasty", [False, True])
def test_a_log_performed_again_is_the_same(*, hasty: bool) -> None:
    """The same core on the log's inputs and efforts writes the same replies and messages."""
    then = read(recorded(hasty=hasty))
    again = perform_again(then, TinyCore(hasty=hasty))
    result = compare(then, again)
    assert result.same, result.text
    assert (result.replies, result.messages) == (3, 6)
    kinds = ("effort", "in", "intent", "io", "reply", "sent")
    assert [r for r in again if r["kind"] in kinds] == then.of(*kinds)


def test_another_program_is_told_apart() -> None:
    """A core that answers a semitone higher differs at its first reply, and the words say how."""
    then = read(recorded())
    result = compare(then, perform_again(then, TinyCore(up=8)))
    assert not result.same
    assert result.text.startswith("Not the same: reply 1, note 1")
    assert "pitch was 67 and is 68" in result.text


@pytest.mark.parametrize("field", ["pitch", "velocity", "beat", "beats", "t"])
def test_every_field_that_makes_a_note_is_compared(field: str) -> None:
    """A change in one field of one note is found and named."""
    then = read(recorded())
    changed = deepcopy(then)
    changed.of("reply")[1]["notes"][0][field] += 1
    result = compare(changed, perform_again(then, TinyCore()))
    assert not result.same
    assert "reply 2, note 1" in result.text
    assert f"{field} was" in result.text


def test_messages_are_compared_too() -> None:
    """The band has no replies: what was sent must be equal message by message."""
    then = read(recorded())
    changed = deepcopy(then)
    changed.of("sent")[2]["bytes"][1] += 1
    result = compare(changed, perform_again(then, TinyCore()))
    assert "sent 3" in result.text
    assert not result.same


def test_a_missing_or_an_added_reply_is_found() -> None:
    """A reply too many and a reply too few are both differences."""
    then = read(recorded())
    again = perform_again(then, TinyCore())
    replies = then.of("reply")
    fewer = log.Log(then.header, tuple(r for r in then.records if r is not replies[2]))
    assert "was played now and is not in the log" in compare(fewer, again).text
    short = [r for r in again if r.get("t") != replies[2]["t"]]
    assert "was not played again" in compare(then, short).text


def test_logs_cut_anywhere_are_performed_as_far_as_they_go() -> None:
    """A program that died while writing leaves a log that still replays, whole lines or not."""
    text = recorded()
    first = text.index("\n") + 1
    for size in range(first + 40, len(text), 97):
        then = read(text[:size])
        result = compare(then, perform_again(then, TinyCore()))
        assert result.same, (size, result.text)


def test_a_cut_log_says_so() -> None:
    """The verdict mentions that the log ends in the middle of a line."""
    text = recorded()
    then = read(text[:-5])
    assert "cut off" in compare(then, perform_again(then, TinyCore())).text


@pytest.mark.parametrize("late_sec", [0.000_001, 0.2])
def test_what_was_not_yet_written_is_no_difference(late_sec: float) -> None:
    """Messages leave a little after they are due, and a dying program's last ones are not in its
    log: wherever it ends, it is performed as far as it goes."""
    then = read(recorded())
    written = [r | {"at": r["at"] + late_sec} if r["kind"] == "sent" else r for r in then.records]
    written.sort(key=lambda record: record["at"])
    for size in range(1, len(written)):
        died = log.Log(then.header, tuple(written[:size]))
        result = compare(died, perform_again(died, TinyCore()))
        assert result.same, (size, result.text)


def test_what_is_missing_before_the_end_is_found() -> None:
    """A log that goes on after a message lacks it, however it ends."""
    then = read(recorded())
    lost = then.of("sent")[1]
    for size in range(then.records.index(then.of("sent")[4]), len(then.records) + 1):
        kept = tuple(r for r in then.records[:size] if r is not lost)
        shorter = log.Log(then.header, kept)
        assert not compare(shorter, perform_again(shorter, TinyCore())).same
