"""The ledger of notes: every on has its off, and moments are those that were meant."""

from __future__ import annotations

from dataclasses import replace
from math import inf

from hypothesis import given
from hypothesis import strategies as st

from jam.ports.ledger import (
    BLIP_SEC,
    GUARD_SEC,
    LATE_SEC,
    Deviation,
    Entry,
    Ledger,
    Message,
)
from jam.ports.wire import CutNote, EndedEarly, PlayNote, Refused, RevokeNote, SilenceAll

ON, OFF, WHEEL = 0x90, 0x80, 0xE0
CENTRE = 0x2000


def play(id: int, t: float, end: float, pitch: int = 60, handed: float = 0.0) -> PlayNote:
    return PlayNote(id, "companion", t, end, 0, pitch, 80, handed)


def brief(messages: list[Message]) -> list[tuple[int, float, int]]:
    return [(m.id, m.t, m.data[0] & 0xF0) for m in messages]


def whys(deviations: list[Deviation]) -> list[str]:
    return [d.why for d in deviations if isinstance(d, Refused)]


def test_a_late_note_plays_what_is_left_of_it_or_nothing() -> None:
    """A note read after its moment keeps that moment; much later, or over, it is refused."""
    ledger = Ledger()
    assert ledger.take(play(1, 1.0, 3.0), 0.999 + LATE_SEC) == []
    assert whys(ledger.take(play(2, 1.0, 3.0, 61), 1.001 + LATE_SEC)) == ["it is too late"]
    assert whys(ledger.take(play(3, 1.0, 1.05, 62), 1.06)) == ["it is over"]
    assert brief(ledger.advance(9.0)) == [(1, 1.0, ON), (1, 3.0, OFF)]


def test_recall_is_possible_up_to_the_guard() -> None:
    """A revocation or a replacement is taken until 2 ms before the note, whoever asks."""
    ledger = Ledger()
    for id in (1, 2, 3, 4):
        ledger.take(play(id, 1.0, 2.0, 60 + id), 0.0)
    early, late = 1.0 - 1.5 * GUARD_SEC, 1.0 - 0.5 * GUARD_SEC
    assert ledger.take(RevokeNote(1, early), early) == []
    assert ledger.take(play(2, 1.5, 2.0, 70), early) == []
    assert ledger.take(RevokeNote(3, 0.5), late) == [Refused(3, "revoke", "too near", late, 0.5)]
    (refused,) = ledger.take(play(4, 1.5, 2.0, 70, handed=0.25), late)
    assert (refused.what, refused.handed) == ("play", 0.25)
    ons = [m for m in ledger.advance(9.0) if m.data[0] == ON]
    assert [(m.id, m.t, m.data[1]) for m in ons] == [(3, 1.0, 63), (4, 1.0, 64), (2, 1.5, 70)]


def test_a_cut_ends_at_its_moment_or_when_it_was_handed_over() -> None:
    """The real time at which a cut is read does not show in the note's end."""
    ledger = Ledger()
    for id in (1, 2, 3):
        ledger.take(play(id, 1.0, 5.0, 60 + id), 0.0)
    ledger.advance(1.0)
    assert ledger.take(CutNote(1, 2.0, 1.5), 1.5004) == []
    assert ledger.take(CutNote(2, 1.2, 1.5), 1.5004) == []
    assert ledger.take(CutNote(3, 0.5, 1.5), 1.5004) == []
    assert brief(ledger.advance(9.0)) == [(2, 1.5, OFF), (3, 1.5, OFF), (1, 2.0, OFF)]


def test_a_cut_that_comes_when_the_note_has_begun_is_told() -> None:
    """Handed over before the note began, read after: it sounds for a moment, and that is said."""
    ledger = Ledger()
    ledger.take(play(1, 1.0, 5.0), 0.0)
    ledger.take(play(2, 3.0, 5.0, 61), 0.0)
    ledger.advance(1.0)
    refused, ended = ledger.take(CutNote(1, 0.9, 0.999), 1.0005)
    assert refused == Refused(1, "revoke", "it has begun", 1.0005, 0.999)
    assert ended == EndedEarly(1, 1.0 + BLIP_SEC)
    assert ledger.take(CutNote(2, 3.0, 0.999), 1.0005) == [], "that one never sounds"
    assert brief(ledger.advance(9.0)) == [(1, 1.0 + BLIP_SEC, OFF)]


