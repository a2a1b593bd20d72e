"""Planned ahead: a reply is ready when the floor is free, and never talks over a breath."""

from __future__ import annotations

from math import ceil

import pytest
from asked import listen_in
from sessions import line, play, setup, tune

from jam.core.setup import Turns
from jam.listening.segmenter import RestRule

LONG = tune("Dm7 G7 Cmaj7 A7 Dm7 G7 Em7 A7 Dm7 G7 Cmaj7 C6")
EAGER, SEAMS = Turns("free", eager=True), Turns("free")
TEMPI = (60.0, 120.0, 200.0, 280.0)
_EPS = 1e-3


def release(end: float, bpm: float) -> float:
    """Return the beat on which the last key of a line comes up."""
    return max(m.t for m in line(0.5, end, bpm)) * bpm / 60.0


def eager_rest(bpm: float) -> float:
    """Return the rest after which an eager companion speaks, in beats."""
    return max(1.0, RestRule().rest_beats(bpm))


@pytest.mark.parametrize("bpm", TEMPI)
@pytest.mark.parametrize("end", [6.0, 6.17, 6.4, 6.71, 6.95, 7.3])
def test_an_eager_reply_takes_the_very_next_off_beat(
    bpm: float, end: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first one after the rest was recognised, be it but a moment later; it was planned
    before that, once."""
    asked = listen_in(monkeypatch)
    run = play(
        setup(chart=LONG, tempo_bpm=bpm, turns=EAGER),
        line(0.5, end, bpm),
        until=(end + 8) * 60 / bpm,
    )
    free = release(end, bpm) + eager_rest(bpm)
    window = asked[0].window
    assert window.start == ceil(free - 0.5 - _EPS) + 0.5
    assert window.earliest >= free - _EPS
    assert asked[0].prompt
    ahead = window.start - run.replies[0]["at"] * bpm / 60.0
    assert 0.2 < ahead <= 0.5 + _EPS
    assert len(asked) == 1
    assert not [r for r in run.of("reply") if "replans" in r]
    assert min(t for t, _, _ in run.sounded()) * bpm / 60.0 >= free - 0.05


@pytest.mark.parametrize("bpm", TEMPI)
@pytest.mark.parametrize("turns", [EAGER, SEAMS], ids=["eager", "seams"])
def test_nobody_is_talked_over_who_only_takes_a_breath(turns: Turns, bpm: float) -> None:
    """A rest shorter than what it takes is followed by the player's next phrase alone."""
    rest = eager_rest(bpm) if turns.eager else 2.0
    for place in range(8):
        end = 6.0 + place * 0.31
        again = release(end, bpm) + rest - 0.05
        inputs = [*line(0.5, end, bpm), *line(again, again + 3, bpm)]
        until = (again + 3) * 60 / bpm
        run = play(setup(chart=LONG, tempo_bpm=bpm, turns=turns), inputs, until=until, close=False)
        assert not run.sounded()


def test_what_was_planned_too_early_leaves_nothing() -> None:
    """The hypothesis was wrong: the reply goes as if it had not been, turn and all, and the whole
    phrase is answered in the end."""
    inputs = [*line(0.5, 6.0), *line(release(6.0, 120.0) + 1.3, 10.0)]
    run = play(setup(chart=LONG, turns=EAGER), inputs, until=8.0)
    gone = [r for r in run.of("reply") if "replans" in r]
    assert [r["reason"] for r in gone] == ["the player goes on"]
    assert gone[0]["notes"] == []
    assert [who for _, who in run.turns()][:2] == ["player", "companion"]
    assert run.turns()[1][0] > 10.0
    assert len(run.of("call")[-1]["notes"]) == len(inputs) // 2
    assert run.replies[-1]["answers"] == run.of("call")[-1]["id"]


@pytest.mark.parametrize("bpm", TEMPI)
@pytest.mark.parametrize("end", [15.9, 16.3, 17.2, 18.05])
def test_in_trades_the_first_half_beat_after_the_phrase_is_taken(
    bpm: float, end: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Who plays over the seam is waited for, and not longer than it takes to know they are done."""
    asked = listen_in(monkeypatch)
    made = setup(chart=LONG, tempo_bpm=bpm)
    play(made, line(8.5, end, bpm), until=(end + 8) * 60 / bpm)
    free = max(m.t for m in line(8.5, end, bpm)) * bpm / 60.0 + RestRule().rest_beats(bpm)
    assert asked[-1].window.start == max(16.0, ceil(2.0 * (free - _EPS)) / 2.0)
    assert asked[-1].window.earliest >= free - _EPS
    assert not asked[-1].prompt


def test_detached_notes_are_no_reason_to_plan() -> None:
    """A late player's short rests between notes are not taken for the end of the phrase."""
    late = line(8.5, 22.0, 60.0)
    run = play(setup(chart=LONG, tempo_bpm=60.0), late, until=28.0)
    assert len(run.replies) == 1


def test_a_free_turn_that_the_player_goes_into_is_none() -> None:
    """Taken before its seam and not yet answered, it is given up when a key goes down."""
    inputs = [*line(0.5, 5.9), *line(7.3, 12.0)]
    run = play(setup(chart=LONG, turns=SEAMS), inputs, until=8.0)
    assert [(r["beat"], r["who"]) for r in run.of("turn")][-1] == (16.0, "companion")
    assert not [r for r in run.of("turn") if r["beat"] == 8.0 and r["who"] == "companion"]
