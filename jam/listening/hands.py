"""Two hands on one keyboard without a split: is this a chord being comped, or the line?

Three keys or more struck together are comping (common practice: a line has one note at a time, a
double stop two). To know that, a fresh onset is held back until the others of its chord had time
to come; its own stamp is kept. Seconds are of the session.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from jam.listening.line import TOGETHER_SEC

CHORD_KEYS = 3


@dataclass(frozen=True, slots=True)
class Stroke:
    """A key that went down (``velocity`` above 0) or came up, and whose it is."""

    part: Literal["line", "comping"]
    t: float
    channel: int
    pitch: int
    velocity: int


class Hands:
    """Sorts the strokes of one keyboard into line and comping, a moment later."""

    def __init__(self) -> None:
        self._waiting: list[Stroke] = []
        self._comping: set[tuple[int, int]] = set()

    @property
    def due_sec(self) -> float | None:
        """Return when the strokes that wait can be told apart; None when none waits."""
        return None if not self._waiting else self._waiting[0].t + TOGETHER_SEC

    def stroke(self, channel: int, pitch: int, velocity: int, t: float) -> None:
        """Take a key that goes down, or comes up (velocity 0)."""
        self._waiting.append(Stroke("line", t, channel, pitch, velocity))

    def settled(self, t: float) -> list[Stroke]:
        """Return the strokes that can be told apart by second ``t``, in order."""
        told: list[Stroke] = []
        while self._waiting and self._waiting[0].t + TOGETHER_SEC <= t + 1e-9:
            told += self._tell_first()
        return told

    def _tell_first(self) -> list[Stroke]:
        first = self._waiting[0]
        if first.velocity == 0:
            del self._waiting[0]
            key = (first.channel, first.pitch)
            part: Literal["line", "comping"] = "comping" if key in self._comping else "line"
            self._comping.discard(key)
            return [Stroke(part, first.t, *key, 0)]
        limit = first.t + TOGETHER_SEC
        together = [s for s in self._waiting if s.velocity and s.t <= limit]
        if len({s.pitch for s in together}) < CHORD_KEYS:
            del self._waiting[0]
            return [first]
        self._waiting = [s for s in self._waiting if s not in together]
        self._comping |= {(s.channel, s.pitch) for s in together}
        return [Stroke("comping", s.t, s.channel, s.pitch, s.velocity) for s in together]

    def forget(self) -> None:
        """Forget what waits and what is held (panic, a lost port)."""
        self._waiting.clear()
        self._comping.clear()