def test_silence_is_dated_when_it_was_handed_over() -> None:
    """Panic ends what sounds at its own moment and forgets the rest."""
    ledger = Ledger()
    ledger.take(play(1, 1.0, 5.0), 0.0)
    ledger.take(play(2, 4.0, 5.0, 61), 0.0)
    ledger.advance(1.0)
    assert ledger.take(SilenceAll(2.0), 2.1) == []
    assert ledger.sounding == ()
    assert brief(ledger.advance(2.1)) == [(1, 2.0, OFF)]
    assert ledger.next_due == inf


def test_parts_that_go_apart_do_not_end_each_other() -> None:
    """A key is of a lane: the same pitch on two ports is two keys, on one port it is one."""
    ledger = Ledger()
    bass = PlayNote(2, "bass", 2.0, 4.0, 0, 60, 80, 0.0)
    ledger.take(play(1, 1.0, 4.0), 0.0)
    ledger.take(bass, 0.0)
    assert brief(ledger.advance(2.0)) == [(1, 1.0, ON), (1, 2.0, OFF), (2, 2.0, ON)]
    assert ledger.holds("bass", 0, 60)
    apart = Ledger()
    apart.lead("bass", "another port")
    apart.take(play(1, 1.0, 4.0), 0.0)
    apart.take(bass, 0.0)
    assert brief(apart.advance(2.0)) == [(1, 1.0, ON), (2, 2.0, ON)]


def test_what_sounds_at_a_lost_port_is_ended() -> None:
    """The notes of the parts that lost their port end there and then, those to come stay."""
    ledger = Ledger()
    ledger.take(play(1, 1.0, 4.0), 0.0)
    ledger.take(play(2, 3.0, 4.0), 0.0)
    ledger.take(PlayNote(3, "bass", 1.0, 4.0, 1, 40, 80, 0.0), 0.0)
    ledger.advance(1.0)
    assert brief(ledger.lose(["companion"], 2.0)) == [(1, 2.0, OFF)]
    assert brief(ledger.advance(9.0)) == [(2, 3.0, ON), (2, 4.0, OFF), (3, 4.0, OFF)]


TIMES = st.integers(0, 40).map(lambda step: step / 8)
IDS = st.integers(1, 5)
PLAYS = st.builds(
    lambda id, part, t, length, pitch, bend: PlayNote(
        id, part, t, t + length, 0, pitch, 80, 0.0, bend
    ),
    IDS,
    st.sampled_from(("companion", "bass")),
    TIMES,
    TIMES,
    st.integers(60, 62),
    st.sampled_from((None, None, "scoop", "fall")),
)
ENTRIES: st.SearchStrategy[Entry] = st.one_of(
    PLAYS,
    st.builds(RevokeNote, IDS, TIMES),
    st.builds(CutNote, IDS, TIMES, TIMES),
    st.builds(SilenceAll, TIMES),
)
LAG = st.sampled_from((0.0, 0.001, 0.3))
SCRIPTS = st.lists(st.tuples(TIMES, LAG, ENTRIES), max_size=30)


def handed(entry: Entry, now: float) -> Entry:
    """Return the command as if it had been handed over at ``now``."""
    match entry:
        case PlayNote():
            return replace(entry, handed=now)
        case RevokeNote(id):
            return RevokeNote(id, now)
        case CutNote(id, t):
            return CutNote(id, t, now)
    return SilenceAll(now)


def perform(
    script: list[tuple[float, float, Entry]], looks: list[float]
) -> tuple[list[Message], list[Deviation]]:
    """Take each command at its moment plus its lag, and look at the ledger besides."""
    ledger, messages, deviations = Ledger(), [], []
    moments: list[tuple[float, Entry | None]] = [(t, None) for t in looks]
    moments += [(t + lag, handed(entry, t)) for t, lag, entry in script]
    for now, entry in sorted(moments, key=lambda row: row[0]):
        messages += ledger.advance(now)
        if entry is not None:
            deviations += ledger.take(entry, now)
    messages += ledger.advance(100.0)
    assert ledger.sounding == ()
    assert ledger.next_due == inf
    return messages, deviations


