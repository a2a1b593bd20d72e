"""Drives the core through a session: in virtual time as fast as it goes, or along a real clock.

The core is stepped at the time of every input and whenever it asks to be, in that order, however
late the caller comes to run the next bit. What was sent is logged before what the core does next.
All times are whole microseconds before the core sees them, as they will be in the log, and what is
refused at once comes back a microsecond later: a log performed again is the same performance.
"""

from __future__ import annotations

from array import array
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from math import inf
from time import perf_counter
from typing import Protocol

from jam import log
from jam.core.core import StepResult
from jam.core.snapshot import Snapshot
from jam.events import Command, Input, IoReport
from jam.ports.memory import MemoryPort, Sent

Write = Callable[[Iterable[log.Record]], None]

EFFORT = 20_000
"""Expansions granted to each step of a render."""

_GRAIN_SEC = 1e-6
_STUCK = 10_000


class Steps(Protocol):
    """What is driven: `jam.core.core.Core`, or a fake of it."""

    def step(self, inputs: Sequence[Input], now: float, effort: int) -> StepResult:
        """Take what came in up to ``now`` and say what is to be done."""


class Outlet(Protocol):
    """Where the commands of a session go: `jam.ports.memory.MemoryPort`, or the I/O process."""

    @property
    def last_end(self) -> float:
        """When the last of the notes that sound or are to come ends; -inf if there is none."""

    def take(self, commands: Iterable[Command], now: float) -> list[IoReport]:
        """Take commands handed over at ``now``; return what is known to be refused already."""

    def advance(self, now: float) -> list[Sent]:
        """Let time pass up to ``now``; return what was sent since the last call."""

    def close(self) -> list[Sent]:
        """End every note; return the last messages."""


@dataclass
class Timing:
    """Wall-clock figures of a performance: never compared, never told to the core.

    ``step_ms`` holds the length of each step, ``plans`` the session second and the length in ms
    of each step in which a reply was planned.
    """

    step_ms: array[float] = field(default_factory=lambda: array("d"))
    plans: list[tuple[float, float]] = field(default_factory=list)

    def records(self) -> list[log.Record]:
        """Return the lines of ``timing.jsonl``: each plan, then a summary of all steps."""
        plans = [{"kind": "plan", "at": at, "ms": ms} for at, ms in self.plans]
        ordered = sorted(self.step_ms)
        if not ordered:
            return list(plans)
        summary = {
            "kind": "steps",
            "count": len(ordered),
            "median_ms": ordered[len(ordered) // 2],
            "p99_ms": ordered[int(0.99 * (len(ordered) - 1))],
            "max_ms": ordered[-1],
            "total_sec": sum(ordered) / 1000.0,
        }
        return [*plans, summary]


class Drive:
    """One performance, run bit by bit: inputs may be added between two runs.

    ``outlet`` is where commands go (None: a port in memory). ``grants`` are pairs of a second and
    the effort given to each step from then on; `grant` adds to them. ``port_reports`` False tells
    the core nothing of what is refused at once (a log that is performed again holds what was
    refused then).
    """

    def __init__(
        self,
        core: Steps,
        write: Write,
        *,
        grants: Sequence[tuple[float, int]] = ((0.0, EFFORT),),
        outlet: Outlet | None = None,
        port_reports: bool = True,
    ) -> None:
        self.timing = Timing()
        self.now = 0.0
        self.ended = False
        self.snapshot: Snapshot | None = None
        self._core = core
        self._write = write
        self._grants = deque(grants)
        self._effort = EFFORT
        self._granted_at = -1.0
        self._begun = False
        self._outlet: Outlet = MemoryPort("file") if outlet is None else outlet
        self._port_reports = port_reports
        self._inputs: deque[tuple[float, Input]] = deque()
        self._due = 0.0

    @property
    def next_due(self) -> float:
        """When there is next something to do, without new inputs; inf if never."""
        return min(self._next_input(), _on_grain(self._due))

    @property
    def soonest(self) -> float:
        """The soonest moment at which an input can still be taken."""
        return log.rounded(self.now + _GRAIN_SEC) if self._begun else self.now

    def grant(self, effort: int) -> None:
        """Give ``effort`` to each step from the next one on."""
        self._grants.append((self.now, effort))

    def add(self, inputs: Iterable[Input]) -> None:
        """Add inputs to come, each taken at its own moment; one that is late is taken at once.

        At once is a moment of its own: the step of this one may have been made already, and a log
        tells moments, not steps.
        """
        moments = [replace(item, t=log.rounded(item.t)) for item in inputs]
        self.add_taken((max(item.t, self.soonest), item) for item in moments)

    def add_taken(self, inputs: Iterable[tuple[float, Input]]) -> None:
        """Add inputs, each with the second of the step that takes it."""
        waiting = [*self._inputs, *inputs]
        self._inputs = deque(sorted(waiting, key=lambda pair: pair[0]))

    def run(self, until_sec: float = inf, *, stop: Callable[[], bool] | None = None) -> None:
        """Go on up to ``until_sec``, until the core has ended, or until ``stop`` says so.

        Returns too when nothing is left to wait for.
        """
        again = 0
        while not self.ended and not (stop is not None and stop()):
            now = max(self.now, self.next_due)
            if now > until_sec or now == inf:
                break
            again = again + 1 if now == self.now else 0
            if again > _STUCK:
                raise RuntimeError(f"the core asks for {now} s again and again")
            self._step(now)

    def finish(self, at_sec: float) -> float:
        """Send what is left up to ``at_sec``, end every note; return the last second.

        A core that has ended is left its last notes, and no more.
        """
        last_sec = min(at_sec, self._outlet.last_end) if self.ended else at_sec
        self.now = max(self.now, log.rounded(last_sec))
        self._send(self.now)
        self._write(message.record() for message in self._outlet.close())
        return self.now

    def _next_input(self) -> float:
        return self._inputs[0][0] if self._inputs else inf

    def _step(self, now: float) -> None:
        self._begun = True
        taken = []
        while self._next_input() <= now:
            taken.append(self._inputs.popleft()[1])
        self._send(now)
        self._grant(now)
        begun = perf_counter()
        result = self._core.step(taken, now, self._effort)
        took_ms = (perf_counter() - begun) * 1000.0
        self.now, self._due, self.ended = now, result.next_due, result.ended
        self.snapshot = result.snapshot
        self._write(result.records)
        self.timing.step_ms.append(took_ms)
        if any(record["kind"] == "reply" for record in result.records):
            self.timing.plans.append((now, took_ms))
        refused = self._outlet.take(result.commands, now)
        if refused and self._port_reports:
            self.add(replace(report, t=now + _GRAIN_SEC) for report in refused)

    def _grant(self, now: float) -> None:
        """Change the effort at the first step of a moment: a log tells moments, not steps."""
        if now == self.now and self._granted_at >= 0.0:
            return
        while self._grants and self._grants[0][0] <= now:
            self._effort = self._grants.popleft()[1]
            self._granted_at = now
            self._write([log.effort(now, self._effort)])

    def _send(self, now: float) -> None:
        sent = self._outlet.advance(now)
        if sent:
            self._write(message.record() for message in sent)


def _on_grain(sec: float) -> float:
    """Return the first whole microsecond that is not before ``sec``."""
    if sec == inf:
        return inf
    grain = log.rounded(sec)
    return grain if grain >= sec else log.rounded(grain + _GRAIN_SEC)
