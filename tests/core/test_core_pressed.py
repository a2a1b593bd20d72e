"""Cues pressed on the player's own keyboard, the damper that starts, the signal before a turn, and
what a stage is shown."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from sessions import Run, chord, cue, key, line, note, play, setup, tune

from jam.charts.model import MelodyNote, RoadMap
from jam.core.setup import CUES, Turns
from jam.core.snapshot import Snapshot
from jam.events import Input, MidiIn, Port
from jam.listening.who import Split
from jam.players.channels import CHANNELS

PRESSES = {("note", 21): "take it", ("control", 66): "lay out", ("program", 5): "panic"}


def sent(t: float, *data: int, port: Port = "player") -> MidiIn:
    """Return a message of the player's keyboard, or of another port."""
    return MidiIn(t, port, data)


def named(run: Run) -> list[tuple[str, float]]:
    """Return the cues understood, and when."""
    return [(record["name"], record["t"]) for record in run.of("cue")]


# --- cues on the player's port -------------------------------------------------------------------


@pytest.mark.parametrize("split", [Split(), Split("fixed"), Split("comping")])
def test_a_cue_key_is_never_heard_as_playing(split: Split) -> None:
    """The call is the same with and without it, its release too; the log names it no part."""
    made = setup(cues=PRESSES, split=split)
    plain = play(made, line(8, 15), until=8.0)
    presses = [key(7.2, 21), key(7.4, 21, 0)]
    run = play(made, [*line(8, 15), *presses], until=8.0)
    assert [c["notes"] for c in run.of("call")] == [c["notes"] for c in plain.of("call")]
    assert named(run) == [("take it", 7.2)]
    told = [r["channel_split"] for r in run.of("in") if r["bytes"][1] == 21]
    assert told == [None, None]


def test_a_held_cue_key_does_not_hold_the_reply_up() -> None:
    """A key that is down but means a cue is no key of the line."""
    made = setup(cues=PRESSES)
    assert play(made, [*line(8, 15), key(7.0, 21)], until=14.0).spoken()
    assert not play(setup(), [*line(8, 15), key(7.0, 21)], until=14.0).spoken()


def test_a_switch_on_either_port_speaks_once() -> None:
    """Each port's switch is a switch of its own."""
    inputs = [sent(t, 0xB0, 66, v) for t, v in ((1.0, 127), (1.1, 100), (1.2, 0), (1.3, 127))]
    inputs += [sent(2.0, 0xB0, 66, 127, port="cue"), sent(2.5, 0xB0, 66, 127, port="band")]
    run = play(setup(cues=PRESSES), inputs, until=3.0)
    assert named(run) == [("lay out", 1.0), ("lay out", 1.3), ("lay out", 2.0)]


def test_a_switch_that_chatters_speaks_once() -> None:
    """Contacts bounce for some milliseconds when they close and when they open."""
    values = [127, 0, 127, 0, 127]
    down = [sent(round(1.0 + 0.004 * n, 6), 0xB0, 66, v) for n, v in enumerate(values)]
    up = [sent(round(2.0 + 0.004 * n, 6), 0xB0, 66, 127 - v) for n, v in enumerate(values)]
    again = [sent(2.3, 0xB0, 66, 127)]
    run = play(setup(cues=PRESSES), [*down, *up, *again], until=3.0)
    assert named(run) == [("lay out", 1.0), ("lay out", 2.3)]


def test_a_pad_that_strikes_twice_is_one_tap() -> None:
    """A double trigger is no tempo; quick taps and a release at the next stroke are."""
    made = setup(clock="taps", cues={("note", 37): "tap"})
    strokes = [1.0, 1.008, 1.3, 1.6, 1.612, 1.9]
    run = play(made, [key(t, 37, port="cue") for t in strokes], until=2.5)
    assert named(run) == [("tap", t) for t in (1.0, 1.3, 1.6, 1.9)]
    ends = [m for t in (1.0, 1.3, 1.6) for m in (key(t, 37), key(t + 0.295, 37, 0))]
    assert len(named(play(made, ends, until=2.5))) == 3


def test_a_program_change_is_a_cue_each_time() -> None:
    """It has no release; the same number again asks again, another number is no cue."""
    inputs = [sent(1.0, 0xC0, 5), sent(2.0, 0xC3, 5, port="cue"), sent(2.5, 0xC0, 6)]
    assert named(play(setup(cues=PRESSES), inputs, until=3.0)) == [("panic", 1.0), ("panic", 2.0)]


