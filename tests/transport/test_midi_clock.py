"""Following MIDI clock, against the standard's arithmetic."""

from collections.abc import Iterable, Sequence

import numpy as np
import pytest

from jam.events import ClockContinue, ClockStart, ClockStop, ClockTick, SongPosition
from jam.transport.follower import Follower, Jump, Tap
from jam.transport.midi_clock import TICKS_PER_BEAT, TICKS_PER_SIXTEENTH, MidiClockFollower

# F8 spacing in ms by bpm: 24 to the quarter (MIDI 1.0 Detailed Specification), by arithmetic.
SPACING_MS = [
    (30, 83.3333),
    (60, 41.6667),
    (90, 27.7778),
    (120, 20.8333),
    (150, 16.6667),
    (180, 13.8889),
    (200, 12.5),
    (240, 10.4167),
    (300, 8.3333),
]


def spaced(bpm: float, count: int, first: float = 0.0) -> np.ndarray:
    """Return the seconds of ``count`` ticks at ``bpm``."""
    return first + np.arange(count) * 60.0 / 24.0 / bpm


def started(at: float = 0.0) -> MidiClockFollower:
    follower = MidiClockFollower()
    follower.hear(ClockStart(at - 0.001))
    return follower


def tick(follower: MidiClockFollower, times: Iterable[float]) -> list[Jump]:
    """Hand in ticks, checking that the beat only goes back where a jump says so."""
    jumps = []
    for t in times:
        t = float(t)
        follower.settle(t)
        before = follower.time.beat(t) if follower.time and follower.running else None
        jump = follower.hear(ClockTick(t))
        if jump is not None:
            jumps.append(jump)
        elif before is not None and follower.time is not None:
            assert follower.time.beat(t) >= before - 1e-6
    return jumps


def beat_errors_ms(
    follower: MidiClockFollower, times: Sequence[float], truth: Sequence[float]
) -> list[float]:
    """Return how far off each beat was foretold, a beat ahead; ``truth`` without jitter."""
    errors = []
    for number, t in enumerate(times):
        tick(follower, [t])
        if number % 24 == 0 and number and number + 24 < len(truth) and follower.time is not None:
            errors.append(1000 * (follower.time.sec(number / 24 + 1) - truth[number + 24]))
    return errors


@pytest.mark.parametrize(("bpm", "spacing_ms"), SPACING_MS)
def test_tick_spacing_is_tempo(bpm: float, spacing_ms: float) -> None:
    """Ticks spaced as the table says give that tempo, and beat n falls on tick 24 n."""
    follower = started()
    tick(follower, [k * spacing_ms / 1000 for k in range(97)])
    assert follower.time is not None
    assert follower.time.bpm_at(4.0) == pytest.approx(bpm, rel=1e-4)
    assert follower.time.sec(4.0) == pytest.approx(96 * spacing_ms / 1000, abs=1e-4)
    assert follower.time.sec(8.0) == pytest.approx(8 * 60 / bpm, abs=1e-3)


def test_clocks_and_sixteenths() -> None:
    """Song position 10 is 60 clocks (worked example in Haus, ed., 1995, Table XIX): beat 2.5."""
    assert 10 * TICKS_PER_SIXTEENTH == 60
    assert TICKS_PER_BEAT == 4 * TICKS_PER_SIXTEENTH
    follower = MidiClockFollower()
    follower.hear(SongPosition(0.0, 10))
    follower.hear(ClockContinue(0.5))
    assert tick(follower, spaced(120, 30, 1.0)) == [Jump(1.0, 2.5, "song position")]
    assert follower.time is not None
    assert follower.time.beat(1.0) == pytest.approx(2.5)


def test_the_first_tick_after_start_is_beat_zero() -> None:
    """Start itself does not begin the song, the tick after it does (MIDI 1.0, from memory)."""
    follower: Follower = MidiClockFollower()
    assert follower.hear(ClockStart(1.0)) is None
    assert not follower.running
    assert follower.hear(ClockTick(1.25)) == Jump(1.25, 0.0, "start")
    assert follower.running


