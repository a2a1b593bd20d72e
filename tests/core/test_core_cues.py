"""Cues: the turn taken, laid out, stopped and started, on the page and over the cue port."""

from __future__ import annotations

import pytest
from sessions import Run, cue, line, play, setup, tune

from jam.charts.model import RoadMap
from jam.core.setup import Setup, Turns
from jam.events import Input, MidiIn

P, C = "player", "companion"


def told(made: Setup, *cues: Input, until: float = 30.0) -> list[tuple[float, str]]:
    """Return the turns told."""
    return play(made, cues, until=until).turns()


def pad(t: float, *data: int) -> MidiIn:
    """Return a message of the cue port."""
    return MidiIn(t, "cue", data)


def named(run: Run) -> list[tuple[str, float]]:
    """Return the cues understood, and when."""
    return [(record["name"], record["t"]) for record in run.of("cue")]


# --- take it, lay out --------------------------------------------------------------------------


@pytest.mark.parametrize(("t", "bar"), [(0.9, 1), (3.1, 2), (7.9, 4)])
def test_take_it_gives_the_next_bar(t: float, bar: int) -> None:
    """The companion has the turn from the next bar line on, for as long as a turn lasts."""
    turns = told(setup(chart=tune("Dm7 " * 16)), cue(t, "take it"), until=24.0)
    assert turns[:3] == [(0.0, P), (4.0 * bar, C), (4.0 * (bar + 4), P)]


def test_take_it_is_answered_in_time() -> None:
    """Taken in the last beat of a bar, the turn is used within two beats, and no note is late."""
    run = play(setup(chart=tune("Dm7 " * 16)), [*line(1, 5.5), cue(3.8, "take it")], until=12.0)
    first = run.spoken()[0]
    assert 7.5 <= first["beat"] <= 10.0
    assert run.refused == 0


def test_take_it_after_a_turn_let_go_by() -> None:
    """A turn that the player has played through is had again by the cue."""
    run = play(setup(chart=tune("Dm7 " * 16)), [*line(8, 31), cue(15.2, "take it")], until=24.0)
    assert run.spoken()
    assert run.spoken()[0]["beat"] >= 31.0


def test_take_it_within_a_turn_of_its_own_makes_it_longer() -> None:
    """The companion plays on, as one talk, up to the end of the turn it has taken."""
    run = play(setup(chart=tune("Dm7 " * 16)), [*line(8, 15), cue(9.2, "take it")], until=26.0)
    assert run.turns()[:3] == [(0.0, P), (16.0, C), (36.0, P)]
    ends = [n["beat"] + n["beats"] for n in run.spoken() if n["beat"] < 40.0]
    assert 33.0 <= max(ends) <= 37.0
    assert len({record["answers"] for record in run.replies if record["t"] < 20.0}) == 1


def test_take_it_leaves_the_head_alone() -> None:
    """In a head the cue takes the first turn after it; at the tune's end it takes nothing."""
    road_map = RoadMap(0, "player", 1, "player")
    made = setup(chart=tune(road_map=road_map), road_map=road_map)
    assert told(made, cue(1.0, "take it")) == [(0.0, P), (16.0, C), (32.0, P)]
    assert told(made, cue(17.0, "take it")) == told(made)


def test_lay_out_holds_until_the_companion_is_asked() -> None:
    """After *lay out* every turn is the player's; *take it* brings the trade back."""
    made = setup(chart=tune("Dm7 " * 24))
    assert told(made, cue(10.1, "lay out"), until=40.0)[:3] == [(0.0, P), (16.0, C), (20.2, P)]
    back = told(made, cue(2.0, "lay out"), cue(20.5, "take it"), until=40.0)
    assert back[:4] == [(0.0, P), (44.0, C), (60.0, P), (76.0, C)]


@pytest.mark.parametrize("kind", ["free", "solo", "chorus"])
def test_lay_out_holds_in_every_way_of_playing(kind: str) -> None:
    """Laid out, the companion opens no turn of its own, however long the player rests."""
    turns = Turns(kind)  # type: ignore[arg-type]
    run = play(setup(turns=turns), [cue(0.1, "lay out"), *line(2, 7), *line(16, 20)], until=30.0)
    assert not [n for n in run.sounded() if n[0] > 1.0]


