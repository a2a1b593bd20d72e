"""Beats known beforehand: a file's tempo map, or beats given one by one.

Between the points the map is exact. A tempo map's last tempo holds for ever; given beats end,
and from there on the follower coasts at their recent mean tempo and says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from jam.transport.follower import Heard, Jump, Source
from jam.transport.timeline import TempoMap

MEAN_OF_POINTS = 8
"""How many gaps at either end of given beats make the tempo before and after them."""


class KnownBeats:
    """Follows ``(beat, sec)`` points, two or more, rising in both.

    ``source`` is ``file`` (points of a tempo map) or ``given`` (beats that people marked).
    """

    locked = True
    running = True

    def __init__(
        self, points: Sequence[tuple[float, float]], source: Literal["file", "given"]
    ) -> None:
        if len(points) < 2:
            raise ValueError("known beats must be two or more")
        self.source: Source = source
        self._end_sec = points[-1][1] if source == "given" else float("inf")
        self.time = TempoMap.through(_with_ends(points) if source == "given" else points)

    def hear(self, event: Heard) -> Jump | None:
        """Hear nothing: all is known."""
        return None

    def settle(self, now: float) -> None:
        """Coast once the given beats are over."""
        if now > self._end_sec:
            self.source = "coast"


def _with_ends(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return the points with one more at either end, a beat away at the mean tempo there."""
    (first_beat, first_sec), (last_beat, last_sec) = points[0], points[-1]
    near_first = points[min(MEAN_OF_POINTS, len(points) - 1)]
    near_last = points[max(-MEAN_OF_POINTS - 1, -len(points))]
    lead = (near_first[1] - first_sec) / (near_first[0] - first_beat)
    tail = (last_sec - near_last[1]) / (last_beat - near_last[0])
    before = (first_beat - 1.0, first_sec - lead)
    return [before, *points, (last_beat + 1.0, last_sec + tail)]
