"""What do whole programs take: start-up, renders, memory, and what they import?

Each runs in a process of its own, as a user would start it. Peak memory is the process's own
high-water mark, where the system tells it (``VmHWM``, Linux), else what `resource` says.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from time import perf_counter

import mido

from jam.session.perform import Performance

HEAVY = (
    "aiohttp",
    "matplotlib",
    "mir_eval",
    "music21",
    "pandas",
    "pretty_midi",
    "rtmidi",
    "scipy",
    "sounddevice",
    "supriya_midi",
    "verovio",
)
"""Modules that a render has no use for."""

_PROBE = """
import sys
from pathlib import Path
from time import perf_counter
begun = perf_counter()
from jam.cli.main import main
code = main(sys.argv[1:])
took = perf_counter() - begun
try:
    status = Path("/proc/self/status").read_text()
    peak = float(status.split("VmHWM:")[1].split()[0]) / 1024
except (OSError, IndexError):
    import resource
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
heavy = [name for name in %r if name in sys.modules]
print("probe", code, took, peak, *heavy)
"""

_UNTIL_REPLY = """
import sys
from pathlib import Path
from jam.core.core import Core
from jam.session.demo import demo
from jam.session.options import DemoOptions
step = Core.step
def until_reply(self, inputs, now, effort):
    result = step(self, inputs, now, effort)
    if any(record["kind"] == "reply" for record in result.records):
        sys.exit(0)
    return result
Core.step = until_reply
demo(DemoOptions(out=Path(sys.argv[1]), wav=False))
sys.exit(1)
"""


@dataclass(frozen=True)
class Run:
    """One run of a command: seconds with the interpreter's start, peak memory in MB, and which
    heavy modules were imported."""

    wall_sec: float
    peak_mb: float
    heavy: tuple[str, ...]


def run(*arguments: str) -> Run:
    """Run ``jam`` with these arguments in a process of its own; raises if it fails."""
    command = [sys.executable, "-c", _PROBE % (HEAVY,), *arguments]
    begun = perf_counter()
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    wall_sec = perf_counter() - begun
    line = done.stdout.splitlines()[-1].split() if done.stdout else []
    if line[:2] != ["probe", "0"]:
        raise RuntimeError(f"jam {' '.join(arguments)}: {done.stderr.strip()[-400:]}")
    return Run(wall_sec, float(line[3]), tuple(line[4:]))


def started(arguments: Sequence[str], *, module: bool = False) -> float:
    """Return the seconds a bare run of ``python -m jam`` (or of ``python -c`` code) takes."""
    how = ["-m", "jam"] if module else ["-c"]
    begun = perf_counter()
    subprocess.run([sys.executable, *how, *arguments], capture_output=True, check=True)
    return perf_counter() - begun


def usual_sec(arguments: Sequence[str], times: int, *, module: bool = False) -> float:
    """Return the median of several runs of `started`."""
    return median(started(arguments, module=module) for _ in range(times))


def first_reply_sec(out: Path) -> float:
    """Return the seconds from the start of a process until the demo in it has its first reply."""
    return started([_UNTIL_REPLY, str(out)])


def player_file(session: Performance, path: Path) -> Path:
    """Write what the player played in ``session`` as a MIDI file that begins on the downbeat."""
    beat = next(r for r in session.log.of("beat") if r["beat"] == 0)
    tempo = mido.bpm2tempo(beat["bpm"])
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=tempo)])
    file = mido.MidiFile(type=0, ticks_per_beat=960, tracks=[track])
    ticks = 0
    for record in sorted(session.log.of("in"), key=lambda record: record["t"]):
        sec = max(0.0, record["t"] - beat["t"])
        at = round(mido.second2tick(sec, file.ticks_per_beat, tempo))
        track.append(mido.Message.from_bytes(record["bytes"], time=at - ticks))
        ticks = at
    file.save(path)
    return path
