"""Following a person who taps."""

from collections.abc import Sequence

import numpy as np
import pytest

from jam.events import ClockTick
from jam.transport.follower import Follower, Jump, Tap
from jam.transport.taps import TapFollower


def follow(taps: Sequence[float], follower: TapFollower | None = None) -> TapFollower:
    """Return the follower after these taps; it must never let the beat go back."""
    follower = follower or TapFollower()
    for t in taps:
        follower.settle(t)
        before = follower.time.beat(t) if follower.time else None
        if follower.hear(Tap(t)) is None and before is not None and follower.time is not None:
            assert follower.time.beat(t) >= before - 1e-6
    return follower


def foretold(taps: Sequence[float]) -> list[float]:
    """Return how far off (s) each tap was from its beat as foretold by the taps before it."""
    follower, errors = TapFollower(), []
    for number, t in enumerate(taps):
        if follower.time is not None:
            errors.append(follower.time.sec(number - 4) - t)
        follower.hear(Tap(t))
    return errors


def test_two_taps_give_the_tempo_and_the_fifth_is_the_downbeat() -> None:
    """A count-in of four at 120 bpm from second 1 puts beat 0 at second 3, before it is tapped."""
    follower: Follower = TapFollower()
    assert follower.hear(Tap(1.0)) is None
    assert (follower.locked, follower.running, follower.time) == (False, False, None)
    follower.hear(Tap(1.5))
    assert follower.locked
    assert follower.time is not None
    assert follower.time.sec(0.0) == pytest.approx(3.0)
    assert follower.time.bpm_at(0.0) == pytest.approx(120.0)
    assert follower.source == "taps"
    assert follower.hear(ClockTick(1.6)) is None


def test_taps_may_be_other_than_quarters() -> None:
    """Taps of a dotted quarter (12/8) and of a half are counted in quarter notes."""
    dotted = follow([0.0, 0.6, 1.2, 1.8], TapFollower(taps_beats=1.5, count_in=2))
    assert dotted.time is not None
    assert dotted.time.sec(0.0) == pytest.approx(1.2)
    assert dotted.time.bpm_at(0.0) == pytest.approx(60 * 1.5 / 0.6)


def test_steady_taps_are_foretold_exactly() -> None:
    """Without scatter every beat is foretold to the microsecond."""
    assert np.abs(foretold([0.4 * k for k in range(40)])).max() < 1e-6


@pytest.mark.parametrize("bpm", [60.0, 120.0, 200.0, 280.0])
def test_scattered_taps_are_smoothed(bpm: float) -> None:
    """With the scatter of a practised hand the map is steadier than the taps themselves.

    Scatter of 4 % of the interval: upper end of trained tapping (Repp 2005, from memory).
    """
    rng = np.random.default_rng(7)
    beat_sec = 60.0 / bpm
    truth = beat_sec * np.arange(200)
    taps = truth + rng.normal(0.0, 0.04 * beat_sec, 200)
    follower, errors = TapFollower(), []
    for number, t in enumerate(taps):
        if number > 8 and follower.time is not None:
            errors.append(follower.time.sec(number - 4) - truth[number])
        follower.hear(Tap(float(t)))
    assert np.sqrt(np.mean(np.square(errors))) < 0.04 * beat_sec
    assert follower.time is not None
    assert follower.time.bpm_at(300.0) == pytest.approx(bpm, rel=0.03)


def test_a_player_who_speeds_up_is_followed() -> None:
    """From 120 to 150 bpm over sixteen beats beats are foretold within a tenth of their length."""
    gaps = np.concatenate([np.full(8, 0.5), np.linspace(0.5, 0.4, 16), np.full(16, 0.4)])
    errors = foretold(list(np.concatenate([[0.0], np.cumsum(gaps)])))
    assert np.abs(errors).max() < 0.05
    assert np.abs(errors[15:]).max() < 0.025
    assert abs(errors[-1]) < 0.002


