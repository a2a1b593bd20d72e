"""Print one table of live figures: ``python -m tests.bench.live [--jack] [--quick]``.

Busy: the process that hands notes over plans replies in one thread and counts in another.

With ``--jack`` a JACK server of its own (dummy driver) gives real ports and a device for the
built-in sound; without, messages go round a loop in memory and there is no sound. Nothing passes
or fails here: beside each figure stands the target that was set for it, and whether it is met on
this machine, now. Lateness is taken at the send call, the machine's clock read just before it; a
longest lateness says as much of the neighbours as of us. "Plain user" is one who gets no real-time
priority and locks no memory: where root runs this, it is the user "nobody", who is let read any
folder and nothing else (``setpriv``).
"""

from __future__ import annotations

import argparse
import json
import os
import pwd
import shutil
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from jam.ports.systems import MEMORY
from jam.session.live_options import LiveOptions
from jam.session.resources import HOME_VARIABLE
from tests.bench import live_flood, live_play
from tests.bench.words import Row, load, say

MEDIAN_MS = 0.01
IDLE_P99_MS, REAL_TIME_P99_MS, PLAIN_P99_MS = 0.1, 1.0, 5.0
START_SEC, MEMORY_MB = 1.0, 200.0
NOBODY = "nobody"
LONGEST_SEC = 180.0


@dataclass(frozen=True)
class Bench:
    """What there is to measure with: a JACK ``server`` or None, and a folder."""

    folder: Path
    quick: bool
    server: Any = None

    @property
    def system(self) -> str:
        """Name of the MIDI system."""
        return MEMORY if self.server is None else "JACK"


# --- lateness ----------------------------------------------------------------------------


def late_rows(bench: Bench) -> Iterator[Row]:
    """Yield lateness when idle, when busy, and when the brain stands still."""
    count = 600 if bench.quick else 2_000
    sound = bench.server is not None
    yield Row(f"LATENESS of {count} messages, 170 a second", "median / 99th percentile / longest")
    for state in ("idle", "busy"):
        sounds = sound and state == "busy"
        for real_time in (True, False):
            words = [state, *["sound open"] * sounds]
            words.append("real-time priority wished" if real_time else "usual priority")
            found = _notes(bench, "io", state, count, real_time=real_time, sound=sounds)
            yield _late(", ".join(words), state, found)
        yield _plain_user(bench, state, count)
        for sender, name in (("mido", "mido's player"), ("sleep", "time.sleep")):
            found = _notes(bench, sender, state, count)
            yield Row(f"{state}, {name}", _lateness(found["late_ms"]))
    yield from _stall_rows(bench, count)


def _stall_rows(bench: Bench, count: int) -> Iterator[Row]:
    found = _notes(bench, "io", "stalled", count, real_time=True)
    what = f"brain stands still {found['stalls']} times, {found['longest_stall_ms']} ms at most"
    late = found["in_stall_ms"]
    met = found["lost"] == 0 and float(np.percentile(late, 99)) <= REAL_TIME_P99_MS
    figure = f"{_lateness(late)}, n = {len(late)}, {found['lost']} lost"
    yield Row(what, figure, f"p99 <= {REAL_TIME_P99_MS:g} ms, 0 lost", met)
    found = _notes(bench, "sleep", "stalled", count)
    yield Row("  time.sleep in that process", _lateness(found["in_stall_ms"]))


def _plain_user(bench: Bench, state: str, count: int) -> Row:
    what = f"{state}, plain user, ports in memory, no sound"
    prefix = _as_nobody()
    if os.geteuid() != 0:
        return Row(what, "is who runs this: see above")
    if prefix is None:
        return Row(what, f"not measured: needs setpriv and a user {NOBODY}")
    found = _notes(bench, "io", state, count, real_time=True, prefix=prefix)
    return _late(what, state, found)