def test_ticks_while_stopped_tell_the_tempo_beforehand() -> None:
    """With ticks running before Start the follower is locked at beat 0 itself."""
    follower = MidiClockFollower()
    times = spaced(150, 60)
    tick(follower, times[:48])
    assert (follower.time, follower.running, follower.locked) == (None, False, False)
    follower.hear(ClockStart(times[47] + 0.002))
    tick(follower, times[48:49])
    assert follower.locked
    assert follower.time is not None
    assert follower.time.sec(1.0) == pytest.approx(times[48] + 0.4, abs=1e-6)


def test_locked_within_a_beat() -> None:
    """From cold the follower is locked half a beat in, so that beat 1 can be foretold."""
    follower = started()
    times = spaced(120, 24)
    tick(follower, times[:11])
    assert not follower.locked
    tick(follower, times[11:12])
    assert follower.locked
    assert follower.time is not None
    assert follower.time.sec(1.0) == pytest.approx(0.5, abs=1e-6)


@pytest.mark.parametrize("bpm", [60.0, 120.0, 200.0, 300.0])
@pytest.mark.parametrize("jitter_sec", [0.001, 0.002])
def test_jitter_is_averaged_out(bpm: float, jitter_sec: float) -> None:
    """With 1 or 2 ms of jitter the tempo is within 1 % after four beats, beats within 4 ms."""
    rng = np.random.default_rng(5)
    truth = spaced(bpm, 24 * 32)
    follower = started()
    errors = []
    for number, t in enumerate(truth + rng.uniform(-jitter_sec, jitter_sec, len(truth))):
        tick(follower, [max(t, 0.0)])
        if number >= 96 and number % 24 == 0 and follower.time is not None:
            beat = number / 24
            assert follower.time.bpm_at(beat + 1) == pytest.approx(bpm, rel=0.01)
            errors.append(follower.time.sec(beat + 1) - (beat + 1) * 60 / bpm)
    assert np.abs(errors).max() < 0.004


@pytest.mark.parametrize("new_bpm", [60.0, 90.0, 119.0, 126.0, 150.0, 180.0, 240.0])
def test_a_new_tempo_is_taken_up_within_two_beats(new_bpm: float) -> None:
    """After a step from 120 bpm the second beat and all later ones are foretold within 5 ms."""
    before = spaced(120, 24 * 8)
    truth = np.concatenate([before, spaced(new_bpm, 24 * 8, before[-1] + 2.5 / new_bpm)])
    rng = np.random.default_rng(11)
    errors = beat_errors_ms(
        started(), np.maximum(truth + rng.uniform(-0.001, 0.001, len(truth)), 0.0), truth
    )
    assert np.abs(errors[9:]).max() < 5.0


def test_lost_ticks_do_not_shift_the_beat() -> None:
    """One tick in thirty lost on the way: beats stay where they are."""
    rng = np.random.default_rng(2)
    truth = spaced(120, 24 * 32)
    lost = rng.random(len(truth)) < 1 / 30
    lost[:24] = False
    follower = started()
    tick(follower, truth[~lost])
    assert lost.sum() > 15
    assert follower.time is not None
    assert follower.time.sec(40.0) == pytest.approx(20.0, abs=0.002)


def test_ticks_held_up_and_delivered_in_a_bundle_do_not_shift_the_beat() -> None:
    """A stall of 70 ms delivers four ticks at once: none is counted twice."""
    truth = spaced(120, 24 * 16)
    times = truth.copy()
    for first in range(100, 360, 60):
        times[first : first + 4] = np.maximum(times[first : first + 4], times[first] + 0.07)
    assert np.abs(beat_errors_ms(started(), times, truth)).max() < 2.0


