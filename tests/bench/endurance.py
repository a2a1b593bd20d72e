"""An hour of trades in virtual time: ``python -m tests.bench.endurance [--minutes 60]``.

The stand-in player trades with the companion over one tune. The session is audited, then performed
again with nothing kept but what the core keeps itself, and watched in slices of five minutes:
objects alive in the interpreter, memory of the process, how long a step takes. Faults, with exit
code 1: a breach of a rule, a note that is never ended, another performance with other notes,
objects or steps that grow from the first quarter of the hour to the last.
"""

from __future__ import annotations

import argparse
import gc
import os
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter

import numpy as np

from jam.core.core import Core
from jam.core.setup import Setup
from jam.events import MidiIn
from jam.log import Log, Record
from jam.session.copies import read_setup
from jam.session.demo import demo
from jam.session.drive import Drive
from jam.session.options import DemoOptions
from jam.session.replay import replay
from jam.session.resources import HOME_VARIABLE
from tests.audit.report import audit
from tests.bench.words import load, say

TUNE, STYLE = "paper-kites", "bop"
CHORUS_SEC = 32 * 4 * 60 / 168
SLICE_SEC = 300.0
MORE_BLOCKS = 20_000
"""Growth of the interpreter's blocks that is put up with: the form stays as it was laid out, every
chord of it (some 10000 blocks an hour, less than a megabyte)."""
SLOWER = 1.5
"""How much longer the median step may take at the end than at the beginning."""


@dataclass
class Slice:
    """What was seen in a stretch of the session. ``blocks`` are those the interpreter has handed
    out when the stretch is over, ``memory_mb`` the size of the process."""

    until_sec: float
    median_us: float
    p99_ms: float
    blocks: int
    memory_mb: float


@dataclass
class Sink:
    """Takes the log and keeps only the notes that still sound, and how many there were."""

    sounding: set[tuple[str, int, int]] = field(default_factory=set)
    notes: int = 0

    def write(self, records: Iterable[Record]) -> None:
        """Take records."""
        for record in records:
            if record["kind"] != "sent" or record["bytes"][0] >= 0xA0:
                continue
            status, pitch, _ = record["bytes"]
            key = (record["part"], status & 0x0F, pitch)
            if status & 0xF0 == 0x90:
                self.sounding.add(key)
                self.notes += 1
            else:
                self.sounding.discard(key)


def watched(setup: Setup, log: Log, length_sec: float, sink: Sink) -> list[Slice]:
    """Perform the log's input again and say what was seen, slice by slice."""
    drive = Drive(Core(setup), sink.write)
    inputs = [MidiIn(r["t"], r["port"], tuple(r["bytes"])) for r in log.of("in")]
    slices = []
    until_sec = SLICE_SEC
    while until_sec < length_sec:
        drive.add(event for event in inputs if until_sec - SLICE_SEC <= event.t < until_sec)
        drive.run(until_sec)
        steps_ms = np.array(drive.timing.step_ms)
        drive.timing.step_ms.clear()
        drive.timing.plans.clear()
        median_ms, p99_ms = (float(ms) for ms in np.percentile(steps_ms, [50, 99]))
        del steps_ms
        gc.collect()
        blocks = sys.getallocatedblocks()
        slices.append(Slice(until_sec, 1000 * median_ms, p99_ms, blocks, _memory_mb()))
        until_sec += SLICE_SEC
    drive.add(event for event in inputs if event.t >= until_sec - SLICE_SEC)
    drive.run(length_sec)
    drive.finish(length_sec)
    return slices


def _memory_mb() -> float:
    path = Path("/proc/self/statm")
    if not path.is_file():
        return float("nan")
    return int(path.read_text(encoding="ascii").split()[1]) * os.sysconf("SC_PAGE_SIZE") / 2**20


def growth(slices: Sequence[Slice]) -> list[str]:
    """Return in words what grows from the first quarter to the last."""
    quarter = max(1, len(slices) // 4)
    first, last = slices[:quarter], slices[-quarter:]
    told = []
    blocks = last[-1].blocks - first[0].blocks
    if blocks > MORE_BLOCKS:
        told.append(f"{blocks} more blocks of memory at the end")
    slower = np.mean([s.median_us for s in last]) / np.mean([s.median_us for s in first])
    if slower > SLOWER:
        told.append(f"the median step takes {slower:.1f} times as long at the end")
    return told


def main(arguments: Sequence[str] | None = None) -> int:
    """Play, audit, perform again, watch; return the exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.endurance", description=__doc__)
    parser.add_argument("--minutes", type=float, default=60.0, help="length of the session")
    options = parser.parse_args(arguments)
    os.environ[HOME_VARIABLE] = os.devnull
    choruses = max(1, int(options.minutes * 60 / CHORUS_SEC))
    begun = perf_counter()
    with TemporaryDirectory() as name:
        wanted = DemoOptions(
            Path(name, "hour"), chart=TUNE, style=STYLE, choruses=choruses, wav=False
        )
        session = demo(wanted)
        say(f"{session.text}, {load()}")
        found = audit(session.folder, {})
        verdict = replay(session.folder)
        setup = read_setup(session.folder, session.log.header)
    faults = [f"{f.rule}, reply {f.reply}: {f.text}" for f in found.findings if not f.tags]
    if not verdict.same:
        faults.append(f"performed again: {verdict.text}")
    kept = replace(session.log, records=tuple(session.log.of("in")))
    length_sec = session.length_sec
    del session, found
    gc.collect()
    sink = Sink()
    slices = watched(setup, kept, length_sec, sink)
    say("  minutes   median step   p99 step   blocks     process")
    for s in slices:
        say(
            f"  {s.until_sec / 60:7.0f} {s.median_us:10.0f} us {s.p99_ms:7.2f} ms"
            f" {s.blocks:9d} {s.memory_mb:8.0f} MB"
        )
    faults += growth(slices)
    if sink.sounding:
        faults.append(f"{len(sink.sounding)} notes never end")
    say(f"{sink.notes} notes, each with its end; {perf_counter() - begun:.0f} s, {load()}")
    for text in faults:
        say(f"FAULT: {text}")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
