"""How long does a step of the core take, in steps that plan a reply and in those that do not?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from jam.core.core import Core, StepResult
from jam.events import Input
from jam.session.copies import read_setup
from jam.session.perform import Performance
from jam.session.replay import perform_again
from tests.bench.times import Times


@dataclass
class TimedCore:
    """A core whose steps are timed."""

    core: Core
    quiet: Times = field(default_factory=Times)
    planning: Times = field(default_factory=Times)

    def step(self, inputs: Sequence[Input], now: float, effort: int) -> StepResult:
        """Step the core, and note how long it took and whether a reply was planned."""
        times = Times()
        with times.taken():
            result = self.core.step(inputs, now, effort)
        planned = any(record["kind"] == "reply" for record in result.records)
        (self.planning if planned else self.quiet).add(times)
        return result


def stepped(sessions: Sequence[Performance]) -> tuple[Times, Times]:
    """Return the times of steps without and with planning, all sessions together."""
    quiet, planning = Times(), Times()
    for session in sessions:
        core = TimedCore(Core(read_setup(session.folder, session.log.header)), quiet, planning)
        perform_again(session.log, core)
    return quiet, planning
