"""Both halves as text: places, names, degrees, roles and reasons, from a log alone."""

import pytest
from made_session import beats, call_notes, chords, made_log, reply_notes

from jam import log
from jam.session.exchanges import Places, exchanges, replies_of
from jam.session.text import WIDTH, session_text, shared_shape

CALL = [(0.57, 0.3, 62), (1.03, 0.4, 65), (1.57, 0.3, 69), (2.05, 1.2, 72)]
REPLY = [
    (4.5, 0.5, 67, "G7", "chord tone", "sequence", "the cell, a fourth up"),
    (5.0, 0.5, 71, "G7", "chord tone", "sequence", "the cell, a fourth up"),
    (5.5, 0.5, 68, "G7", "tension", "run", "scale run; the b9"),
    (6.0, 0.5, 69, "G7", "tension", "run", "scale run"),
    (8.0, 1.0, 64, "Cmaj7", "chord tone", "close", "lands"),
]


def talk() -> list[log.Record]:
    """Return an exchange over Dm7 G7 Cmaj7, with its bars."""
    return [
        *beats(16),
        *chords([(0.0, "Dm7"), (4.0, "G7"), (8.0, "Cmaj7")]),
        log.call(1, 0.285, 1.6, 2.0, call_notes(CALL)),
        log.reply(2, 1, 2.25, 4.5, 2.0, 100, reply_notes(REPLY)),
    ]


def rows(text: str, half: str) -> dict[str, list[str]]:
    """Return the words of each labelled row of the first system of a half."""
    lines = text[text.index(half) :].splitlines()[2:8]
    return {line.split()[0]: line.split()[1:] for line in lines if line}


def test_a_call_has_places_names_and_degrees() -> None:
    """A call is shown on the grid, whatever the feel it was played with.

    Degrees: a minor seventh chord on D is D F A C (any textbook).
    """
    found = rows(session_text(made_log(talk())), "Call 1")
    assert found["bar"] == ["1"]
    assert found["chord"] == ["Dm7"]
    assert found["beat"] == ["1&", "2", "2&", "3"]
    assert found["note"] == ["D4", "F4", "A4", "C5"]
    assert found["degree"] == ["1", "b3", "5", "b7"]
    assert "role" not in found


def test_a_reply_has_roles_and_reasons() -> None:
    """Bars are divided, the chord stands where it begins, each move is told once."""
    text = session_text(made_log(talk()))
    found = rows(text, "Reply 2")
    assert found["bar"] == ["2", "|", "3"]
    assert found["chord"] == ["G7", "|", "Cmaj7"]
    assert found["note"] == ["G4", "B4", "Ab4", "A4", "|", "E4"]
    assert found["degree"] == ["1", "3", "b9", "9", "|", "3"]
    assert found["role"] == ["tone", "tone", "tens", "tens", "|", "tone"]
    assert "2:1&     sequence, 2 notes: the cell, a fourth up\n" in text
    assert "2:2&     run, 2 notes: scale run; Ab4 the b9\n" in text
    assert "3:1      close, 1 note: lands\n" in text


def test_what_was_taken_is_claimed_and_seen() -> None:
    """The last line says what the moves claim and the longest shape both halves share."""
    text = session_text(made_log(talk()))
    assert "took     sequence x1 (2 of 5 notes); no shape of three notes is shared\n" in text
    assert shared_shape([60, 62, 64, 60], [50, 67, 69, 71, 67]) == (2, 2, -4)
    assert shared_shape([60], [61, 62]) == ()


def test_a_tail_that_was_planned_anew_takes_the_place_of_the_old() -> None:
    """Only what was played in the end is shown."""
    tail = reply_notes([(6.0, 2.0, 70, "G7", "tension", "run", "scale run")], first_id=9)
    records = [*talk(), log.reply(2, 1, 3.0, 4.0, 2.9, 50, tail, replans=2, from_beat=6.0)]
    (reply,) = replies_of(made_log(records))
    assert [(note["beat"], note["pitch"]) for note in reply.notes] == [
        (4.5, 67),
        (5.0, 71),
        (5.5, 68),
        (6.0, 70),
    ]
    assert "tail planned anew once" in session_text(made_log(records))


