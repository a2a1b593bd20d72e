"""What does ``jam play`` take as a program: time until it shows its first line, and memory?

Memory is each process's proportional share (``Pss`` of ``/proc/PID/smaps``: pages that several
processes have count for each in part), Linux only.
"""

from __future__ import annotations

import json
import resource
import select
import signal
import subprocess
import sys
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter, sleep
from typing import Any

from jam.ports.spawn import spawn
from jam.ports.wire import Ready
from jam.session.live_options import LiveOptions
from jam.session.live_plan import plan_live
from tests.bench.programs import usual_sec

LONGEST_SEC = 20.0
IMPORTS = "from jam.cli import main; import jam.session.live_plan, jam.session.live"


@dataclass(frozen=True)
class Memory:
    """Proportional share of a process in MB, and how much of it is memory shared with JACK."""

    mb: float
    jack_mb: float


def first_line_sec(options: Sequence[str]) -> float:
    """Return the seconds from starting ``jam play`` until its first line is there."""
    with TemporaryDirectory() as home:
        command = [sys.executable, "-m", "jam", "play", "--lines", "--anew", "--home", home]
        begun = perf_counter()
        process = subprocess.Popen(
            [*command, *options], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL, start_new_session=True,
        )  # fmt: skip
        try:
            assert process.stdout is not None
            ready, _, _ = select.select([process.stdout], [], [], LONGEST_SEC)
            line = process.stdout.readline() if ready else b""
            took = perf_counter() - begun
            if not line:
                raise RuntimeError(f"jam play {' '.join(options)}: no line")
            return took
        finally:
            process.send_signal(signal.SIGINT)
            try:
                process.communicate(timeout=LONGEST_SEC)
            except subprocess.TimeoutExpired:
                process.kill()
                process.communicate()


def imports_sec(times: int) -> tuple[float, float]:
    """Return the seconds that the imports of ``jam play`` take, bare Python left out, and the
    seconds of processor that they take with it."""
    wall = usual_sec([IMPORTS], times) - usual_sec(["pass"], times)
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    usual_sec([IMPORTS], times)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    own = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return wall, own / times


def ready_sec(options: LiveOptions) -> float:
    """Return the seconds from starting the I/O process until it says that it is ready."""
    wishes = plan_live(options).wishes
    begun = perf_counter()
    process = spawn(wishes)
    try:
        while perf_counter() < begun + LONGEST_SEC and not process.gone:
            select.select([process], [], [], 0.1)
            if any(isinstance(record, Ready) for record in process.receive()):
                return perf_counter() - begun
        raise RuntimeError(f"the I/O process is not ready: {process.last_words()}")
    finally:
        process.quit(2.0)
        process.close()


def memory(pid: int) -> Memory:
    """Return the memory of a process."""
    shares = {"": 0, "jack": 0}
    whose = ""
    for line in Path(f"/proc/{pid}/smaps").read_text().splitlines():
        words = line.split()
        if not words[0].endswith(":"):
            name = words[5] if len(words) > 5 else ""
            whose = "jack" if name.startswith("/dev/shm/jack") else ""
        elif words[0] == "Pss:":
            shares[whose] += int(words[1])
    return Memory(sum(shares.values()) / 1024, shares["jack"] / 1024)


def played(server: Any, folder: Path, sec: float) -> tuple[Memory, Memory, list[dict[str, Any]]]:
    """Play with built-in sound on a JACK server; return the memory of the brain and of the I/O
    process after ``sec`` seconds, and the session's own figures."""
    from tests.jack.evening import Evening  # noqa: PLC0415 (needs jackd)

    options = ["--turns", "solo", "--band", "--tempo", "180"]
    with ExitStack() as ending:
        evening = Evening(server, folder, ending, options, out="sound")
        evening.play([])
        sleep(sec)
        io_pid = evening.companion.io_pid()
        if io_pid is None:
            raise RuntimeError(f"no I/O process: {evening.companion.words()[-400:]}")
        brain, io = memory(evening.companion.process.pid), memory(io_pid)
        evening.leave()
    lines = (evening.folder / "timing.jsonl").read_text().splitlines()
    return brain, io, [json.loads(line) for line in lines]
