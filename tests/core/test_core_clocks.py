"""The core on every clock: its first mark, tempo that moves under the notes, stops and jumps."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from sessions import Run, cue, key, line, play, setup, tune

from jam.charts.model import RoadMap
from jam.core.setup import GivenBeat, Turns
from jam.events import Cut, Input, MidiIn, Play

LONG = tune("Dm7 G7 Cmaj7 A7 Dm7 G7 Em7 A7 Dm7 G7 Cmaj7 C6")
TICK, START, CONTINUE, STOP = (0xF8,), (0xFA,), (0xFB,), (0xFC,)


def clock(t: float, *data: int) -> MidiIn:
    """Return a message of the clock port."""
    return MidiIn(round(t, 6), "clock", data)


def ticks(start: float, beats: float, bpm: float = 120.0) -> list[Input]:
    """Return the ticks of so many beats: 24 to the quarter note (MIDI 1.0, timing clock)."""
    return [clock(start + n * 60.0 / bpm / 24.0, *TICK) for n in range(round(beats * 24))]


def position(t: float, sixteenths: int) -> MidiIn:
    """Return a song position: its least significant seven bits come first (MIDI 1.0)."""
    return clock(t, 0xF2, sixteenths & 0x7F, sixteenths >> 7)


def solo(**changes: object) -> Run:
    """Return a session in which the companion plays all the time, over a band."""
    inputs = changes.pop("inputs")
    until = changes.pop("until", 20.0)
    made = setup(chart=LONG, turns=Turns("solo"), with_band=True, **changes)
    return play(made, inputs, until=until)  # type: ignore[arg-type]


def sound_is_right(run: Run) -> None:
    """Check that nothing was refused, late or stuck, and that the companion never doubles."""
    assert run.refused == 0
    assert not run.port.sounding
    plays = [(now, command) for now, command in run.commands if isinstance(command, Play)]
    assert all(now <= note.t + 1e-9 for now, note in plays)
    assert all(end <= begin + 0.003 for (_, end, _), (begin, _, _) in pairwise(run.sounded()))


# --- given, file ---------------------------------------------------------------------------------


def drifting(count: int, first: int = 1) -> tuple[GivenBeat, ...]:
    """Return beats as people play them, the first of them number ``first`` in its bar."""
    rng = np.random.default_rng(3)
    secs = 2.0 + np.cumsum(rng.normal(0.5, 0.015, count))
    return tuple(GivenBeat(float(s), (first - 1 + n) % 4 + 1) for n, s in enumerate(secs))


@pytest.mark.parametrize("source", ["given", "file"])
@pytest.mark.parametrize("first", [1, 3])
def test_known_beats_are_told_as_they_are(source: str, first: int) -> None:
    """Beats are told where they were given, from the first of them on; the first 1 is beat 0."""
    beats = drifting(60, first)
    made = setup(chart=None, clock=source, given_beats=beats)
    told = play(made, until=beats[40].sec).of("beat")
    pickup = (5 - first) % 4
    assert [r["beat"] for r in told[:3]] == [float(n - pickup) for n in range(3)]
    assert [r["t"] for r in told[:40]] == pytest.approx([beat.sec for beat in beats[:40]], abs=2e-6)
    assert [r["beat_in_bar"] for r in told[:40]] == [beat.beat_in_bar for beat in beats[:40]]
    assert {r["source"] for r in told[:40]} == {source}


def test_given_beats_that_end_are_coasted_on() -> None:
    """After the last given beat time goes on at the last tempo, and the log says so."""
    beats = drifting(20)
    told = play(setup(chart=None, clock="given", given_beats=beats), until=16.0).of("beat")
    late = [record for record in told if record["t"] > beats[-1].sec + 1.0]
    assert late
    assert {record["source"] for record in late} == {"coast"}


def test_notes_follow_a_tempo_that_was_known() -> None:
    """Over people's beats nothing is late, stuck or doubled."""
    run = solo(clock="given", given_beats=drifting(80), inputs=[], until=30.0)
    assert run.spoken()
    sound_is_right(run)


# --- taps ----------------------------------------------------------------------------------------


def taps(*intervals: float) -> list[Input]:
    """Return taps from 0.5 s on with these intervals between them."""
    moments = 0.5 + np.cumsum([0.0, *intervals])
    return [cue(round(float(t), 6), "tap") for t in moments]


def test_taps_count_in() -> None:
    """The second tap gives the tempo and is beat -3; the fifth is the first downbeat."""
    told = play(setup(clock="taps"), taps(*[0.5] * 8), until=4.6).of("beat")
    assert [record["beat"] for record in told[:4]] == [-3.0, -2.0, -1.0, 0.0]
    assert told[3]["t"] == pytest.approx(2.5)
    assert all(record["at"] <= record["t"] for record in told)


