"""What every source of time looks like to the core.

A follower hears stamped events and keeps the present map of beats to seconds. It reads no clock:
time passes for it only through the stamps of what it hears and through `Follower.settle`. Beats
are quarter notes since the session's first downbeat and never go back on their own: where an
estimate was wrong the tempo is bent (`jam.transport.bend`). Only a start, a continue or a song
position moves the beat at once, and that is told as a `Jump`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, Protocol

from jam.events import ClockContinue, ClockStart, ClockStop, ClockTick, SongPosition
from jam.transport.timeline import BeatTime

Source = Literal["internal", "file", "given", "taps", "midi", "coast"]
"""Where the beat comes from, as the log names it; ``coast``: the source went silent and the last
tempo is kept."""


@dataclass(frozen=True, slots=True)
class Tap:
    """A person tapped the pulse at second ``t``."""

    t: float


@dataclass(frozen=True, slots=True)
class Jump:
    """At second ``t`` the beat became ``beat`` at once, because of ``why`` (plain words)."""

    t: float
    beat: float
    why: str


Heard = ClockTick | ClockStart | ClockContinue | ClockStop | SongPosition | Tap


class Follower(Protocol):
    """A source of time. What it has no use for it hears without effect."""

    @property
    def source(self) -> Source:
        """Return the source as the log names it."""

    @property
    def locked(self) -> bool:
        """Return whether tempo and phase are known; a coasting follower still knows them."""

    @property
    def running(self) -> bool:
        """Return whether time goes on; a stopped follower's map must not be read past the stop."""

    @property
    def time(self) -> BeatTime | None:
        """Return the present map of beats to seconds, the same object until it changes."""

    def hear(self, event: Heard) -> Jump | None:
        """Take one event, in order of time; return the jump it made, if any.

        A jump may come before the tempo is known, with `time` still None.
        """

    def settle(self, now: float) -> None:
        """Let time pass up to second ``now``, so that a silent source is noticed."""
