"""The companion's own clock: one tempo, one count-in."""

from __future__ import annotations

from jam.transport.follower import Heard, Jump, Source
from jam.transport.timeline import Timeline


class InternalClock:
    """Constant tempo from ``start_sec`` on; beat 0 falls after the count-in.

    Counts on its own and hears nothing.
    """

    source: Source = "internal"
    locked = True
    running = True

    def __init__(self, bpm: float, start_sec: float = 0.0, count_in_beats: float = 0.0) -> None:
        self.time = Timeline(bpm, -count_in_beats, start_sec)

    def hear(self, event: Heard) -> Jump | None:
        """Hear nothing."""
        return None

    def settle(self, now: float) -> None:
        """Nothing changes with time."""
