"""A session told in plain lines."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from stage_made import STANDING, a_whole_turn, before_the_start, snapshot

from jam import log
from jam.session.demo import demo
from jam.session.options import DemoOptions
from jam.stage.terminal.lines import LineTeller, Say


def told(say: Say = "usual", *, at_once: bool = False) -> list[str]:
    """Return the lines of a whole turn, record by record or all at once."""
    teller = LineTeller(STANDING, say)
    records = a_whole_turn()
    bunches = [records] if at_once else [[record] for record in records]
    lines = [line for bunch in bunches for line in teller.tell(None, bunch)]
    return lines + teller.closing()


CALL = "You, bars 1 to 3: 3 notes, from F4 (1 of F7) to Bb4 (1 of Bb7)."
REPLY = (
    "Companion, bars 3 to 4: 4 notes, from C5 (9 of Bb7) to Ab4 (b7 of Bb7)."
    " From your phrase: cell restated, in sequence."
)


@pytest.mark.parametrize("at_once", [False, True])
def test_a_whole_turn_is_told_in_order(*, at_once: bool) -> None:
    """Turn, call, the companion's turn, its reply as it was played in the end, the next turn."""
    assert told(at_once=at_once) == [
        "Bar 1: your turn, 2 bars.",
        CALL,
        "Bar 3: companion's turn, 2 bars.",
        REPLY,
        "Bar 5: your turn, 2 bars.",
    ]


def test_an_idea_of_its_own_is_not_called_yours() -> None:
    """A reply that answers no call, as in a solo of the companion's, goes on from its own."""
    records = [
        record | {"answers": None} if record["kind"] == "reply" else record
        for record in a_whole_turn()
    ]
    teller = LineTeller(STANDING)
    lines = teller.tell(None, records) + teller.closing()
    (line,) = [line for line in lines if line.startswith("Companion, ")]
    assert line.endswith("Its own idea: cell restated, in sequence.")


def test_nothing_is_yours_when_nobody_played(tmp_path: Path) -> None:
    """In a whole solo of the companion's neither the lines nor the reasons in the log say so."""
    asked = DemoOptions(tmp_path / "demo", seed=1, choruses=1, turns="solo", wav=False)
    played = demo(asked).log
    lines = LineTeller(STANDING).tell(None, played.records)
    whys = [note["why"] for reply in played.of("reply") for note in reply["notes"]]
    assert any("its own" in why for why in whys)
    assert not [text for text in (*lines, *whys) if "your " in text.replace("your turn", "")]


def test_less_and_more_are_told() -> None:
    """``less`` leaves the phrases out, ``more`` adds each change of chord."""
    assert told("less") == [line for line in told() if line.startswith("Bar")]
    more = told("more")
    assert [line for line in more if line in told()] == told()
    assert [line for line in more if line not in told()] == [
        "Bar 1: F7.",
        "Bar 3: Bb7.",
        "Bar 5: F7.",
    ]


def test_a_call_that_went_on_is_told_once() -> None:
    """A call that was taken for ended too early is not told beside the whole of it."""
    records = a_whole_turn()
    call = next(record for record in records if record["kind"] == "call")
    early = call | {"id": 9, "end": 0.5, "at": 0.8, "notes": call["notes"][:2]}
    teller = LineTeller(STANDING)
    lines = teller.tell(None, sorted([*records, early], key=lambda record: float(record["at"])))
    assert [line for line in lines if line.startswith("You")] == [CALL]


def test_beats_are_not_told() -> None:
    """Forty beats of the same state make no line more."""
    teller = LineTeller(STANDING)
    teller.tell(snapshot(), [])
    for beat in range(40):
        record = log.beat(
            beat / 2, beat / 2, float(beat), bar=1, beat_in_bar=1, bpm=132.0, source="internal",
            locked=True,
        )  # fmt: skip
        assert teller.tell(snapshot(beat=float(beat), bpm=132.0 + beat / 20), [record]) == []


@pytest.mark.parametrize(
    ("before", "after", "line"),
    [
        ({}, {"bpm": 140.0}, "Tempo: 140 bpm, own clock."),
        ({}, {"bpm": 137.0}, None),
        ({}, {"source": "coast"}, "The clock has gone silent: going on at 132 bpm."),
        ({"source": "coast"}, {"source": "midi"}, "The clock is back, 132 bpm."),
        ({}, {"section": "B", "bar": 9}, "Bar 9: chorus 1 of 2, section B."),
        ({}, {"phase": "head out", "bar": 25}, "Bar 25: head out, section A."),
        ({}, {"ending": "last time"}, "This is the last time through."),
        ({}, {"ending": "fermata"}, "The last chord will be held: cut it off."),
        ({}, {"holding": True}, "The tempo is held."),
        ({"holding": True}, {}, "The tempo is followed."),
        ({}, {"style": "blues"}, "Reply style: blues."),
        ({}, {"running": False}, "Stopped."),
        ({}, {"who": "none", "turn_ends_beat": None}, "The tune is over."),
        ({"waiting": True, "running": False}, {"count_in": True}, "Count-in."),
    ],
)
def test_a_change_is_told_once(
    before: dict[str, Any], after: dict[str, Any], line: str | None
) -> None:
    """What changes and matters makes a line, once; a tempo that moves by 4 % makes none."""
    teller = LineTeller(STANDING)
    teller.tell(snapshot(**before), [])
    lines = teller.tell(snapshot(**after), [])
    assert (line in lines) if line else (lines == [])
    assert teller.tell(snapshot(**after), []) == []


def test_waiting_tells_nothing_by_itself() -> None:
    """Before the start there is the opening, and then silence."""
    teller = LineTeller(STANDING)
    assert teller.opening() == [
        "Lamplight Blues, F major, 132 bpm, trading 4 bars each.",
        "Press space to start.",
    ]
    assert teller.tell(before_the_start(), []) == teller.tell(before_the_start(), []) == []


def test_cues_and_troubles_are_told_in_their_own_words() -> None:
    """Each has its line; taps, which come by the dozen, have none."""
    records = [log.cue(1.0, "take it"), log.cue(1.0, "tap"), log.fault(1.0, "a \x1b[2Jtrick")]
    assert LineTeller(STANDING).tell(None, records) == [
        "Cue: take it.",
        "Trouble: a  [2Jtrick.",
    ]


def test_a_session_that_was_played_is_told_turn_by_turn(tmp_path: Path) -> None:
    """Of a demo of one chorus each turn, each call and each reply makes one line, in order."""
    played = demo(
        DemoOptions(
            out=tmp_path / "demo", chart=None, style=None, seed=1, choruses=1, turns="4",
            wav=False, home=None,
        )
    )  # fmt: skip
    teller = LineTeller(STANDING)
    lines = teller.tell(None, played.log.records) + teller.closing()
    turns = [line for line in lines if line.startswith("Bar ")]
    assert turns == [
        f"Bar {record['beat'] / 4 + 1:.0f}: {who}, 4 bars."
        for record, who in zip(
            played.log.of("turn"), ["your turn", "companion's turn"] * 4, strict=False
        )
    ]
    assert [line.split(",")[0].split()[0] for line in lines[:5]] == [
        "Bar", "You", "Bar", "Companion", "Bar",
    ]  # fmt: skip
    assert all(line.isprintable() for line in lines)
