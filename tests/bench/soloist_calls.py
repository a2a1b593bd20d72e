"""Calls for the soloist, and its replies: ``python -m tests.bench.soloist_calls --data FOLDER``.

Human solos are cut into turns of four bars: one turn is the call, the next four bars, over the
solo's own chords at its own tempo, are asked for. What the person really played there is kept
beside the reply. With ``--render`` all this happens in sessions of the whole program, else the
soloist is asked directly. Without a data folder, and for the shipped tunes, the stand-in player
calls. A *session* is every second turn of a solo, so that the soloist remembers what it said.
Printed: how many calls there are of what kind, and what the replies to them look like.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import Any, TypeVar

import numpy as np

from jam.events import PlannedNote
from jam.listening.phrase import PhraseDescription
from jam.players.soloist.request import Memory
from jam.players.soloist.soloist import answer, pattern
from jam.session.resources import HOME_VARIABLE, list_charts, list_styles
from tests.bench import soloist_people as people
from tests.bench.soloist_ground import (
    Ground,
    call_line,
    heard_call,
    line_of,
    of_chart,
    of_solo,
    request_for,
)
from tests.bench.soloist_lines import TICKS, Line
from tests.bench.soloist_rendered import rendered
from tests.bench.words import load, say

PROCESSES = 2
MAINSTREAM = ("bop", "rolling", "tangle")
"""Styles that are held against the figures of bop and its kin, where they exist."""
KEPT = 12
LONGEST = 12
T = TypeVar("T")
U = TypeVar("U")


@dataclass(frozen=True)
class Exchange:
    """A call and its reply as lines, with what the person went on with (None: nobody did).

    ``session`` names the run of replies that remember one another, ``turn`` counts them; ``tune``
    is the solo or chart. ``start`` is the turn's first beat, ``said`` the reply as planned.
    """

    tune: str
    session: str
    turn: int
    style: str
    seed: int
    bpm: float
    feel: str
    start: float
    end: float
    call: Line
    reply: Line
    human: Line | None
    idea: str
    effort: int
    said: tuple[PlannedNote, ...]

    @property
    def mainstream(self) -> bool:
        """Whether the published figures of human solos speak of such a reply."""
        return self.feel == "swing" and self.reply.bar == 4 * TICKS and self.bpm >= 70


def session(ground: Ground, style: str, seed: int, first: int = 1) -> list[Exchange]:
    """Return the replies of turns ``first``, ``first + 2`` ... each to the turn before it.

    Of a long solo a stretch is taken, `LONGEST` replies at most.
    """
    last = len(ground.turns)
    if last - first > 2 * LONGEST:
        free = (last - first) // 2 - LONGEST
        first += 2 * int(np.random.default_rng((seed, first)).integers(free + 1))
        last = first + 2 * LONGEST
    said: list[tuple[PlannedNote, ...]] = []
    heard: list[PhraseDescription] = []
    recent: tuple[tuple[int, ...], ...] = ()
    found = []
    for turn in range(first, last, 2):
        notes = ground.calls[turn - 1]
        call = heard_call(notes, ground)
        if call is None:
            continue
        request = request_for(ground, turn, style, seed, call)
        request = replace(request, recent=recent)
        memory = Memory(tuple(heard[-KEPT:]), tuple(said[-KEPT:]))
        request = replace(request, memory=memory)
        reply = answer(request)
        if not reply.notes:
            continue
        heard.append(call)
        said.append(reply.notes)
        recent = (*recent, pattern([note.pitch for note in reply.notes]))[-4:]
        name = f"{ground.name}-{style}-{seed}-{first % 2}"
        found.append(
            Exchange(
                ground.name, name, turn, style, seed, ground.bpm, ground.feel,
                *ground.turns[turn], call_line(notes, ground), line_of(reply, ground),
                ground.humans[turn], reply.idea, reply.effort, reply.notes,
            )
        )  # fmt: skip
    return found


# --- many of them ------------------------------------------------------------------------


@dataclass(frozen=True)
class Job:
    """One session to be played."""

    source: str
    chart: bool
    style: str
    seed: int
    first: int


def jobs(options: argparse.Namespace) -> list[Job]:
    """Return sessions for all sources and styles, seeds going round, in a mixed order."""
    where = people.folder(options.data)
    solos = sorted(where.glob("*.json")) if where is not None else []
    styles = styles_of(options)
    charts = [e.name for e in list_charts()] if options.charts or not solos else []
    made = []
    for seed in range(options.seed, options.seed + 40):
        row = [
            Job(source, chart, style, seed, first)
            for style in styles
            for first in (1, 2)
            for source, chart in [
                *((str(path), False) for path in solos),
                *((name, True) for name in charts),
            ]
        ]
        np.random.default_rng((options.seed, seed)).shuffle(row)  # type: ignore[arg-type]
        made += row
    return made


def styles_of(options: argparse.Namespace) -> list[str]:
    """Return the styles asked for; the mainstream ones where none were."""
    known = [entry.name for entry in list_styles()]
    if options.styles == "all":
        return known
    if options.styles:
        return [str(name) for name in options.styles.split(",")]
    return [name for name in known if name in MAINSTREAM] or known[:1]


def perform(job: Job) -> list[Exchange]:
    """Play one session (in a process of its own)."""
    if job.chart:
        ground = of_chart(job.source, job.seed, pace=(1.0, 0.7, 1.3, 1.8)[job.seed % 4])
    else:
        ground = of_solo(people.solo(Path(job.source)))
    return session(ground, job.style, job.seed, job.first)


def exchanges(options: argparse.Namespace) -> list[Exchange]:
    """Return ``options.replies`` replies, or a few more: whole sessions."""
    return until(rendered if options.render else perform, jobs(options), options.replies)


def until(
    work: Callable[[T], list[U]], tasks: Iterable[T], enough: int, processes: int = PROCESSES
) -> list[U]:
    """Do tasks in ``processes`` processes until they have brought ``enough`` results."""
    found: list[U] = []
    waiting = iter(tasks)
    with ProcessPoolExecutor(processes) as pool:
        while len(found) < enough:
            batch = list(islice(waiting, 4 * processes))
            if not batch:
                break
            for more in pool.map(work, batch):
                found += more
    return found


def arguments(prog: str, about: str, *, replies: int) -> argparse.ArgumentParser:
    """Return the options that all the soloist's measuring tools share."""
    parser = argparse.ArgumentParser(prog=f"python -m tests.bench.{prog}", description=about)
    parser.add_argument("--data", type=Path, help="folder with human solos (or JAM_SOLOS)")
    parser.add_argument("--replies", type=int, default=replies, help="measure so many at least")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--styles", default="", help="names with commas, or 'all'")
    parser.add_argument("--charts", action="store_true", help="the stand-in's calls too")
    parser.add_argument("--render", action="store_true", help="through the whole program")
    parser.add_argument("--quick", action="store_true", help="fewer replies, within a minute")
    return parser


def parsed(parser: argparse.ArgumentParser, given: Sequence[str] | None, quick: int) -> Any:
    """Return the options; ``quick`` is how many replies will do for a quick look."""
    options = parser.parse_args(given)
    os.environ[HOME_VARIABLE] = os.devnull
    if options.quick:
        options.replies = min(options.replies, quick)
    return options


def main(given: Sequence[str] | None = None) -> int:
    """Say what calls there are, and what the replies look like."""
    options = parsed(arguments("soloist_calls", __doc__ or "", replies=400), given, 150)
    begun = perf_counter()
    found = exchanges(options)
    took = perf_counter() - begun
    for style in sorted({one.style for one in found}):
        own = [one for one in found if one.style == style]
        notes = [len(one.reply) for one in own]
        calls = [len(one.call) for one in own]
        ideas = len({one.idea for one in own})
        say(
            f"{style:<14} {len(own):5} replies over {len({o.tune for o in own})} tunes,"
            f" notes in a call {median(calls):g}, in a reply {median(notes):g}"
            f" ({min(notes)} to {max(notes)}), {ideas} kinds of idea"
        )
    say(f"{len(found)} replies in {took:.1f} s, {load()}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
