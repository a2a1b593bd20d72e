"""What every handler of the core is given, and where it puts what it decides."""

from __future__ import annotations

from dataclasses import dataclass, field

from jam.events import Command
from jam.log import Record
from jam.transport.timeline import BeatTime


@dataclass(frozen=True, slots=True)
class Moment:
    """``now`` is the second of the step, ``beat`` the beat whose turn it is to be handled."""

    now: float
    beat: float
    time: BeatTime
    effort: int

    @property
    def bpm(self) -> float:
        """Return the tempo here, in quarter notes a minute."""
        return self.time.bpm_at(self.beat)


@dataclass(slots=True)
class Out:
    """Commands and log records of one step, in order."""

    commands: list[Command] = field(default_factory=list)
    records: list[Record] = field(default_factory=list)