def test_a_reply_taken_back_is_gone_and_its_call_with_it() -> None:
    """A call that went on after all is shown once, with the reply that was played."""
    longer = [*CALL, (3.5, 0.4, 74)]
    records = [
        *talk(),
        log.reply(2, 1, 2.25, 2.25, 2.1, 0, [], replans=2, from_beat=4.5),
        log.call(3, 0.285, 2.2, 2.5, call_notes(longer)),
        log.reply(4, 3, 2.25, 4.5, 2.5, 100, reply_notes(REPLY, first_id=20)),
    ]
    found = exchanges(made_log(records))
    assert [(e.call and e.call["id"], e.reply and e.reply.id) for e in found] == [(3, 4)]


def test_halves_that_miss_their_other_are_shown() -> None:
    """A call without a reply and a reply without a call are exchanges too."""
    call, reply = talk()[-2:]
    only_call = session_text(made_log([*talk()[:-2], call]))
    assert "Call 1" in only_call
    assert "No reply." in only_call
    only_reply = session_text(made_log([*talk()[:-2], reply | {"answers": None}]))
    assert "No call." in only_reply
    assert "Reply 2" in only_reply


@pytest.mark.parametrize("count", [1, 40, 150])
def test_no_line_is_wider_than_a_page(count: int) -> None:
    """Long phrases are broken at bar lines, crowded bars inside."""
    why = "a long reason that goes on and on about the chords that come and the notes they like"
    crowd = [
        (4.0 + k / 8, 0.1, 60 + k % 12, "G7(b9,b13)", "anticipation", "run", why)
        for k in range(count)
    ]
    records = [
        *beats(32),
        *chords([(0.0, "G7(b9,b13)")]),
        log.reply(2, None, 2.0, 9.0, 1.0, 100, reply_notes(crowd)),
    ]
    lines = session_text(made_log(records)).splitlines()
    assert max(len(line) for line in lines) <= WIDTH
    degrees = [line.split()[1:] for line in lines if line.startswith("degree")]
    assert sum(word != "|" for row in degrees for word in row) == count


def test_without_chords_names_and_places_remain() -> None:
    """Where no chord is known the degrees are left out."""
    records = [*beats(8), log.call(1, 0.25, 1.6, 2.0, call_notes(CALL))]
    found = rows(session_text(made_log(records)), "Call 1")
    assert found["note"] == ["D4", "F4", "A4", "C5"]
    assert "degree" not in found


def test_a_withdrawn_chord_is_forgotten() -> None:
    """For one beat the last word counts, and null takes it back."""
    records = chords([(0.0, "Dm7"), (4.0, "G7"), (4.0, "Db7"), (8.0, "Cmaj7"), (8.0, None)])
    places = Places(made_log(records))
    assert places.change(5.0) == (4.0, places.change(4.0)[1])
    assert [places.change(beat)[1].symbol for beat in (0.0, 4.0, 8.0)] == ["Dm7", "Db7", "Db7"]


def test_places_in_a_waltz() -> None:
    """Bars and beats are those the log announced."""
    places = Places(made_log(beats(12, bar_beats=3)))
    assert [places.bar(beat) for beat in (0.0, 2.5, 3.0, 10.75)] == [
        (1, 1.0),
        (1, 3.5),
        (2, 1.0),
        (4, 2.75),
    ]


def test_a_cut_log_says_so() -> None:
    """Somebody who reads the text knows that its end is missing."""
    whole = made_log(talk())
    cut = log.Log(whole.header, whole.records, cut=True)
    assert "its end is missing" in session_text(cut)
    assert "its end is missing" not in session_text(whole)
