"""Declared spans as a log tells them are read as they were left."""

from __future__ import annotations

from jam import log
from jam.log import Log, Record
from jam.session.exchanges import replies_of

HEADER = log.session(
    program="0", machine="-", seed=1, style="made", chart=None, clock="internal"
)  # fmt: skip


def note(beat: float) -> Record:
    """Return a note of a reply."""
    return {"t": beat / 2.0, "beat": beat, "beats": 0.5, "pitch": 60, "velocity": 80}


def spans(*records: Record) -> list[tuple[float, float, str]]:
    """Return the spans of the one reply that these records tell of."""
    whole = log.reply(4, 3, 8.0, 12.0, 7.0, 100, [note(16.0), note(20.0), note(22.0)])
    (reply,) = replies_of(Log(HEADER, (whole, *records)))
    return [(span["beat"], span["beats"], span["implied"]) for span in reply.spans]


def cut(beat: float) -> Record:
    """Return the record of a tail that was taken back."""
    return log.reply(4, 3, beat / 2.0, 12.0, 8.0, 0, [], replans=4, from_beat=beat)


def test_spans_are_in_order_of_their_beats() -> None:
    """However they were written."""
    assert spans(log.span(7.0, 4, 20.0, 2.0, "Ebm7"), log.span(7.0, 4, 16.0, 2.0, "Ab7")) == [
        (16.0, 2.0, "Ab7"), (20.0, 2.0, "Ebm7"),
    ]  # fmt: skip


def test_a_later_word_holds() -> None:
    """A span that was cut is as long as it became; one of no length is gone."""
    told = [log.span(7.0, 4, 18.0, 4.0, "Ebm7"), log.span(7.0, 4, 22.0, 2.0, "Ab7"), cut(20.0)]
    told += [log.span(8.0, 4, 18.0, 2.0, "Ebm7"), log.span(8.0, 4, 22.0, 0.0, "Ab7")]
    assert spans(*told) == [(18.0, 2.0, "Ebm7")]