def test_the_damper_is_never_a_cue() -> None:
    """Controller 64 means nothing, even if a setup says so."""
    made = setup(cues={("control", 64): "panic"})
    run = play(made, [sent(1.0, 0xB0, 64, 127), sent(1.2, 0xB0, 64, 127, port="cue")], until=2.0)
    assert not named(run)


def waiting(inputs: Sequence[Input], **more: object) -> Run:
    """Return a session that waits for a start, with two bars of count-in."""
    road_map = RoadMap(2, "none", None, "none")
    made = setup(autostart=False, road_map=road_map, **{"damper_starts": True, **more})
    return play(made, inputs, until=9.0)


DOWN, UP = (0xB0, 64, 127), (0xB0, 64, 0)


def test_the_damper_starts_a_waiting_session() -> None:
    """Pressed with no key down it is a start, once; while the clock runs it is a pedal."""
    run = waiting([sent(1.0, *DOWN), sent(1.5, *UP), sent(2.0, *DOWN), sent(2.1, *UP)])
    assert named(run) == [("start", 1.0)]
    assert run.of("beat")[0]["t"] == 1.0
    assert not run.of("jump")


def test_the_damper_does_not_start_while_a_key_is_down() -> None:
    """Somebody who plays uses it as a pedal; released keys and cue keys do not count."""
    assert not named(waiting([key(0.5, 60), sent(1.0, *DOWN)]))
    freed = waiting([key(0.5, 60), key(0.8, 60, 0), sent(1.0, *DOWN)])
    assert named(freed) == [("start", 1.0)]
    cued = waiting([key(0.5, 21), sent(1.0, *DOWN)], cues={("note", 21): "next style"})
    assert named(cued) == [("next style", 0.5), ("start", 1.0)]
    assert not named(waiting([sent(1.0, *DOWN)], damper_starts=False))


def test_the_damper_starts_anew_after_a_stop() -> None:
    """A pedal that was held meanwhile has to be pressed again."""
    inputs = [sent(1.0, *DOWN), cue(3.0, "stop"), sent(4.0, *DOWN), sent(4.2, *UP)]
    run = waiting([*inputs, sent(5.0, *DOWN)])
    assert named(run) == [("start", 1.0), ("stop", 3.0), ("start", 5.0)]
    assert [r["beat"] for r in run.of("jump")] == [-8.0]


def test_take_it_starts_the_companions_own_clock() -> None:
    """One pedal is enough: the first press starts, a later one takes the turn."""
    run = waiting([cue(1.0, "take it"), cue(6.2, "take it")])
    assert run.of("beat")[0]["t"] == 1.0
    assert run.turns() == [(0.0, "player"), (4.0, "companion")]
    taps = play(setup(clock="taps"), [cue(1.0, "take it")], until=4.0)
    assert not taps.of("beat")


@pytest.mark.parametrize("name", CUES)
def test_no_cue_harms_a_session_that_has_not_begun(name: str) -> None:
    """Every cue may come before the start, on every clock."""
    for clock in ("internal", "taps", "midi"):
        made = setup(clock=clock, autostart=False)
        run = play(made, [cue(1.0, name), cue(2.0, "stop"), cue(3.0, name)], until=6.0)
        assert not run.port.sounding
        assert not run.of("fault")


# --- channels, the turn signal --------------------------------------------------------------------


def test_the_companion_leaves_the_players_channel_alone() -> None:
    """By default no part uses channel 1 (0 here); a setup may move any part."""
    assert 0 not in CHANNELS.values()
    road_map = RoadMap(1, "none", None, "none")
    moved = {"companion": 7, "bass": 8, "click": 9, "drums": 10, "comping": 11}
    for channels in ({}, moved):
        made = setup(with_band=True, road_map=road_map, channels=channels)
        run = play(made, line(12, 19), until=18.0)
        used = {message.part: message.data[0] & 0x0F for message in run.sent}
        assert used == {part: {**CHANNELS, **channels}[part] for part in moved}


def test_the_melody_may_be_moved_too() -> None:
    """The head is sent on the channel that the setup gives it."""
    chart = tune(road_map=RoadMap(0, "companion", 1, "none"), melody=(MelodyNote(0.0, 2.0, 64),))
    run = play(setup(chart=chart, channels={"melody": 12}), until=9.0)
    assert {m.data[0] & 0x0F for m in run.sent if m.part == "melody"} == {12}


def strokes(run: Run) -> list[tuple[float, int]]:
    """Return the strokes of the click part, in beats, with their pitch."""
    return [(round(t * 2, 3), p) for t, _, p in run.sounded("click")]