def test_a_new_start_at_another_tempo_after_a_pause() -> None:
    """Stopped for ten seconds without a tick, then started at twice the pace: learnt anew."""
    follower = started()
    tick(follower, spaced(100, 24 * 4))
    follower.hear(ClockStop(2.5))
    follower.hear(ClockStart(12.0))
    times = spaced(200, 24 * 8, 12.0)
    errors = beat_errors_ms(follower, times, times)
    assert np.abs(errors).max() < 3.0
    assert follower.locked


def test_stop_and_continue_go_on_at_the_next_tick() -> None:
    """After thirty ticks and a stop, Continue's first tick is tick 30: beat 1.25."""
    follower = started()
    tick(follower, spaced(120, 30))
    follower.hear(ClockStop(0.62))
    assert not follower.running
    follower.settle(5.0)
    assert follower.source == "midi"
    tick(follower, spaced(120, 30, 5.0))
    follower.hear(ClockContinue(5.61))
    after = spaced(120, 60, 5.0)[30:]
    assert tick(follower, after) == [Jump(pytest.approx(after[0]), 1.25, "continue")]
    assert follower.time is not None
    assert follower.time.beat(after[0]) == pytest.approx(1.25, abs=1e-6)


def test_a_second_start_begins_at_the_top() -> None:
    """Start while running is a jump to beat 0."""
    follower = started()
    times = spaced(100, 200)
    tick(follower, times[:100])
    follower.hear(ClockStart(times[99] + 0.001))
    assert tick(follower, times[100:]) == [Jump(times[100], 0.0, "start")]
    assert follower.time is not None
    assert follower.time.beat(times[124]) == pytest.approx(1.0, abs=1e-6)


def test_a_stop_before_the_first_tick_keeps_the_start() -> None:
    """Start, stop, continue without a tick between them begins at beat 0."""
    follower = started()
    tick(follower, spaced(120, 48))
    for event in (ClockStart(1.0), ClockStop(1.001), ClockContinue(1.002)):
        follower.hear(event)
    assert tick(follower, [1.01]) == [Jump(1.01, 0.0, "start")]


def test_song_position_while_running() -> None:
    """A place sent while running is taken at the next tick, and is no jump if it is that tick."""
    follower = started()
    times = spaced(120, 60)
    tick(follower, times[:24])
    follower.hear(SongPosition(times[23] + 0.001, 4))
    assert tick(follower, times[24:30]) == []
    follower.hear(SongPosition(times[29] + 0.001, 64))
    assert tick(follower, times[30:31]) == [Jump(times[30], 16.0, "song position")]


def test_a_silent_clock_is_coasted_on() -> None:
    """A quarter second of silence is a coast; when ticks come back they fit in, without a jump."""
    follower = started()
    times = spaced(120, 24 * 24)
    tick(follower, times[:100])
    follower.settle(times[99] + 0.2)
    assert follower.source == "midi"
    follower.settle(times[99] + 0.3)
    assert follower.source == "coast"
    assert follower.locked
    assert follower.time is not None
    assert follower.time.sec(10.0) == pytest.approx(5.0, abs=1e-6)
    assert tick(follower, times[400:]) == []
    assert follower.source == "midi"
    assert follower.time.sec(30.0) == pytest.approx(15.0, abs=0.001)


def test_without_a_start_there_is_no_place() -> None:
    """Ticks alone tell a tempo but no beat: the follower waits."""
    follower = MidiClockFollower()
    tick(follower, spaced(120, 100))
    assert (follower.running, follower.locked, follower.time) == (False, False, None)
    assert follower.hear(Tap(3.0)) is None


def test_the_map_is_left_alone_while_it_is_right() -> None:
    """Steady ticks renew nothing: notes pinned to beats need no re-timing."""
    follower = started()
    times = spaced(120, 24 * 8)
    tick(follower, times[:48])
    present = follower.time
    tick(follower, times[48:])
    assert follower.time is present
