"""A musician who fails is left out, and the others play on."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence

import pytest
from sessions import Run, chord, cue, line, play, setup, tune

from jam import log
from jam.charts.model import RoadMap
from jam.core import anew, conversation
from jam.core.core import Core
from jam.core.setup import Setup, Turns
from jam.events import Input, PartNote
from jam.players.band import Span
from jam.players.bass import Bass
from jam.players.soloist.request import Prefix, Reply, Request
from jam.session.drive import Drive
from jam.session.replay import compare, perform_again

Answer = Callable[[Request], Reply]
SOLOIST, BASS = "the soloist", "the band's bass"


def fails_from(first: int, until: int = 10_000) -> Answer:
    """Return a soloist who fails from one reply on until another, by their numbers."""
    answer = conversation.answer

    def answers(request: Request) -> Reply:
        number = request.seed[1]
        if first <= number < until:
            raise ZeroDivisionError("no such phrase")
        return answer(request)

    return answers


def failed(run: Run) -> list[str]:
    """Return who failed, as often as the log says so."""
    return [record["who"] for record in run.of("fault")]


def test_the_band_plays_on_without_the_soloist(monkeypatch: pytest.MonkeyPatch) -> None:
    """It plays the very notes it plays otherwise, the turns go on, and the log says it once."""
    made = setup(with_band=True, turns=Turns("solo"))
    whole = play(made, until=30.0)
    monkeypatch.setattr(conversation, "answer", fails_from(0))
    run = play(made, until=30.0, may_fail=True)
    assert failed(run) == [SOLOIST]
    fault = run.of("fault")[0]
    assert "no such phrase" in fault["what"]
    assert fault["beat"] <= 0.0
    assert not run.spoken()
    for part in ("bass", "comping", "drums"):
        assert run.sounded(part) == whole.sounded(part)
    assert run.turns() == whole.turns()


def test_one_reply_that_fails_is_one_piece_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """The next turn is answered again."""
    inputs = [*line(8, 15), *line(40, 47)]
    monkeypatch.setattr(conversation, "answer", fails_from(0, 3))
    run = play(setup(), inputs, until=32.0, may_fail=True)
    assert failed(run) == [SOLOIST]
    assert run.spoken()
    assert all(n["beat"] > 45.0 for n in run.spoken())
    assert [call["id"] for call in run.of("call")][1:] == [r["answers"] for r in run.replies]


def test_a_tail_that_fails_ends_the_reply(monkeypatch: pytest.MonkeyPatch) -> None:
    """No note of the old tail sounds on over the chord that has arrived."""

    def no_tail(request: Request, before: Reply, prefix: Prefix) -> Reply:
        raise ValueError("no way on")

    inputs = [*chord(0, 17.9, (48, 52, 55, 59), port="band"), *line(8, 15)]
    inputs += chord(18, 20, (49, 53, 56, 59), port="band")
    made = setup(chart=None)
    assert [r for r in play(made, inputs, until=16.0).of("reply") if r.get("replans")]
    monkeypatch.setattr(anew, "answer_anew", no_tail)
    run = play(made, inputs, until=15.0, may_fail=True)
    assert failed(run) == [SOLOIST]
    assert run.spoken()
    assert max(end for _, end, _ in run.sounded()) < 9.0 + 0.75
    assert not run.port.sounding


def test_the_others_play_on_without_the_bass(monkeypatch: pytest.MonkeyPatch) -> None:
    """Drums, comping and the companion play what they play with it; a bar later it is asked
    again."""
    made = setup(with_band=True)
    whole = play(made, line(8, 15), until=18.0)
    plays = Bass.play

    def silent_second(self: Bass, span: Span) -> Sequence[PartNote]:
        if span.start in (4.0, 8.0):
            raise KeyError("string")
        return plays(self, span)

    monkeypatch.setattr(Bass, "play", silent_second)
    run = play(made, line(8, 15), until=18.0, may_fail=True)
    assert failed(run) == [BASS]
    for part in ("companion", "comping", "drums"):
        assert run.sounded(part) == whole.sounded(part)
    onsets = [t for t, _, _ in run.sounded("bass")]
    assert not [t for t in onsets if 2.2 < t < 5.9]
    assert [t for t in onsets if t < 2.0]
    assert [t for t in onsets if t > 6.1]


def test_each_kind_of_failure_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two kinds of one musician's and one of another's are three."""

    def no_bass(self: Bass, span: Span) -> Sequence[PartNote]:
        raise (KeyError if span.start < 16.0 else OSError)("string")

    monkeypatch.setattr(Bass, "play", no_bass)
    monkeypatch.setattr(conversation, "answer", fails_from(0))
    run = play(setup(with_band=True, turns=Turns("solo")), until=20.0, may_fail=True)
    assert sorted(failed(run)) == [BASS, BASS, SOLOIST]


def test_a_conversation_that_fails_leaves_the_band(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever breaks in it, the form goes on to its end."""

    def lost(*_: object) -> None:
        raise IndexError("lost")

    monkeypatch.setattr(conversation, "next_piece", lost)
    chart = tune(road_map=RoadMap(0, "none", 2, "none"))
    run = play(setup(chart=chart, with_band=True), until=40.0, may_fail=True)
    assert run.ended
    assert failed(run) == ["the conversation"]
    assert run.sounded("bass")


def test_a_failure_is_performed_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same notes and the same faults, with cues on the way."""
    made = setup(with_band=True, turns=Turns("solo"))
    asked: list[Input] = [cue(9.3, "lay out"), cue(12.1, "take it"), cue(20.0, "trade")]
    monkeypatch.setattr(conversation, "answer", fails_from(2, 4))
    said = _written(made, [*asked, *line(64, 71)])
    again = perform_again(said, Core(made))
    result = compare(said, again)
    assert result.same, result.text
    assert result.replies > 2
    told = [r for r in again if r["kind"] == "fault"]
    assert len(told) == 1
    assert told == list(said.of("fault"))


def _written(made: Setup, inputs: Sequence[Input]) -> log.Log:
    stream = io.StringIO()
    writer = log.LogWriter(stream)
    writer.write([log.session(
        program="test", machine="here", seed=1, style=made.style.name, chart=None,
        clock=made.clock, setup={},
    )])  # fmt: skip
    drive = Drive(Core(made), writer.write, grants=((0.0, 3000),))
    drive.add(inputs)
    drive.run(45.0)
    drive.finish(45.0)
    return log.read_log(stream.getvalue().splitlines(keepends=True), "session.jsonl")