HIGH, LOW = 76, 77  # Hi and Low Wood Block of the General MIDI percussion map


def test_two_strokes_tell_who_is_next() -> None:
    """High in the pulse before the companion's turn, low before the player's."""
    run = play(setup(turn_signal=True), line(8, 15), until=17.0)
    assert strokes(run) == [(15.0, HIGH), (15.5, HIGH), (31.0, LOW), (31.5, LOW)]
    assert all(p.velocity < 70 for p in run.plays if p.part == "click")
    silent = play(setup(), line(8, 15), until=17.0)
    assert not strokes(silent)
    assert silent.sounded() == run.sounded()


def test_no_signal_in_heads_and_count_in() -> None:
    """Heads are melody; the count-in has its own clicks."""
    road_map = RoadMap(0, "player", 2, "companion")
    chart = tune(road_map=road_map)
    run = play(setup(chart=chart, turn_signal=True), until=40.0)
    assert run.turns() == [(0.0, "player"), (32.0, "companion")]
    assert strokes(run) == [(31.0, HIGH), (31.5, HIGH)]
    taken_over = tune(road_map=RoadMap(0, "none", 1, "companion"))
    run = play(setup(chart=taken_over, turn_signal=True), until=40.0)
    assert run.turns() == [(0.0, "player"), (16.0, "companion")]
    assert not strokes(run)
    counted = setup(turn_signal=True, road_map=RoadMap(1, "none", 1, "none"),
                    turns=Turns("trade", 4, "companion"))  # fmt: skip
    assert [p for _, p in strokes(play(counted, until=12.0))] == [HIGH, LOW, LOW, LOW]


def test_a_signal_that_became_wrong_is_taken_back() -> None:
    """*lay out* just before the companion's turn leaves no stroke; *take it* brings one."""
    gone = play(setup(turn_signal=True), [cue(7.3, "lay out")], until=12.0)
    assert not strokes(gone)
    taken = play(setup(turn_signal=True), [cue(3.1, "take it")], until=6.0)
    assert strokes(taken) == [(7.0, HIGH), (7.5, HIGH)]


# --- the snapshot ------------------------------------------------------------------------------


def shown(run: Run, t: float) -> Snapshot:
    """Return the first snapshot that was taken at second ``t`` or later."""
    return next(shot for shot in run.shots if shot.now >= t)


def test_a_stage_is_shown_where_in_the_form_it_is() -> None:
    """Bar of the form, chorus, who is next and when; the count-in, and before it the waiting."""
    chart = tune("Dm7 G7 Cmaj7 Cmaj7 Fm7 Bb7 Ebmaj7 Ebmaj7")
    made = setup(chart=chart, autostart=False, road_map=RoadMap(1, "none", 3, "none"))
    run = play(made, [cue(1.0, "start"), cue(28.0, "lay out")], until=34.0, extra=[2.0, 8.0, 22.0])
    first = run.shots[0]
    assert (first.waiting, first.running, first.count_in, first.beat) == (True, False, False, None)
    counted = shown(run, 2.0)
    assert (counted.waiting, counted.count_in, counted.beats_to_turn) == (False, True, 2.0)
    told = shown(run, 8.0)
    assert (told.form_bar, told.form_bars, told.chorus, told.choruses) == (3, 8, 1, 3)
    assert (told.who, told.next_who, told.beats_to_turn) == ("player", "companion", 6.0)
    assert (told.count_in, told.laid_out, told.ending) == (False, False, "")
    second = shown(run, 22.0)
    assert (second.bar, second.form_bar, second.chorus) == (10, 2, 2)
    assert shown(run, 28.5).laid_out
    stopped = play(setup(), [cue(3.0, "stop")], until=4.0).shots[-1]
    assert (stopped.waiting, stopped.running) == (False, False)


def test_without_a_chart_there_is_no_form() -> None:
    """No bar of a form, no number of choruses; a turn after the last is nobody's."""
    inputs = [*chord(0, 12, (48, 52, 55, 59), port="band"), *note(1, 1, 60)]
    shot = play(setup(chart=None), inputs, until=3.0).shots[-1]
    assert (shot.form_bar, shot.form_bars, shot.choruses) == (0, 0, None)
    over = play(setup(road_map=RoadMap(0, "none", 1, "none")), until=30.0).shots[-1]
    assert (over.who, over.next_who, over.beats_to_turn) == ("none", None, None)
