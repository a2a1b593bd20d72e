"""What brain and I/O process say to each other arrives as it was said, however it is cut up."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jam.errors import JamError
from jam.events import Part
from jam.ports.wire import (
    PORTS,
    SIZE,
    TOPICS,
    CutNote,
    Decoder,
    Down,
    EndedEarly,
    EndSounding,
    Heard,
    News,
    PlayNote,
    Quit,
    Ready,
    Refused,
    RevokeNote,
    SentNote,
    SetLevel,
    SilenceAll,
    Up,
    encode,
    encode_all,
)
from jam.ports.wishes import PARTS, PartWish, SoundWish, ThruWish, Wishes

SEC = st.floats(0.0, 1e6)
ID = st.integers(0, 2**62)
BYTE = st.integers(0, 127)
PART: st.SearchStrategy[Part] = st.sampled_from(PARTS)
DATA = st.lists(st.integers(0, 255), min_size=1, max_size=3).map(tuple)

RECORDS: st.SearchStrategy[Down | Up] = st.one_of(
    st.builds(
        PlayNote,
        ID,
        PART,
        SEC,
        SEC,
        st.integers(0, 15),
        BYTE,
        BYTE,
        SEC,
        st.sampled_from((None, "scoop", "fall")),
    ),
    st.builds(RevokeNote, ID, SEC),
    st.builds(CutNote, ID, SEC, SEC),
    st.builds(SilenceAll, SEC),
    st.builds(EndSounding, PART, st.integers(0, 15), BYTE),
    st.builds(SetLevel, st.none() | PART, st.floats(0.0, 1.0)),
    st.just(Quit()),
    st.builds(Ready, SEC, st.integers(1, 2**22)),
    st.builds(Heard, SEC, SEC, st.sampled_from(PORTS), DATA),
    st.builds(SentNote, ID, SEC, SEC, PART, DATA),
    st.builds(Refused, ID, st.sampled_from(("play", "revoke")), st.text(max_size=80), SEC, SEC),
    st.builds(EndedEarly, ID, SEC),
    st.builds(News, st.sampled_from(TOPICS), st.text(max_size=80), SEC),
)


@given(st.lists(RECORDS, max_size=12), st.lists(st.integers(1, 200), max_size=8))
def test_records_arrive_as_they_were_said(said: list[Down | Up], cuts: list[int]) -> None:
    """Whatever pieces a pipe hands on, the records come out whole, equal and in order."""
    data, decoder, heard = encode_all(said), Decoder(), []
    for size in [*cuts, len(data)]:
        heard += decoder.feed(data[:size])
        data = data[size:]
    assert heard == said


@given(RECORDS)
def test_a_record_has_its_size(record: Down | Up) -> None:
    """A record is one piece of the fixed size; only a long text takes several."""
    size = len(encode(record))
    assert size % SIZE == 0
    assert size == SIZE or isinstance(record, News | Refused)
    assert SIZE <= 512, "what POSIX lets a pipe take in one piece at least (_POSIX_PIPE_BUF)"


def test_an_unknown_record_is_an_error() -> None:
    """Bytes that nobody of ours wrote are not guessed at."""
    with pytest.raises(ValueError, match="no such record"):
        list(Decoder().feed(bytes([99]) + bytes(SIZE - 1)))


def test_wishes_arrive_as_they_were_said() -> None:
    """All that is wished for goes through a line of JSON and comes back equal."""
    wishes = Wishes(
        inputs=(("player", "auto"), ("clock", "Band Clock")),
        parts=(PartWish("companion", "virtual", None, 0.5, 3, 66), PartWish("click", sound=(2, 3))),
        thru=ThruWish("midi", "auto", 0, local_off=True, silent=(("control", 66), ("note", 21))),
        sound=SoundWish("none", 128),
        midi_system="memory",
    )
    line = wishes.to_json()
    assert "\n" not in line
    assert Wishes.from_json(line) == wishes


@pytest.mark.parametrize("line", ["", "{}", "[1]", "null", "3", '{"thru": 3}'])
def test_a_damaged_line_of_wishes_is_a_plain_error(line: str) -> None:
    """What is no wish is told in words, not as a traceback."""
    with pytest.raises(JamError, match="no wishes"):
        Wishes.from_json(line)
