"""The session log: what is written is what is read, and what is broken is named."""

import io
import json
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jam import log
from jam.errors import InputError


def header() -> log.Record:
    return log.session(
        program="0.1.0", machine="m", seed=1, style="plain", chart=None, clock="internal"
    )


def one_of_each() -> list[log.Record]:
    note = {"t": 1.0, "beat": 2.0, "beats": 0.5, "pitch": 60, "velocity": 80}
    return [
        log.effort(0.0, 20000),
        log.midi_in(0.5, 0.5, "player", (0x90, 60, 90), "line"),
        log.intent(0.6, "tap"),
        log.io(0.6, "revoke refused", {"id": 4}),
        log.beat(1.0, 0.9, 2.0, bar=1, beat_in_bar=3, bpm=120.0, source="internal", locked=True),
        log.chord(1.0, 0.9, 2.0, "Dm7", "chart"),
        log.chord(1.0, 0.9, 2.0, None, "forecast", 0.2),
        log.turn(1.0, 0.9, 2.0, "companion", 16.0),
        log.call(3, 1.0, 2.0, 2.1, [note]),
        log.reply(4, 3, 2.2, 4.0, 2.1, 900, [note]),
        log.reply(4, 3, 3.0, 3.0, 2.5, 900, [], replans=4, from_beat=6.0),
        log.span(2.5, 4, 6.0, 2.0, "Ebm7"),
        log.sent(2.6, 2.6, "memory", "bass", 9, (0x80, 40, 0)),
        log.cue(2.7, "take it"),
        log.fault(2.8, "the plan was late"),
        log.jump(2.9, beat=0.0),
    ]


def text_of(records: list[log.Record]) -> str:
    stream = io.StringIO()
    log.LogWriter(stream).write(records)
    return stream.getvalue()


def read(text: str) -> log.Log:
    return log.read_log(text.splitlines(keepends=True), "session.jsonl")


def test_every_kind_comes_back_as_it_was_written() -> None:
    """Each builder's record passes the reader and is read back equal."""
    records = one_of_each()
    assert {record["kind"] for record in records} | {"session"} == set(log.FIELDS)
    found = read(text_of([header(), *records]))
    assert list(found.records) == records
    assert not found.cut


@given(st.floats(-1e5, 1e5))
def test_rounding_is_settled_at_once(value: float) -> None:
    """A number rounded once and read back from text rounds to itself."""
    once = log.rounded(value)
    assert log.rounded(float(json.dumps(once))) == once
    assert abs(once - value) <= 0.5000001e-6


def test_a_line_is_ascii_whatever_is_in_it() -> None:
    """Signs outside ASCII are escaped and come back."""
    line = log.to_line(log.fault(0.0, "no chart named Frühling ♭"))
    assert line.isascii()
    assert json.loads(line)["what"] == "no chart named Frühling ♭"


def test_minus_zero_and_infinity() -> None:
    """Minus zero is written as zero; infinity is refused: JSON has no word for it."""
    assert '"at":0.0' in log.to_line(log.fault(-1e-9, "x"))
    with pytest.raises(ValueError, match="JSON"):
        log.to_line(log.fault(inf, "x"))


@pytest.mark.parametrize("kept", [1, 10, 25])
def test_a_last_line_cut_off_is_left_out_and_said(kept: int) -> None:
    """After a crash everything before the unfinished line is read."""
    text = text_of([header(), log.effort(0.0, 5), log.cue(1.0, "stop")])
    last = text.splitlines()[-1]
    whole = read(text[: -len(last) - 1] + last[:kept])
    assert whole.cut
    assert [record["kind"] for record in whole.records] == ["effort"]


def test_a_whole_last_line_without_its_end_is_kept() -> None:
    """A log that lacks only its last line end loses nothing."""
    found = read(text_of([header(), log.cue(1.0, "stop")]).rstrip("\n"))
    assert not found.cut
    assert len(found.records) == 1


@pytest.mark.parametrize(
    ("lines", "line", "field"),
    [
        ([header(), "{broken}\n", log.effort(0.0, 1)], 2, ""),
        ([header(), {"kind": "weather"}], 2, "kind"),
        ([header(), ["a", "list"]], 2, "kind"),
        ([header(), {"kind": "effort", "at": 0.0}], 2, "granted"),
        ([header(), {"kind": "effort", "at": 0.0, "granted": True}], 2, "granted"),
        ([header(), {"kind": "cue", "at": "soon"}], 2, "at"),
        ([log.effort(0.0, 1)], 1, ""),
        ([{**header(), "format": 99}], 1, "format"),
        ([], None, ""),
    ],
)
def test_broken_logs_are_named(lines: list[object], line: int | None, field: str) -> None:
    """What is no record is one error that names file, line and field."""
    text = "".join(row if isinstance(row, str) else json.dumps(row) + "\n" for row in lines)
    with pytest.raises(InputError) as caught:
        read(text)
    assert caught.value.source == "session.jsonl"
    assert (caught.value.line, caught.value.field) == (line, field)


def test_bytes_that_are_none_are_refused_with_their_line() -> None:
    """A message with a number over 255 or a word in it is one error, not a crash of the core."""
    for data in ("[999,60,80]", '[144,"x",80]', "[144,true,80]"):
        row = f'{{"kind":"in","t":0.0,"at":0.0,"port":"player","bytes":{data}}}'
        with pytest.raises(InputError, match="whole numbers from 0 to 255") as caught:
            log.read_log([log.to_line(header()) + "\n", row + "\n"], "s.jsonl")
        assert caught.value.line == 2
