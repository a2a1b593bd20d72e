"""One take: a live session from its first wait to its last note, in a folder of its own.

A take is the core, driven along the machine's clock, with its log. It ends when the tune does or
when somebody leaves; what it leaves behind is what a render leaves.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from jam import log
from jam.core.core import Core
from jam.core.snapshot import Snapshot
from jam.events import Input, Intent
from jam.session import folder as folders
from jam.session.copies import write_changed, write_copies
from jam.session.drive import Drive
from jam.session.effort import FIRST, EffortGrant
from jam.session.io_client import IoClient
from jam.session.leave import leave_midi
from jam.session.live_plan import LivePlan
from jam.session.log_thread import LogThread
from jam.session.perform import header_of

_LAST_WORDS_SEC = 0.5
"""How long the I/O process may take to report the ends of the last notes."""


@dataclass(frozen=True)
class Left:
    """What a take left: its folder (None: nothing was played), how long it was, its replies."""

    folder: Path | None
    length_sec: float
    replies: int


class Take:
    """A take that begins now; one thread drives it."""

    def __init__(self, plan: LivePlan, folder: Path, client: IoClient, origin: float) -> None:
        self.folder = folders.new_folder(folder)
        self._plan = plan
        self._client = client
        write_copies(self.folder, plan.setup, plan.config, plan.chart_path)
        setup = plan.setup
        header = header_of(setup, plan.style, plan.chart) | {"live": True}
        self._log = LogThread(self.folder, header)
        self._fresh: list[log.Record] = []
        self._grant = EffortGrant()
        self._plans = 0
        self._replies = 0
        self._played = self._finished = False
        self._late: list[log.Record] = []
        client.begin(origin)
        grants = ((0.0, FIRST),)
        self.drive = Drive(Core(setup), self._write, grants=grants, outlet=client)
        self.drive.run(0.0)

    @property
    def snapshot(self) -> Snapshot:
        """The state after the last step."""
        assert self.drive.snapshot is not None
        return self.drive.snapshot

    @property
    def ended(self) -> bool:
        """Whether the tune is over."""
        return self.drive.ended

    @property
    def trouble(self) -> str:
        """What is wrong with the log, in words."""
        return self._log.trouble

    def go(self, inputs: Iterable[Input], now: float) -> list[log.Record]:
        """Take inputs and go on up to second ``now``, which no input may be after; return the
        records that were made."""
        self.drive.add(inputs)
        self.drive.run(max(now, self.drive.soonest))
        self._log.reached(self.drive.now)
        plans = self.drive.timing.plans
        if len(plans) > self._plans:
            self._plans = len(plans)
            before = self._grant.effort
            if self._grant.took(plans[-1][1]) != before:
                self.drive.grant(self._grant.effort)
        fresh, self._fresh = self._fresh, []
        return fresh

    def fault(self, what: str) -> None:
        """Put a fault of the program down in the log."""
        self._log.write([log.fault(self.drive.now, what)])

    def abandon(self) -> None:
        """Close the log of a take whose core can no longer be stepped."""
        self._finished = True
        self._log.close()

    def finish(self) -> None:
        """End every note and close the log; twice is once."""
        if self._finished:
            return
        self._finished = True
        now = self._client.now
        snapshot = self.drive.snapshot
        running = snapshot is not None and snapshot.running
        if not self.ended:
            self.go([Intent(now, "stop" if running else "panic")], now)
        self._client.wait_until_silent(_LAST_WORDS_SEC)
        self.go(self._client.inputs(), self._client.now)
        self.drive.finish(self._client.now)
        self._late = self._client.late_summary()
        self._log.close()

    def leave(self) -> Left:
        """Write the MIDI file and the figures beside the log; a take without music leaves none."""
        length_sec = self.drive.now
        if not self._played:
            folders.remove_session(self.folder)
            return Left(None, length_sec, 0)
        setup = self._plan.setup
        metre = setup.chart.metre if setup.chart is not None else setup.metre
        records = folders.read_session(self.folder).records
        program = setup.style.instrument.program - 1
        leave_midi(self.folder / folders.MIDI, records, metre, setup.tempo_bpm, program)
        write_changed(self.folder, records)
        folders.write_timing(self.folder, [*self.drive.timing.records(), *self._late])
        return Left(self.folder, length_sec, self._replies)

    def _write(self, records: Iterable[log.Record]) -> None:
        kept = list(records)
        for record in kept:
            self._played = self._played or record["kind"] == "beat"
            self._replies += record["kind"] == "reply" and "replans" not in record
        self._fresh += kept
        self._log.write(kept)