def test_halves_then_quarters_make_a_jump() -> None:
    """A count-off in halves, then quarters is understood, and told as a jump back."""
    run = play(setup(clock="taps"), taps(1.0, 1.0, 0.5, 0.5, 0.5, 0.5, 0.5), until=6.0)
    assert [record["beat"] for record in run.of("jump")] == [-3.0]
    told = [record for record in run.of("beat") if record["beat"] == 0.0]
    assert told[-1]["t"] == pytest.approx(4.5, abs=0.01)


def test_the_tempo_moves_under_notes_on_their_way() -> None:
    """Notes that were handed over are sent again under the same id when taps move the beat."""
    slower = [0.5] * 12 + [0.53] * 8 + [0.56] * 8
    run = solo(clock="taps", inputs=taps(*slower), until=16.0)
    ids = [command.id for _, command in run.commands if isinstance(command, Play)]
    assert len(ids) > len(set(ids))
    sound_is_right(run)


def test_a_tempo_that_rises_cuts_what_sounds() -> None:
    """A note that sounds when the tempo rises is ended in time for the next one."""
    faster = [0.6] * 10 + [0.52] * 6 + [0.46] * 16
    run = solo(clock="taps", inputs=taps(*faster), until=17.0)
    assert [command for _, command in run.commands if isinstance(command, Cut)]
    sound_is_right(run)


# --- MIDI clock ----------------------------------------------------------------------------------


def test_a_clock_is_followed_from_its_start() -> None:
    """The first tick after the start is beat 0, and the beats fall on the ticks."""
    run = solo(clock="midi", inputs=[clock(0.9, *START), *ticks(1.0, 30)], until=15.0)
    told = run.of("beat")
    assert [record["beat"] for record in told[:2]] == [0.0, 1.0]
    assert [r["t"] for r in told[2:20]] == pytest.approx(
        [1.0 + 0.5 * n for n in range(2, 20)], abs=2e-3
    )
    assert all(r["at"] <= r["t"] + 1e-6 for r in told if r["locked"])
    assert run.spoken()
    sound_is_right(run)


def test_clock_bytes_of_a_keyboard_are_not_the_clock() -> None:
    """Ticks, starts and stops on the player's own port move nothing."""
    inputs = [clock(0.9, *START), *ticks(1.0, 26)]
    noise: list[Input] = [MidiIn(2.0 + 0.013 * n, "player", TICK) for n in range(300)]
    noise += [MidiIn(4.0, "player", STOP), MidiIn(5.0, "player", START)]
    plain = solo(clock="midi", inputs=inputs, until=13.0)
    noisy = solo(clock="midi", inputs=[*inputs, *noise], until=13.0)
    assert noisy.sounded() == plain.sounded()
    assert noisy.of("beat") == plain.of("beat")


def test_a_stopped_clock_is_silent() -> None:
    """With the clock stopped all notes end at once, no beat is told, and nothing is due."""
    inputs = [clock(0.9, *START), *ticks(1.0, 16), clock(9.01, *STOP), *ticks(9.02, 8)]
    run = solo(clock="midi", inputs=inputs, until=14.0)
    assert all(end <= 9.01 + 1e-6 for _, end, _ in [*run.sounded(), *run.sounded("bass")])
    assert max(record["at"] for record in run.of("beat")) <= 9.01
    assert not run.shots[-1].running
    sound_is_right(run)


def test_a_continue_goes_on_where_the_stop_was() -> None:
    """Continue is told as a jump to the beat that comes next, and the companion plays on."""
    inputs = [clock(0.9, *START), *ticks(1.0, 16), clock(9.01, *STOP)]
    inputs += [clock(10.9, *CONTINUE), *ticks(11.0, 16)]
    run = solo(clock="midi", inputs=inputs, until=18.0)
    assert [(r["beat"], r["why"]) for r in run.of("jump")] == [(0.0, "start"), (16.0, "continue")]
    assert [n for n in run.sounded() if n[0] > 12.0]
    sound_is_right(run)


