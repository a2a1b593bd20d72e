"""Hold and follow: who leads the tempo, taps and MIDI clock alike; joining and losing a clock."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from sessions import Run, cue, line, play, setup, tune

from jam.charts.model import RoadMap
from jam.core.setup import Turns
from jam.events import Input, IoReport, MidiIn

LONG = tune("Dm7 G7 Cmaj7 A7 Dm7 G7 Em7 A7", road_map=RoadMap(2, "none", None, "none"))
TICK, START, STOP = (0xF8,), (0xFA,), (0xFC,)


def taps(*intervals: float, start: float = 0.5) -> list[Input]:
    """Return taps with these intervals between them."""
    moments = start + np.cumsum([0.0, *intervals])
    return [cue(round(float(t), 6), "tap") for t in moments]


def clock(t: float, *data: int) -> MidiIn:
    """Return a message of the clock port."""
    return MidiIn(round(t, 6), "clock", data)


def ticks(start: float, beats: float, bpm: float = 120.0) -> list[Input]:
    """Return the ticks of so many beats: 24 to the quarter note (MIDI 1.0, timing clock)."""
    return [clock(start + n * 60.0 / bpm / 24.0, *TICK) for n in range(round(beats * 24))]


def session(inputs: list[Input], until: float, **more: object) -> Run:
    """Return a session in which the companion plays all the time, over a band."""
    made = setup(chart=LONG, turns=Turns("solo"), with_band=True, **more)
    return play(made, inputs, until=until)


def bpms(run: Run, since: float) -> set[float]:
    """Return the tempi told from second ``since`` on."""
    return {round(r["bpm"], 3) for r in run.of("beat") if r["t"] > since}


def secs(run: Run, since: float) -> list[float]:
    """Return when the beats fell that were told from second ``since`` on."""
    return [r["t"] for r in run.of("beat") if r["t"] > since]


def test_held_taps_move_nothing() -> None:
    """From *hold tempo* on taps at another tempo are not heard."""
    inputs = taps(*[0.5] * 8, *[0.42] * 20)
    run = session([*inputs, cue(4.6, "hold tempo")], 14.0, clock="taps")
    assert bpms(run, 5.1) == {120.0}
    assert all(shot.holding == (shot.now >= 4.6) for shot in run.shots)
    free = session(inputs, 14.0, clock="taps")
    assert max(bpms(free, 8.0)) > 135.0


def test_a_count_off_is_held_from_the_first_downbeat() -> None:
    """With ``hold_tempo`` the count-in is tapped, and what is tapped later is not heard."""
    run = session(taps(*[0.5] * 4, *[0.4] * 20), 14.0, clock="taps", hold_tempo=True)
    assert bpms(run, 3.1) == {120.0}
    assert run.shots[0].holding


def test_follow_bends_to_the_taps_again() -> None:
    """No jump: beats follow one another, none more than a third faster than what is tapped,
    and at last the tempo is the one that is tapped."""
    held = [*taps(*[0.5] * 8), cue(4.6, "hold tempo"), cue(10.0, "follow")]
    run = session([*held, *taps(*[0.46] * 30, start=10.3)], 24.0, clock="taps")
    beats = run.of("beat")
    assert [b["beat"] - a["beat"] for a, b in pairwise(beats)] == [1.0] * (len(beats) - 1)
    # told a beat ahead, so that ``at`` is when the beat before really fell
    assert all(b["at"] - a["at"] > 0.34 for a, b in pairwise(beats[1:]))
    assert max(bpms(run, 16.0)) == pytest.approx(60 / 0.46, rel=0.02)
    assert not run.of("jump")
    assert run.refused == 0


def test_a_held_midi_clock_is_not_followed_but_stops() -> None:
    """Ticks at another tempo do nothing; the stop of the sequencer stops."""
    inputs = [clock(0.9, *START), *ticks(1.0, 8), *ticks(5.0, 16, 150.0)]
    inputs += [cue(4.9, "hold tempo"), clock(11.2, *STOP)]
    run = session(inputs, 14.0, clock="midi")
    assert len(bpms(run, 5.5)) == 1
    assert bpms(run, 5.5).pop() == pytest.approx(120.0, abs=0.1)
    assert max(r["at"] for r in run.of("beat")) <= 11.2
    assert not run.shots[-1].running


def test_follow_bends_to_the_nearest_tick_of_a_beat() -> None:
    """After a hold the beat of the clock is met without a jump, however far it had gone."""
    inputs = [clock(0.9, *START), *ticks(1.0, 8), *ticks(5.0, 60, 132.0)]
    inputs += [cue(4.9, "hold tempo"), cue(14.9, "follow")]
    run = session(inputs, 26.0, clock="midi")
    beats = run.of("beat")
    assert [b["beat"] - a["beat"] for a, b in pairwise(beats)] == [1.0] * (len(beats) - 1)
    late = [t for t in secs(run, 20.0) if t < 25.0]
    phase = [((t - 5.0) * 132.0 / 60.0) % 1.0 for t in late]
    assert all(min(p, 1.0 - p) < 0.03 for p in phase)
    assert [r["why"] for r in run.of("jump")] == ["start"]
    kept = (14.9 - 1.0) * 2.0 + (20.0 - 14.9) * 2.2
    assert next(r for r in beats if r["t"] > 20.0)["beat"] == pytest.approx(kept + 0.5, abs=1.0)
    assert run.refused == 0


def test_a_start_while_held_begins_from_the_top_at_the_held_tempo() -> None:
    """The sequencer says where, the hold says how fast."""
    inputs = [clock(0.9, *START), *ticks(1.0, 8), cue(4.5, "hold tempo"), clock(4.9, *STOP)]
    inputs += [clock(6.9, *START), *ticks(7.0, 16, 90.0)]
    run = session(inputs, 13.0, clock="midi")
    assert [r["beat"] for r in run.of("jump")] == [0.0, 0.0]
    again = [r for r in run.of("beat") if r["at"] >= 7.0]
    assert [r["t"] for r in again[:5]] == pytest.approx([7.0 + 0.5 * n for n in range(5)], abs=0.01)


@pytest.mark.parametrize("kind", ["internal", "given"])
def test_other_clocks_have_nothing_to_hold(kind: str) -> None:
    """Where nobody is followed, *hold tempo* and *follow* say nothing."""
    made = setup(clock="internal", hold_tempo=True)
    run = play(made, [cue(1.0, "hold tempo"), cue(2.0, "follow"), *line(8, 15)], until=14.0)
    assert not any(shot.holding for shot in run.shots)
    assert run.commands == play(setup(), line(8, 15), until=14.0).commands


# --- start, joining, losing -----------------------------------------------------------------------


def test_start_joins_a_clock_that_ticks_already() -> None:
    """Ticks without a start tell no place: *start* says that the next one is beat 0."""
    run = session([*ticks(0.5, 40), cue(4.26, "start")], 12.0, clock="midi")
    assert not run.of("beat")[0]["at"] < 4.26
    told = run.of("beat")
    assert [r["beat"] for r in told[:3]] == [0.0, 1.0, 2.0]
    assert told[1]["t"] == pytest.approx(told[0]["t"] + 0.5, abs=0.02)
    assert 4.26 <= told[0]["t"] <= 4.29
    assert run.sounded()


def test_stop_and_start_of_a_clock_that_ticks_on() -> None:
    """*stop* silences though the ticks go on; *start* begins from the top on the next tick."""
    inputs = [clock(0.9, *START), *ticks(1.0, 50), cue(9.3, "stop"), cue(15.2, "start")]
    run = session(inputs, 22.0, clock="midi")
    assert not [n for n in [*run.sounded(), *run.sounded("bass")] if 9.31 < n[1] < 15.2]
    assert [r["beat"] for r in run.of("jump")] == [0.0, 0.0]
    assert run.of("jump")[1]["t"] == pytest.approx(15.2, abs=0.03)
    assert [n for n in run.sounded("bass") if n[0] > 16.0]


def test_start_of_taps_counts_in_and_is_tapped_along_to() -> None:
    """Without a count-off *start* counts in at the setup's tempo; taps move it from there."""
    run = session([cue(1.0, "start"), *taps(*[0.46] * 24, start=5.02)], 16.0, clock="taps")
    told = run.of("beat")
    assert (told[0]["beat"], told[0]["t"]) == (-8.0, 1.0)
    assert [round(t, 2) for t, _, _ in run.sounded("click")][:3] == [1.0, 2.0, 3.0]
    assert max(bpms(run, 10.0)) == pytest.approx(60 / 0.46, rel=0.02)
    assert run.refused == 0