@given(SCRIPTS)
def test_every_on_has_its_off(script: list[tuple[float, float, Entry]]) -> None:
    """Whatever is commanded, however late: one off for each on, and no key struck twice."""
    messages, _ = perform(script, [])
    down: dict[tuple[str, int], tuple[int, float]] = {}
    for m in messages:
        if m.data[0] & 0xF0 == WHEEL:
            continue
        key = (m.lane, m.data[1])
        if m.data[0] & 0xF0 == ON:
            assert key not in down
            down[key] = (m.id, m.t)
        else:
            id, began = down.pop(key)
            assert id == m.id
            assert began <= m.t
    assert down == {}


@given(SCRIPTS)
def test_the_wheel_comes_back(script: list[tuple[float, float, Entry]]) -> None:
    """Whatever is commanded, a steady note begins with the pitch wheel at its centre (0x2000, MIDI
    1.0) and a scoop below it, it never moves above, and in the end it is at its centre."""
    messages, _ = perform(script, [])
    bends = {e.id: set() for _, _, e in script if isinstance(e, PlayNote)}
    for _, _, entry in script:
        if isinstance(entry, PlayNote):
            bends[entry.id].add(entry.bend)
    stands = CENTRE
    for m in messages:
        if m.data[0] & 0xF0 == WHEEL:
            stands = m.data[1] | m.data[2] << 7
            assert stands <= CENTRE
        elif m.data[0] & 0xF0 == ON:
            assert stands == CENTRE or "scoop" in bends[m.id]
            assert stands < CENTRE or bends[m.id] != {"scoop"}
    assert stands == CENTRE


def test_a_bend_moves_the_wheel_as_it_should() -> None:
    """A scoop begins a semitone low and has arrived within 0.12 s; a fall ends two semitones low,
    the whole range (common practice); both let the wheel go 0.1 s after the note, or when the
    next begins."""

    def semitones(m: Message) -> float:
        return ((m.data[1] | m.data[2] << 7) - CENTRE) / 4096.0

    ledger = Ledger()
    for id, t, bend in ((1, 1.0, "scoop"), (2, 2.0, "fall"), (3, 3.05, None)):
        ledger.take(replace(play(id, t, t + 1.0, 60 + id), bend=bend), 0.0)
    messages = ledger.advance(9.0)
    wheel = [(m.t, semitones(m)) for m in messages if m.data[0] == WHEEL]
    scoop = [row for row in wheel if row[0] < 2.0]
    fall = [row for row in wheel if row[0] >= 2.0]
    assert scoop[0] == (1.0, -1.0)
    assert scoop[-1][1] == 0.0
    assert scoop[-1][0] <= 1.12 + 1e-9
    assert fall[-2][1] == -2.0
    assert fall[-2][0] < 3.0
    assert fall[-1] == (3.05, 0.0)
    assert [b for _, b in scoop] == sorted(b for _, b in scoop)
    assert [b for _, b in fall[:-1]] == sorted((b for _, b in fall[:-1]), reverse=True)
    first = [m.data[0] for m in messages if m.t == 1.0]
    assert first == [WHEEL, ON], "the wheel is there before the note"
    ledger.take(replace(play(4, 5.0, 6.0), bend="fall"), 0.0)
    ledger.advance(9.0)
    ledger.take(replace(play(5, 10.0, 11.0), bend="fall"), 9.0)
    assert ledger.last_end == 11.1
    last = ledger.advance(20.0)[-1]
    assert (last.t, last.data) == (11.1, (WHEEL, 0x00, 0x40))


@given(SCRIPTS, st.lists(st.floats(0.0, 12.0), max_size=20))
def test_it_does_not_matter_how_often_one_looks(
    script: list[tuple[float, float, Entry]], looks: list[float]
) -> None:
    """The messages and what is refused are the same however the advance is cut up."""
    assert perform(script, looks) == perform(script, [])


@given(SCRIPTS)
def test_peek_and_commit_are_advance(script: list[tuple[float, float, Entry]]) -> None:
    """Sending one by one, the next message known ahead, sends what an advance returns."""
    one, other = Ledger(), Ledger()
    for t, lag, entry in sorted(script, key=lambda row: row[0] + row[1]):
        command, now = handed(entry, t), t + lag
        sent = []
        while one.next_due <= now:
            message = one.peek()
            assert message is not None
            one.commit(message)
            sent.append(message)
        assert sent == other.advance(now)
        one.take(command, now)
        other.take(command, now)
    assert one.sounding == other.sounding