def test_a_song_position_is_a_jump() -> None:
    """Sixteenths are counted from the song's start (MIDI 1.0); all that was planned is forgotten,
    chord and turn of the new place are told."""
    inputs = [clock(0.9, *START), *ticks(1.0, 10), clock(6.01, *STOP), position(6.1, 4 * 26)]
    inputs += [clock(6.9, *CONTINUE), *ticks(7.0, 20)]
    made = setup(chart=LONG, clock="midi", with_band=True)
    run = play(made, inputs, until=16.0)
    jump = run.of("jump")[-1]
    assert (jump["t"], jump["beat"], jump["why"]) == (7.0, 26.0, "song position")
    later = [r for r in run.records if r["at"] >= 7.0]
    chords = [(r["beat"], r["symbol"]) for r in later if r["kind"] == "chord"]
    assert chords[0] == (24.0, "Em7")
    turns = [(r["beat"], r["who"]) for r in later if r["kind"] == "turn"]
    assert turns[0] == (16.0, "companion")
    assert not [n for n in run.sounded("bass") if n[0] < 7.0 - 1e-6 and n[1] > 6.02]
    sound_is_right(run)


def test_a_start_in_the_middle_begins_from_the_top() -> None:
    """A second start is beat 0 again, with calls and replies of before forgotten."""
    inputs = [clock(0.9, *START), *ticks(1.0, 30), clock(15.9, *START), *ticks(16.0, 28)]
    made = setup(chart=LONG, clock="midi")
    again = [MidiIn(round(m.t + 1.0, 6), m.port, m.data) for m in line(24, 29)]
    run = play(made, [*inputs, *again], until=29.0)
    assert [record["beat"] for record in run.of("jump")] == [0.0, 0.0]
    later = [r for r in run.records if r["at"] >= 15.9]
    assert [(r["beat"], r["who"]) for r in later if r["kind"] == "turn"][:2] == [
        (0.0, "player"), (16.0, "companion"),
    ]  # fmt: skip
    assert not [r for r in later if r["kind"] == "call"]
    assert [r for r in later if r["kind"] == "reply"]


def test_a_silent_clock_is_coasted_on() -> None:
    """Ticks that stop coming leave the tempo as it was; the log says ``coast``."""
    inputs = [clock(0.9, *START), *ticks(1.0, 12)]
    run = solo(clock="midi", inputs=inputs, until=12.0)
    late = [record for record in run.of("beat") if record["t"] > 8.0]
    assert {record["source"] for record in late} == {"coast"}
    assert all(b["t"] - a["t"] == pytest.approx(0.5, abs=1e-4) for a, b in pairwise(late))
    assert [n for n in run.sounded() if n[0] > 9.0]


def test_a_jittering_clock_leaves_the_notes_in_peace() -> None:
    """A millisecond of jitter sends hardly a note twice."""
    rng = np.random.default_rng(8)
    inputs = [clock(0.9, *START)]
    inputs += [clock(t.t + float(rng.uniform(0.0, 0.001)), *TICK) for t in ticks(1.0, 40)]
    inputs += [clock(7.0 + 0.51 * n, *START) for n in range(4)]
    run = solo(clock="midi", inputs=inputs, until=20.0)
    assert all(r["at"] <= r["t"] + 1e-6 for r in run.of("beat") if r["locked"])
    ids = [command.id for _, command in run.commands if isinstance(command, Play)]
    assert len(ids) < 1.1 * len(set(ids))
    sound_is_right(run)


def test_a_changing_clock_carries_the_notes_along() -> None:
    """A clock that speeds up by a tenth and slows down again leaves nothing late, stuck or
    doubled."""
    t, inputs = 1.0, [clock(0.9, *START)]
    for n in range(40 * 24):
        inputs.append(clock(t, *TICK))
        t += 60.0 / (120.0 + 12.0 * np.sin(n / 100.0)) / 24.0
    run = solo(clock="midi", inputs=inputs, until=20.0)
    sound_is_right(run)
    beats = run.of("beat")
    assert [r["beat"] for r in beats] == [float(n) for n in range(len(beats))]


def test_a_start_before_the_tempo_is_known() -> None:
    """The first tick of all may carry out the start: the beats are told as soon as can be."""
    run = solo(clock="midi", inputs=[clock(0.5, *START), *ticks(0.5, 20)], until=9.0)
    assert [record["beat"] for record in run.of("beat")][:3] == [0.0, 1.0, 2.0]
    assert run.of("jump")[0]["beat"] == 0.0
    sound_is_right(run)


# --- the companion's own -------------------------------------------------------------------------


def test_the_first_beat_of_the_count_in_is_told_as_it_falls() -> None:
    """The count-in begins with the session, or with the start, never before it."""
    road_map = RoadMap(1, "none", None, "none")
    first = play(setup(road_map=road_map), until=1.0).of("beat")[0]
    assert (first["beat"], first["t"], first["at"]) == (-4.0, 0.0, 0.0)
    made = setup(road_map=road_map, autostart=False)
    later = play(made, [key(1.0, 60), cue(2.0, "start")], until=3.0).of("beat")[0]
    assert (later["beat"], later["t"], later["at"]) == (-4.0, 2.0, 2.0)
