"""The clocks that know their beats beforehand."""

import pytest

from jam.transport.follower import Follower, Tap
from jam.transport.internal import InternalClock
from jam.transport.known_beats import KnownBeats


def test_the_internal_clock_counts_in() -> None:
    """With a count-in of four at 120 bpm the first downbeat comes two seconds after the start."""
    clock: Follower = InternalClock(120.0, start_sec=1.0, count_in_beats=4.0)
    assert clock.time is not None
    assert clock.time.sec(-4.0) == 1.0
    assert clock.time.sec(0.0) == 3.0
    assert (clock.source, clock.locked, clock.running) == ("internal", True, True)
    assert clock.hear(Tap(2.0)) is None
    assert clock.time.sec(0.0) == 3.0


def test_known_beats_are_exact() -> None:
    """Every given beat falls exactly when it was given."""
    secs = [2.0, 2.41, 2.8, 3.25, 3.6]
    follower: Follower = KnownBeats(list(enumerate(secs)), "given")
    assert follower.time is not None
    assert [follower.time.sec(k) for k in range(5)] == pytest.approx(secs, abs=1e-12)


def test_given_beats_are_coasted_on_at_their_mean_tempo() -> None:
    """After the last given beat the recent mean tempo goes on, and the source says coast."""
    secs = [0.5 * k + (0.02 if k % 2 else 0.0) for k in range(17)]
    follower = KnownBeats(list(enumerate(secs)), "given")
    follower.settle(8.0)
    assert follower.source == "given"
    follower.settle(8.01)
    assert follower.source == "coast"
    assert follower.time.bpm_at(20.0) == pytest.approx(120.0, rel=1e-3)
    assert follower.time.bpm_at(-3.0) == pytest.approx(120.0, rel=1e-3)


def test_a_tempo_map_goes_on_for_ever() -> None:
    """A file's last tempo holds by definition, so nothing is coasted."""
    follower = KnownBeats([(0, 0.0), (4, 2.0), (8, 6.0)], "file")
    follower.settle(1000.0)
    assert follower.source == "file"
    assert follower.time.bpm_at(100.0) == 60.0


def test_one_known_beat_is_no_tempo() -> None:
    """A single point gives no tempo and is refused."""
    with pytest.raises(ValueError, match="two"):
        KnownBeats([(0, 0.0)], "given")
