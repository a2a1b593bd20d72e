"""Stopped is stopped: what is shown stays where the music stopped."""

from sessions import cue, setup, tune

from jam.core.core import Core


def test_the_place_stands_still_while_the_clock_is_stopped() -> None:
    """Seconds after *stop* the bar and beat shown are those of the stop, to a quarter of a beat."""
    core = Core(setup(chart=tune("Dm7 " * 8)))
    core.step([], 0.0, 100)
    at_stop = core.step([cue(3.1, "stop")], 3.1, 100).snapshot
    later = core.step([], 9.0, 100).snapshot
    assert not later.running
    assert later.bar == at_stop.bar == 2
    assert 0.0 <= later.beat_in_bar - at_stop.beat_in_bar <= 0.25