def _as_nobody() -> list[str] | None:
    """Return what to put before a command so that ``nobody`` runs it, who may read all folders."""
    if shutil.which("setpriv") is None or NOBODY not in {user.pw_name for user in pwd.getpwall()}:
        return None
    group = str(pwd.getpwnam(NOBODY).pw_gid)
    caps = "-all,+dac_read_search"
    kept = [f"--{kind}={caps}" for kind in ("inh-caps", "ambient-caps", "bounding-set")]
    return ["setpriv", f"--reuid={NOBODY}", f"--regid={group}", "--clear-groups", *kept]


def _late(what: str, state: str, found: dict[str, Any]) -> Row:
    """Return the row of a run of the I/O process, judged by the priority that it was granted."""
    late = found["late_ms"]
    granted = any("real-time priority" in fact for fact in found["facts"])
    longest = IDLE_P99_MS if state == "idle" else REAL_TIME_P99_MS if granted else PLAIN_P99_MS
    met = float(np.median(late)) <= MEDIAN_MS and float(np.percentile(late, 99)) <= longest
    extras = [] if granted or "usual" in what else ["refused"]
    extras += [f"{found['plans']} plans"] if found["plans"] else []
    extras += [f"{found['lost']} LOST"] if found["lost"] else []
    figure = ", ".join([_lateness(late), *extras])
    return Row(what, figure, f"{MEDIAN_MS:g} / {longest:g} ms", met and not found["lost"])


def _lateness(late_ms: Sequence[float]) -> str:
    if not late_ms:
        return "nothing measured"
    middle, high = np.percentile(late_ms, [50, 99])
    return f"{middle:.4f} / {high:.4f} / {max(late_ms):.2f} ms"


def _notes(
    bench: Bench, sender: str, state: str, count: int, *,
    real_time: bool = False, sound: bool = False, prefix: Sequence[str] = (),
) -> dict[str, Any]:  # fmt: skip
    """Run `live_notes` in a process of its own and return what it found."""
    command = [*prefix, sys.executable, "-m", "tests.bench.live_notes", "--sender", sender]
    command += ["--state", state, "--messages", str(count)]
    command += ["--system", MEMORY if prefix else bench.system]
    command += ["--sound"] * sound + ["--real-time"] * real_time
    done = _run(command)
    found: dict[str, Any] = json.loads(done.splitlines()[-1])
    return found


def _run(command: Sequence[str]) -> str:
    done = subprocess.run(
        command, capture_output=True, text=True, check=False, timeout=LONGEST_SEC,
        stdin=subprocess.DEVNULL, start_new_session=True,
    )  # fmt: skip
    if done.returncode != 0:
        raise RuntimeError(f"{' '.join(command)}: {done.stderr.strip()[-600:]}")
    return done.stdout


# --- the rest ----------------------------------------------------------------------------


def flood_rows(bench: Bench) -> Iterator[Row]:
    """Yield how much comes through."""
    sec = 2.0 if bench.quick else 5.0
    yield Row(f"{live_flood.RATE} MESSAGES A SECOND, out and in, {sec:g} s", "")
    ways = [("round the loop in memory", live_flood.round_the_loop(sec))]
    if bench.server is not None:
        ways.append(("over JACK, two other programs", live_flood.over_jack(sec, bench.folder)))
    for what, flood in ways:
        counts = f"{flood.arrived} and {flood.heard} of {flood.asked}, {flood.lost} lost"
        figure = f"{counts}; {100 * flood.share:.0f} % of a core"
        yield Row(what, figure, "0 lost", flood.lost == 0 and flood.refused == 0)
        yield Row("  lateness meanwhile", _lateness(flood.late_ms))


