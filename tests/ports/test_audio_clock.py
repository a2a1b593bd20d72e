"""Frames against machine seconds: held while they agree, moved when they do not."""

from __future__ import annotations

import numpy as np
import pytest

from jam.ports.audio_clock import DEAD_BAND_SEC, AudioClock

RATE_HZ = 48_000
BLOCK = 256


def calls(seconds, *, ppm=0.0, jitter_sec=0.0, seed=1, first_sec=1000.0, first_frame=0):
    """Yield frame and time of each call of a device whose clock is ``ppm`` slow."""
    rng = np.random.default_rng(seed)
    count = round(seconds * RATE_HZ / BLOCK)
    late = rng.exponential(jitter_sec, count) if jitter_sec else np.zeros(count)
    for k in range(count):
        true = first_sec + k * BLOCK / RATE_HZ * (1.0 + ppm * 1e-6)
        yield first_frame + k * BLOCK, true + float(late[k])


def fed(clock, pairs):
    return sum(clock.observe(frame, t) for frame, t in pairs)


def test_latency_lies_between_call_and_sound():
    """A frame called for now is heard after the device's latency; back and forth is exact."""
    clock = AudioClock(RATE_HZ, 0.010)
    clock.observe(0, 50.0)
    assert clock.time_at(0) == pytest.approx(50.010)
    assert clock.frame_at(50.010) == 0
    assert clock.frame_at(clock.time_at(123_457)) == 123_457


@pytest.mark.parametrize("seed", range(5))
def test_jitter_moves_nothing(seed):
    """Calls late by 0.3 ms on average, the first one too: once settled the clock stands still."""
    clock = AudioClock(RATE_HZ)
    pairs = list(calls(60.0, jitter_sec=0.0003, seed=seed))
    fed(clock, pairs[:100])
    assert abs(clock.time_at(0) - 1000.0) < 0.0002
    assert fed(clock, pairs[100:]) == 0
    assert clock.moves == 0


@pytest.mark.parametrize("ppm", [100.0, -100.0])
def test_drift_is_followed_within_the_dead_band(ppm):
    """An hour at 100 ppm: never farther off than the dead band, a move every 20 s or so."""
    clock = AudioClock(RATE_HZ)
    worst = 0.0
    for k, (frame, t) in enumerate(calls(3600.0, ppm=ppm)):
        clock.observe(frame, t)
        if k % 100 == 0:
            worst = max(worst, abs(clock.time_at(frame) - t))
    assert worst < DEAD_BAND_SEC + 0.0002
    assert 100 < clock.moves < 200


def test_a_hole_with_lost_frames_moves_the_clock_once():
    """Frames stand still for 40 ms: within half a second the clock is moved by as much."""
    clock = AudioClock(RATE_HZ)
    fed(clock, calls(5.0))
    last = round(5.0 * RATE_HZ / BLOCK) * BLOCK
    shift = fed(clock, calls(0.6, first_sec=1005.0 + 0.040, first_frame=last))
    assert shift == pytest.approx(-0.040 * RATE_HZ, abs=BLOCK)
    assert clock.moves == 1
    assert clock.last_move_sec == pytest.approx(0.040, abs=BLOCK / RATE_HZ)


def test_a_hole_that_is_caught_up_moves_nothing():
    """Calls come 40 ms late, then in a bunch: no frame was lost, the clock stays."""
    clock = AudioClock(RATE_HZ)
    pairs = list(calls(5.0))
    held = [(frame, max(t, 1002.04) if 1002.0 < t < 1002.04 else t) for frame, t in pairs]
    assert fed(clock, held) == 0
    assert clock.moves == 0
