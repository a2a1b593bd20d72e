"""Which follower a setup asks for."""

from __future__ import annotations

from jam.core.setup import Setup
from jam.transport.follower import Follower
from jam.transport.internal import InternalClock
from jam.transport.known_beats import KnownBeats
from jam.transport.midi_clock import MidiClockFollower
from jam.transport.taps import TapFollower


def make_follower(setup: Setup, *, start_sec: float | None) -> Follower | None:
    """Return the follower; None when the internal clock waits for its start.

    Beat 0 is the first downbeat: after the count-in, or the first ``1`` of beats that were given.
    """
    if setup.clock == "taps":
        return TapFollower(setup.tap_beats or _pulse(setup))
    if setup.clock == "midi":
        return MidiClockFollower()
    if setup.clock in ("given", "file"):
        ones = (i for i, beat in enumerate(setup.given_beats) if beat.beat_in_bar == 1)
        first = next(ones, 0)
        points = [(float(i - first), beat.sec) for i, beat in enumerate(setup.given_beats)]
        return KnownBeats(points, "given" if setup.clock == "given" else "file")
    if start_sec is None:
        return None
    road_map = setup.road_map or (setup.chart.road_map if setup.chart else None)
    count_in_bars = road_map.count_in_bars if road_map else 2
    metre = setup.chart.metre if setup.chart else setup.metre
    return InternalClock(setup.tempo_bpm, start_sec, count_in_bars * metre.bar_beats)


def _pulse(setup: Setup) -> float:
    return (setup.chart.metre if setup.chart else setup.metre).pulse_beats
