"""What replies are made of, against numbers counted by hand."""

from __future__ import annotations

from math import isnan
from typing import Any

import pytest

from jam.harmony.symbols import parse_chord
from jam.review.line_measures import Turn, landed_degrees, measure, moves_of, phrases_of


def note(beat: float, beats: float, pitch: int, **more: Any) -> dict[str, Any]:
    usual = {"velocity": 80, "degree": "1", "role": "chord tone", "move": "restate"}
    return {"beat": beat, "beats": beats, "pitch": pitch, **usual, **more}


CHANGES = ((0.0, parse_chord("Dm7")), (4.0, parse_chord("G7")), (6.0, parse_chord("Cmaj7")))
LINE = (
    note(0.5, 0.5, 65),
    note(1.0, 0.5, 69),  # third
    note(1.5, 0.5, 69),  # repeat
    note(2.0, 0.5, 72, role="tension", degree="11"),  # third
    note(4.0, 1 / 3, 71, move="run"),  # a new phrase, on the 3 of G7
    note(4 + 1 / 3, 1 / 3, 68, move="run", role="tension", degree="b9"),  # third
    note(4 + 2 / 3, 1 / 3, 67, move="run"),  # step
    note(5.5, 1.5, 76, move="close"),  # leap, held across the change: the 3 of Cmaj7
)
TURN = Turn(LINE, 0.0, 8.0, CHANGES)


def test_phrases_end_at_rests_of_a_beat() -> None:
    """A gap of half a beat does not cut, one and a half do."""
    assert [len(phrase) for phrase in phrases_of(LINE)] == [4, 4]


def test_every_measure_is_what_the_hand_counts() -> None:
    """Eight notes over 2.0 and 3.0 beats of phrases in a turn of eight beats."""
    found = measure([TURN])
    expected = {
        "notes a beat": 8 / 5,
        "phrase length, beats": 2.5,
        "phrases in a reply": 2,
        "silent": 1 - 4.5 / 8,
        "phrases begin off the beat": 0.5,
        "phrases end off the beat": 0.5,
        "beats in triplets": 1 / 5,
        "beats in sixteenths": 0,
        "repeats": 1 / 6,
        "steps": 1 / 6,
        "thirds": 3 / 6,
        "leaps": 1 / 6,
        "chord tones": 6 / 8,
        "tensions": 2 / 8,
        "altered, on dominants": 1 / 4,
        "changes landed on": 1,
        "landings on 3": 1,
        "landings on 7": 0,
        "lowest note of a reply": 65,
        "highest note of a reply": 76,
        "loudness": 80,
    }
    for name, value in expected.items():
        assert found[name] == pytest.approx(value), name


def test_a_landing_is_the_note_across_or_the_first_within_a_beat() -> None:
    """On the change, held across it, half a beat after it; two beats after is none."""
    for beat, beats, degree in ((4.0, 1, "3"), (3.5, 1, "3"), (4.5, 0.5, "3"), (6.0, 1, "")):
        notes = (note(0.0, 0.5, 62), note(beat, beats, 71))
        turn = Turn(notes, 0.0, 8.0, CHANGES[:2])
        assert landed_degrees(turn) == [degree], beat


def test_moves_are_shares_of_notes() -> None:
    """The most first."""
    assert moves_of([TURN]) == {"restate": 0.5, "run": 3 / 8, "close": 1 / 8}


def test_nothing_is_no_number() -> None:
    """What was not there is told as no number, not as nought."""
    assert isnan(measure([])["steps"])
    assert moves_of([]) == {}
