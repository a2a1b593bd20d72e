"""The in-memory twin of the I/O process: in time, revocable, and never a stuck note."""

from math import inf

from hypothesis import given
from hypothesis import strategies as st

from jam.events import Command, Cut, Play, Revoke, Silence
from jam.ports.memory import GUARD_SEC, MemoryPort, Sent

ON, OFF = 0x90, 0x80


def play(id: int, t: float, end: float, pitch: int = 60, channel: int = 0) -> Play:
    return Play(id, "companion", t, end, channel, pitch, 80)


def brief(sent: list[Sent]) -> list[tuple[int, float, int]]:
    return [(s.note, s.t, s.data[0] & 0xF0) for s in sent]


def test_a_whole_note_goes_out_at_its_times() -> None:
    """A note handed over ahead leaves at its time, its end at its end, and nothing before."""
    port = MemoryPort("desk")
    assert port.take([play(7, 1.0, 2.0, channel=3)], now=0.0) == []
    assert port.next_due == 1.0
    assert port.advance(0.999) == []
    (on,) = port.advance(1.0)
    assert on.record() == {
        "kind": "sent",
        "t": 1.0,
        "at": 1.0,
        "port": "desk",
        "part": "companion",
        "note": 7,
        "bytes": [0x93, 60, 80],
    }
    assert [p.id for p in port.sounding] == [7]
    (off,) = port.advance(10.0)
    assert (off.t, off.at, off.data) == (2.0, 2.0, (0x83, 60, 0))
    assert port.sounding == ()
    assert port.next_due == inf


def test_late_notes_leave_when_they_are_handed_over() -> None:
    """A note meant for the past keeps its moment and is stamped with when it left."""
    port = MemoryPort()
    port.take([play(1, 1.0, 3.0)], now=2.0)
    on, off = port.advance(5.0)
    assert (on.t, on.at) == (1.0, 2.0)
    assert (off.t, off.at) == (3.0, 3.0)


def test_a_note_that_is_over_before_it_came_is_refused() -> None:
    """What is wholly in the past never sounds, and the core is told."""
    port = MemoryPort()
    (report,) = port.take([play(1, 1.0, 2.0)], now=2.0)
    assert report.what == "play refused"
    assert report.detail["note"] == 1
    assert port.advance(9.0) == []


def test_revoke_until_two_milliseconds_before() -> None:
    """A note can be taken back up to the guard, then no more."""
    port = MemoryPort()
    port.take([play(1, 1.0, 2.0), play(2, 1.5, 2.0, 61)], now=0.0)
    assert port.take([Revoke(1)], now=1.0 - GUARD_SEC) == []
    (report,) = port.take([Revoke(2)], now=1.5 - GUARD_SEC / 2)
    assert (report.what, report.detail["note"]) == ("revoke refused", 2)
    assert brief(port.advance(9.0)) == [(2, 1.5, ON), (2, 2.0, OFF)]
    (report,) = port.take([Revoke(2)], now=9.0)
    assert report.what == "revoke refused"


def test_a_second_play_takes_the_place_of_the_first() -> None:
    """The same id before it sounds is the same note, elsewhere; while it sounds it is refused."""
    port = MemoryPort()
    port.take([play(1, 1.0, 2.0, 60)], now=0.0)
    port.take([play(1, 1.25, 1.5, 64)], now=0.5)
    sent = port.advance(1.3)
    assert [(s.t, s.data[1]) for s in sent] == [(1.25, 64)]
    (report,) = port.take([play(1, 2.0, 3.0)], now=1.3)
    assert report.what == "play refused"


def test_cut_ends_early_and_keeps_a_later_note_from_sounding() -> None:
    """A cut shortens a note that sounds or will, and removes one that would begin at it."""
    port = MemoryPort()
    port.take([play(1, 1.0, 5.0, 60), play(2, 1.0, 5.0, 62), play(3, 3.0, 5.0, 64)], now=0.0)
    port.take([Cut(1, 2.0)], now=0.5)
    port.advance(1.5)
    port.take([Cut(2, 1.0), Cut(3, 3.0)], now=1.5)
    assert brief(port.advance(9.0)) == [(2, 1.5, OFF), (1, 2.0, OFF)]


def test_the_same_key_struck_again_ends_the_first_note_just_before() -> None:
    """Two notes of one pitch and channel never overlap on the wire."""
    port = MemoryPort()
    port.take([play(1, 1.0, 3.0), play(2, 2.0, 4.0), play(3, 2.0, 4.0, channel=1)], now=0.0)
    assert brief(port.advance(9.0)) == [
        (1, 1.0, ON),
        (1, 2.0, OFF),
        (2, 2.0, ON),
        (3, 2.0, ON),
        (2, 4.0, OFF),
        (3, 4.0, OFF),
    ]


def test_silence_ends_all_and_forgets_all() -> None:
    """Panic: what sounds ends now, what was to come never comes."""
    port = MemoryPort()
    port.take([play(1, 1.0, 9.0), play(2, 3.0, 4.0, 61)], now=0.0)
    port.advance(1.0)
    port.take([Silence()], now=2.0)
    assert brief(port.advance(9.0)) == [(1, 2.0, OFF)]
    assert port.next_due == inf


IDS = st.integers(1, 6)
TIMES = st.integers(0, 40).map(lambda step: step / 8)
COMMANDS = st.one_of(
    st.builds(
        lambda id, t, length, pitch, channel: play(id, t, t + length, pitch, channel),
        IDS,
        TIMES,
        TIMES,
        st.integers(60, 62),
        st.integers(0, 1),
    ),
    st.builds(Revoke, IDS),
    st.builds(Cut, IDS, TIMES),
    st.just(Silence()),
)


@given(st.lists(st.tuples(TIMES, COMMANDS), max_size=40))
def test_every_note_on_gets_its_note_off(script: list[tuple[float, Command]]) -> None:
    """Whatever is commanded: one off for each on, keys never doubled, the log in order."""
    port = MemoryPort()
    sent: list[Sent] = []
    for now, command in sorted(script, key=lambda row: row[0]):
        sent += port.advance(now)
        port.take([command], now)
    sent += port.close()
    assert port.sounding == ()
    assert port.next_due == inf
    assert [s.at for s in sent] == sorted(s.at for s in sent)
    on: dict[tuple[int, int], int] = {}
    for message in sent:
        key = (message.data[0] & 0x0F, message.data[1])
        if message.data[0] & 0xF0 == ON:
            assert key not in on
            on[key] = message.note
        else:
            assert on.pop(key) == message.note
    assert on == {}