def test_lay_out_in_the_count_in() -> None:
    """Asked before the first downbeat it holds from there."""
    made = setup(road_map=RoadMap(2, "none", None, "none"), turns=Turns("trade", 4, "companion"))
    run = play(made, [cue(1.0, "lay out")], until=10.0)
    assert run.turns() == [(0.0, P)]
    assert not run.sounded()


# --- start, stop -------------------------------------------------------------------------------


def test_start_waits_for_the_cue() -> None:
    """Without autostart nothing happens until the start, and then the count-in begins there."""
    made = setup(autostart=False, road_map=RoadMap(1, "none", None, "none"))
    run = play(made, [cue(3.25, "start")], until=10.0)
    beats = run.of("beat")
    assert (beats[0]["beat"], beats[0]["t"], beats[0]["at"]) == (-4.0, 3.25, 3.25)
    assert not run.of("jump")
    assert run.sounded("click")[0][0] == pytest.approx(3.25)
    assert not run.shots[0].running
    assert run.shots[-1].running


def test_stop_and_start_begins_from_the_top() -> None:
    """The second start counts in again, is told as a jump, and is a whole session of its own."""
    inputs: list[Input] = [*line(8, 15), cue(9.5, "stop"), cue(12.0, "start")]
    inputs += [MidiIn(m.t + 12.0, m.port, m.data) for m in line(8, 15)]
    run = play(setup(with_band=True), inputs, until=24.0)
    assert [(r["t"], r["beat"], r["why"]) for r in run.of("jump")] == [(12.0, 0.0, "start")]
    assert not [n for n in run.sounded("bass") if 9.5 < n[0] < 11.9]
    assert not run.ended
    again = [(r["beat"], r["who"]) for r in run.of("turn") if r["at"] >= 12.0]
    assert again[:2] == [(0.0, P), (16.0, C)]
    assert [n for n in run.sounded() if n[0] > 19.0]


def test_what_is_played_while_stopped_is_no_call() -> None:
    """Notes between stop and start are not answered."""
    inputs = [cue(1.0, "stop"), *line(4, 20), cue(12.0, "start")]
    run = play(setup(), inputs, until=21.0)
    assert run.replies
    assert not run.of("call")


# --- over MIDI ---------------------------------------------------------------------------------

CUES = {("note", 21): "take it", ("control", 66): "lay out", ("program", 5): "panic"}


def test_cues_over_the_cue_port() -> None:
    """A note, a switch and a program change are cues, each by its number, on any channel."""
    run = play(
        setup(cues=CUES),
        [pad(1.0, 0x99, 21, 90), pad(2.0, 0xB3, 66, 127), pad(3.0, 0xC0, 5), pad(4.0, 0x90, 22, 9)],
        until=5.0,
    )
    assert named(run) == [("take it", 1.0), ("lay out", 2.0), ("panic", 3.0)]


def test_a_switch_speaks_once_when_it_goes_down() -> None:
    """A pedal on its way down (64 and up is on: MIDI 1.0, controllers 64 to 69) is one cue."""
    values = [10, 64, 90, 127, 100, 63, 0, 127]
    messages = [pad(1.0 + 0.125 * n, 0xB0, 66, value) for n, value in enumerate(values)]
    run = play(setup(cues=CUES), messages, until=3.0)
    assert named(run) == [("lay out", 1.125), ("lay out", 1.875)]


def test_a_released_pad_is_no_cue() -> None:
    """The note-off of a pad, as such or with velocity 0, means nothing."""
    run = play(setup(cues=CUES), [pad(1.0, 0x90, 21, 0), pad(1.1, 0x80, 21, 64)], until=2.0)
    assert not named(run)


def test_a_key_of_the_player_that_is_a_cue_is_never_playing() -> None:
    """One keyboard may do for both: the key asks for its cue, and neither it nor its release is
    heard as a note; the band's keys ask for nothing."""
    strokes = [MidiIn(1.0, "player", (0x90, 21, 90)), MidiIn(1.2, "player", (0x80, 21, 0))]
    run = play(setup(cues=CUES), strokes, until=2.0)
    assert named(run) == [("take it", 1.0)]
    assert [record["channel_split"] for record in run.of("in")] == [None, None]
    assert not run.of("call")
    assert not named(play(setup(cues=CUES), [MidiIn(1.0, "band", (0x90, 21, 90))], until=2.0))