def test_taps_after_a_stop_count_off_anew() -> None:
    """A new count-off is a new beginning, told as a jump, and needs no start."""
    inputs = [*taps(*[0.5] * 12), cue(8.0, "stop"), *taps(*[0.4] * 12, start=10.0)]
    run = session(inputs, 16.0, clock="taps")
    assert [(r["beat"], r["t"]) for r in run.of("jump")] == [(-3.0, 10.4)]
    zero = [r for r in run.of("beat") if r["beat"] == 0.0]
    assert zero[-1]["t"] == pytest.approx(11.6, abs=0.02)
    assert not [n for n in run.sounded("bass") if 8.01 < n[0] < 11.0]


def test_start_after_a_stop_of_taps_keeps_their_tempo() -> None:
    """The count-in is clicked at the tempo that was tapped."""
    inputs = [*taps(*[0.4] * 12), cue(8.0, "stop"), cue(10.0, "start")]
    run = session(inputs, 16.0, clock="taps")
    again = [r for r in run.of("beat") if r["at"] >= 10.0]
    assert again[0]["beat"] == -8.0
    assert again[0]["bpm"] == pytest.approx(150.0, rel=0.01)


def test_a_lost_clock_is_coasted_on_at_once() -> None:
    """The beat after the loss says ``coast``, at the same tempo, and notes go on; a clock that
    comes back is followed again without a jump."""
    inputs = [clock(0.9, *START), *ticks(1.0, 12), IoReport(7.0, "port lost", {"role": "clock"})]
    run = session([*inputs, *ticks(10.0, 16)], 16.0, clock="midi")
    told = run.of("beat")
    assert {r["source"] for r in told if 7.0 < r["at"] < 9.9} == {"coast"}
    assert {r["source"] for r in told if r["at"] > 10.1} == {"midi"}
    gaps = [b["t"] - a["t"] for a, b in pairwise(told)]
    assert all(gap == pytest.approx(0.5, abs=0.02) for gap in gaps[2:])
    assert len(run.of("jump")) == 1


def test_a_clock_that_is_back_in_no_time_has_lost_no_beat() -> None:
    """Ticks that fell into the gap are counted all the same."""
    whole = ticks(1.0, 30)
    inputs = [tick for tick in whole if not 7.0 < tick.t < 7.2]
    gone = IoReport(7.001, "port lost", {"role": "clock"})
    run = session([clock(0.9, *START), *inputs, gone], 15.0, clock="midi")
    late = [r for r in run.of("beat") if r["t"] > 10.0]
    assert all(r["t"] == pytest.approx(1.0 + 0.5 * r["beat"], abs=0.005) for r in late)