def test_a_new_tempo_is_taken_up_within_a_few_taps() -> None:
    """After a step of a tenth the fourth beat is again within 5 % of its length."""
    taps = [0.5 * k for k in range(12)]
    taps += [taps[-1] + 0.45 * k for k in range(1, 13)]
    errors = foretold(taps)
    step = 12 - 2
    assert abs(errors[step]) == pytest.approx(0.05, abs=0.005)
    assert np.abs(errors[step + 4 :]).max() < 0.05 * 0.45


def test_a_missed_tap_is_two_beats() -> None:
    """A gap of two intervals counts as two beats at the same tempo."""
    taps = [0.5 * k for k in range(20) if k not in (7, 12, 13)]
    follower = follow(taps)
    assert follower.time is not None
    assert follower.time.beat(9.5) == pytest.approx(15.0, abs=1e-6)
    assert follower.time.bpm_at(20.0) == pytest.approx(120.0)


def test_a_bounce_is_ignored() -> None:
    """A second tap within two fifths of an interval changes nothing."""
    steady = [0.5 * k for k in range(12)]
    bounced = sorted([*steady, 2.05, 3.69, 4.02])
    follower = follow(bounced)
    assert follower.time is not None
    assert follower.time.beat(5.5) == pytest.approx(7.0, abs=1e-6)


def test_a_bounce_does_not_back_up_a_stray_tap() -> None:
    """A bounce and one tap far off, an interval apart by chance, do not move the beat."""
    follower = follow([0.5 * k for k in range(12)])
    before = follower.time
    follower.hear(Tap(5.5 + 0.15))
    follower.hear(Tap(5.5 + 0.67))
    assert follower.time is before


def test_a_stray_tap_is_ignored_but_two_of_them_count() -> None:
    """One tap off the beat is a slip; a second an interval later moves the beat, by bending."""
    follower = follow([0.5 * k for k in range(12)])
    assert follower.time is not None
    before = follower.time
    follower.hear(Tap(5.5 + 0.75))
    assert follower.time is before
    follower.hear(Tap(5.5 + 1.25))
    assert follower.time is not before
    beat = follower.time.beat(5.5 + 1.25 + 1.5)
    assert abs(beat - round(beat)) < 0.01


def test_taps_that_stop_are_coasted_on() -> None:
    """After two and a half intervals without a tap the source is coast, the tempo stays."""
    follower = follow([0.5 * k for k in range(8)])
    follower.settle(3.5 + 1.2)
    assert follower.source == "taps"
    follower.settle(3.5 + 1.3)
    assert follower.source == "coast"
    assert follower.locked
    assert follower.time is not None
    assert follower.time.beat(20.0) == pytest.approx(36.0, abs=1e-6)
    follower.hear(Tap(20.0))
    assert follower.source == "taps"
    assert follower.time.beat(20.0) == pytest.approx(36.0, abs=1e-6)


def test_a_count_off_in_halves_then_quarters() -> None:
    """1 - 2 - 1 2 3 4 (common practice): the third tap was the first quarter of four."""
    follower = TapFollower()
    jumps = [follower.hear(Tap(t)) for t in (0.0, 1.0, 2.0, 2.5, 3.0, 3.5)]
    assert [jump for jump in jumps if jump] == [
        Jump(2.5, -3.0, "counted off in halves, then quarters")
    ]
    assert follower.time is not None
    assert follower.time.sec(0.0) == pytest.approx(4.0)
    assert follower.time.bpm_at(0.0) == pytest.approx(120.0)


def test_a_lone_tap_long_ago_is_forgotten() -> None:
    """A second tap more than three seconds after the first begins the count anew."""
    follower = follow([0.0, 10.0])
    assert follower.time is None
    follower.hear(Tap(10.5))
    assert follower.time is not None
    assert follower.time.sec(-4.0) == pytest.approx(10.0)
