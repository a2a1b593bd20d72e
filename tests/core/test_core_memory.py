"""What the soloist is told of the session: earlier calls and replies, and the place in the tune."""

from __future__ import annotations

import pytest
from asked import listen_in
from sessions import line, play, setup, tune

from jam.charts.model import RoadMap
from jam.core.setup import Turns
from jam.events import Input, Intent, MidiIn

FOURS_SEC = 16.0
"""A call and a reply of four bars each, at 120 bpm."""

TUNE = tune("Dm7 G7 Cmaj7 A7 Dm7 G7 Em7 A7")


def calls(count: int) -> list[Input]:
    """Return calls of four bars, each three and a half bars long, a reply's turn apart."""
    return [m for n in range(count) for m in line(32 * n, 32 * n + 14)]


def test_calls_and_replies_are_remembered_in_order(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each question brings all that was said before it, and not the call it is about."""
    asked = listen_in(monkeypatch)
    run = play(setup(chart=TUNE), calls(4), until=4 * FOURS_SEC)
    assert len(asked) == 4
    for number, request in enumerate(asked):
        assert len(request.memory.heard) == len(request.memory.said) == number
        assert request.memory.heard == tuple(earlier.call for earlier in asked[:number])
    said = [[note.pitch for note in notes] for notes in asked[-1].memory.said]
    assert said == [[n["pitch"] for n in notes] for notes in list(run.notes().values())[:3]]


def test_twelve_of_each_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """The oldest are forgotten first."""
    asked = listen_in(monkeypatch)
    twos = [m for n in range(16) for m in line(16 * n, 16 * n + 6.5)]
    play(setup(chart=TUNE, turns=Turns("trade", 2)), twos, until=8.0 * 16)
    last = asked[-1].memory
    assert len(asked) >= 15
    assert len(last.heard) == len(last.said) == 12
    assert last.heard[-1] == asked[-2].call


def test_a_reply_that_is_taken_back_is_not_remembered(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nor is the half of a call that it answered."""
    asked = listen_in(monkeypatch)
    inputs = [*line(8, 14.5), *line(15.2, 18.0), *line(32, 46)]
    run = play(setup(chart=TUNE), inputs, until=2 * FOURS_SEC)
    taken_back = [r for r in run.of("reply") if "replans" in r and not r["notes"]]
    assert taken_back
    last = asked[-1].memory
    assert len(last.heard) == len(last.said) == 1
    assert last.heard[0].end_beat > 17.0


def test_a_reply_cut_short_is_remembered_as_it_was_played(monkeypatch: pytest.MonkeyPatch) -> None:
    """What was not heard was not said."""
    asked = listen_in(monkeypatch)
    inputs: list[Input] = [*line(0, 14), Intent(10.0, "lay out"), Intent(11.0, "trade")]
    run = play(setup(chart=TUNE), [*inputs, *line(24, 30)], until=24.0)
    notes = next(iter(run.notes().values()))
    assert notes[-1]["beat"] < 22.0
    assert [n.pitch for n in asked[1].memory.said[0]] == [n["pitch"] for n in notes]


@pytest.mark.parametrize("again", ["stop", "jump"])
def test_a_jump_keeps_the_memory_of_the_session(
    again: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Stopped and started again, or sent elsewhere by the clock, it knows what was said before."""
    asked = listen_in(monkeypatch)
    if again == "stop":
        between: list[Input] = [Intent(16.0, "stop"), Intent(17.0, "start")]
        made = setup(chart=TUNE)
    else:
        position = MidiIn(16.0, "clock", (0xF2, 0, 0))
        ticks = [MidiIn(round(n / 48, 6), "clock", (0xF8,)) for n in range(48 * 34)]
        between = [MidiIn(0.0, "clock", (0xFA,)), position, *ticks]
        made = setup(chart=TUNE, clock="midi")
    late = [MidiIn(m.t + 17.0, m.port, m.data) for m in line(0, 14)]
    play(made, [*line(0, 14), *between, *late], until=17.0 + FOURS_SEC)
    assert len(asked) >= 2
    assert asked[-1].memory.heard[0] == asked[0].call
    assert len(asked[-1].memory.said) >= 1


def test_the_story_tells_place_and_chorus(monkeypatch: pytest.MonkeyPatch) -> None:
    """Twos over eight bars: the replies stand at a quarter and at three quarters of each chorus,
    and the second one closes it."""
    asked = listen_in(monkeypatch)
    road_map = RoadMap(0, "none", 3, "none")
    play(setup(chart=TUNE, turns=Turns("trade", 2), road_map=road_map), until=48.0)
    told = [(r.story.place, r.story.chorus, r.story.closes) for r in asked]
    assert told == [(place, chorus, place == 0.75) for chorus in range(3) for place in (0.25, 0.75)]


def test_each_piece_of_a_long_turn_has_its_place(monkeypatch: pytest.MonkeyPatch) -> None:
    """In a solo only the last reply of a chorus closes it."""
    asked = listen_in(monkeypatch)
    long = tune("Dm7 G7 Cmaj7 A7 Dm7 G7 Em7 A7 Dm7 G7 Cmaj7 C6")
    play(setup(chart=long, turns=Turns("solo")), until=2 * 24.0 - 1.0)
    told = [(round(12 * r.story.place), r.story.chorus, r.story.closes) for r in asked]
    assert told[:6] == [
        (0, 0, False), (4, 0, False), (8, 0, True), (0, 1, False), (4, 1, False), (8, 1, True),
    ]  # fmt: skip


def test_without_a_chart_a_chorus_has_32_bars(monkeypatch: pytest.MonkeyPatch) -> None:
    """Common practice; trading eights the second reply closes it."""
    asked = listen_in(monkeypatch)
    band = [MidiIn(0.0, "band", (0x90, pitch, 80)) for pitch in (48, 52, 55, 59)]
    play(setup(chart=None, turns=Turns("trade", 8)), band, until=2 * 64.0 + 10.0)
    told = [(r.story.place, r.story.chorus, r.story.closes) for r in asked]
    assert told[:3] == [(0.25, 0, False), (0.75, 0, True), (0.25, 1, False)]


def test_a_solo_goes_on_from_its_own_phrase(monkeypatch: pytest.MonkeyPatch) -> None:
    """The question says so, and only then."""
    asked = listen_in(monkeypatch)
    play(setup(chart=TUNE, turns=Turns("solo")), until=24.0)
    assert [request.own for request in asked[:3]] == [False, True, True]
    assert asked[1].call is not None
    asked.clear()
    play(setup(chart=TUNE), calls(2), until=2 * FOURS_SEC)
    assert not any(request.own for request in asked)