def start_rows(bench: Bench) -> Iterator[Row]:
    """Yield how long it takes to be ready, and of what that is made."""
    times = 3 if bench.quick else 5
    yield Row(
        "START, from nothing to the first line", f"median of {times}, the slowest in brackets"
    )
    if bench.server is None:
        ways = [("loop in memory, no sound", MEMORY, "Loop Through")]
    else:
        ways = [("JACK, sound", "JACK", "sound"), ("JACK, MIDI alone", "JACK", "virtual")]
    for what, system, out in ways:
        heard = "Loop Through" if system == MEMORY else "virtual"
        options = ["--system", system, "--in", heard, "--out", out]
        took = [live_play.first_line_sec(options) for _ in range(times)]
        met = median(took) <= START_SEC
        yield Row(what, f"{median(took):.2f} s ({max(took):.2f})", f"<= {START_SEC:g} s", met)
        wished = LiveOptions(
            system=system, player_in=heard, out=out, anew=True, home=bench.folder / "home"
        )
        ready = median(live_play.ready_sec(wished) for _ in range(times))
        yield Row("  of it: I/O process until it is ready", f"{ready:.2f} s")
    wall, own = live_play.imports_sec(times)
    yield Row("  of it: imports of the brain", f"{wall:.2f} s (processor {own:.2f})")


def memory_rows(bench: Bench) -> Iterator[Row]:
    """Yield memory and the session's own figures while the companion plays with its band."""
    sec = 15.0 if bench.quick else 60.0
    what = f"MEMORY after {sec:g} s with sound"
    if bench.server is None:
        yield Row(what, "not measured: needs --jack")
        return
    brain, io, timing = live_play.played(bench.server, bench.folder, sec)
    both = brain.mb + io.mb
    figure = (
        f"{both:.0f} MB: brain {brain.mb:.0f}, I/O {io.mb:.0f} (shared with JACK {io.jack_mb:.0f})"
    )
    yield Row(what, figure, f"< {MEMORY_MB:g} MB", both < MEMORY_MB)
    yield from _session_rows(timing)


def key_rows(bench: Bench) -> Iterator[Row]:
    """Yield how soon a reply is taken back."""
    path = bench.folder / "keys.json"
    exchanges = 5 if bench.quick else 20
    module = "tests.bench.live_keys"
    _run([sys.executable, "-m", module, "--exchanges", str(exchanges), str(path)])
    found = json.loads(path.read_text())
    taken = found["taken_ms"]
    yield Row("KEY DOWN until a reply is taken back", f"{len(taken)} of {exchanges} keys")
    yield Row("  40 ms of it: waits for more keys of a chord", _lateness(taken))
    yield from _session_rows(found["timing"])


def _session_rows(timing: Sequence[dict[str, Any]]) -> Iterator[Row]:
    for record in timing:
        if record["kind"] in ("steps", "sent late"):
            what = (
                "steps of the core" if record["kind"] == "steps" else "note-ons of the band, late"
            )
            figures = [record[f"{name}_ms"] for name in ("median", "p99", "max")]
            figure = " / ".join(f"{ms:.2f}" for ms in figures)
            yield Row(f"  {what}", f"{figure} ms, n = {record['count']}")
    plans = [record["ms"] for record in timing if record["kind"] == "plan"]
    if plans:
        yield Row("  steps that plan", f"{_lateness(plans)}, n = {len(plans)}")


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.live", description=__doc__)
    parser.add_argument("--jack", action="store_true", help="on a JACK server of its own")
    parser.add_argument("--quick", action="store_true", help="fewer notes and runs")
    options = parser.parse_args(arguments)
    os.environ[HOME_VARIABLE] = os.devnull
    say(f"Python {sys.version.split()[0]}, {load()}")
    with ExitStack() as ending:
        folder = Path(ending.enter_context(TemporaryDirectory()))
        server = None
        if options.jack:
            from tests.jack.server import Server, environment  # noqa: PLC0415 (needs jackd)

            server = Server(folder)
            ending.callback(server.stop)
            os.environ.update(environment())
        bench = Bench(folder, options.quick, server)
        for rows in (late_rows, flood_rows, start_rows, memory_rows, key_rows):
            for row in rows(bench):
                say(str(row))
    say(load())
    return 0


if __name__ == "__main__":
    sys.exit(main())
