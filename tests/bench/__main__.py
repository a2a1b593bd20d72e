"""Print one table of figures: ``python -m tests.bench [--quick]``.

Nothing here passes or fails: beside each figure stands the target that was set for it, and
whether it is met on this machine, now. Times are median / 99th percentile; "processor" leaves out
what neighbours took.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

from jam.session.perform import Performance
from jam.session.resources import HOME_VARIABLE
from tests.audit.rendered import PACES, Scene, play, styles, tunes
from tests.bench import planning, programs
from tests.bench.stepping import stepped
from tests.bench.words import Row, load, say

PLAN_MS, TAIL_MS = 20.0, 5.0
RENDER_SEC, PIECE_SEC = 3.0, 180.0
START_SEC, MEMORY_MB = 1.0, 200.0
TUNE, STYLE = "paper-kites", "bop"


def core_rows(folder: Path, *, quick: bool) -> Iterator[Row]:
    """Yield planning and stepping: all tunes by all styles, at several tempi, trading fours."""
    sessions = trades(folder, choruses=1 if quick else 3)
    plans = planning.timed(planning.requests_of(sessions))
    target = f"p99 <= {PLAN_MS:g} ms"
    yield Row("plan of a 4-bar reply", str(plans.whole), target, plans.whole.wall_p99_ms <= PLAN_MS)
    yield Row("  its first line that keeps the rules", str(plans.first))
    target = f"p99 <= {TAIL_MS:g} ms"
    yield Row(
        "new tail, half of the reply", str(plans.tail), target, plans.tail.wall_p99_ms <= TAIL_MS
    )
    quiet, busy = stepped(sessions)
    yield Row("step of the core, no planning in it", str(quiet))
    yield Row("step of the core that plans", str(busy))


def trades(folder: Path, *, choruses: int) -> list[Performance]:
    """Return sessions in fours, every tune in every style, tempi going round."""
    scenes = [
        Scene(chart, style, "4", 1 + column, choruses, PACES[(row + column) % len(PACES)])
        for row, chart in enumerate(tunes())
        for column, style in enumerate(styles())
    ]
    return [play(scene, folder) for scene in scenes]


def render_rows(folder: Path) -> Iterator[Row]:
    """Yield how fast a piece of three minutes is rendered, with and without sound."""
    session = play(Scene(TUNE, STYLE, "4", 1, 4), folder)
    player = programs.player_file(session, folder / "player.mid")
    render = ["render", "--chart", TUNE, "--style", STYLE, "--player", str(player), "--out"]
    plain = [programs.run(*render, str(folder / f"plain-{number}")) for number in range(3)]
    sec = min(run.wall_sec for run in plain)
    length = f"{session.length_sec:.0f} s of music"
    limit = RENDER_SEC * session.length_sec / PIECE_SEC
    yield Row(
        f"render without sound, {length}",
        f"{sec:.2f} s, {session.length_sec / sec:.0f} times real time, best of {len(plain)}",
        f"<= {limit:.1f} s",
        sec <= limit,
    )
    wav = programs.run(*render, str(folder / "wav"), "--wav")
    yield Row(
        f"render with sound, {length}",
        f"{wav.wall_sec:.2f} s, {session.length_sec / wav.wall_sec:.0f} times real time",
    )
    peak = max(run.peak_mb for run in plain)
    yield Row(
        "peak memory, without sound (no I/O process)",
        f"{peak:.0f} MB",
        f"< {MEMORY_MB:g} MB",
        peak < MEMORY_MB,
    )
    yield Row("peak memory, with sound", f"{wav.peak_mb:.0f} MB")
    heavy = sorted({name for run in (*plain, wav) for name in run.heavy})
    yield Row("heavy modules imported", ", ".join(heavy) or "none", "none", not heavy)


def start_rows(folder: Path, *, times: int) -> Iterator[Row]:
    """Yield start-up times, the median of several processes each."""
    bare = programs.usual_sec(["pass"], times)
    yield Row("bare Python", f"{1000 * bare:.0f} ms")
    version = programs.usual_sec(["--version"], times, module=True)
    yield Row("jam --version", f"{1000 * version:.0f} ms")
    imports = programs.usual_sec(["import jam.session.demo"], times)
    yield Row("imports of the demo", f"{1000 * (imports - bare):.0f} ms over bare Python")
    replies = sorted(programs.first_reply_sec(folder / f"first-{n}") for n in range(times))
    first = replies[times // 2]
    target = f"<= {START_SEC:g} s"
    yield Row(
        "jam demo, until its first reply is planned", f"{first:.2f} s", target, first <= START_SEC
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="fewer plans and runs")
    options = parser.parse_args(arguments)
    os.environ[HOME_VARIABLE] = os.devnull
    say(f"Python {sys.version.split()[0]}, {load()}")
    with TemporaryDirectory() as name:
        folder = Path(name)
        for row in start_rows(folder, times=3 if options.quick else 7):
            say(str(row))
        for row in render_rows(folder):
            say(str(row))
        for row in core_rows(folder, quick=options.quick):
            say(str(row))
    say(load())
    return 0


if __name__ == "__main__":
    sys.exit(main())
