"""How long does the soloist think, at full quality? ``python -m tests.bench.soloist_times``.

Questions are cut from human solos and the shipped tunes in every style; each is answered alone, one
after another, as live. Besides `planning` (whole replies, their first line that keeps the rules,
tails after every later chord has changed) tails are planned after *one* chord has changed. A few
other replies to each question are planned before those that are timed, as live play goes through
its tune before the first note: what it looks up (chords, figures, habits) is worked out once. Times
are median / 99th percentile; "processor" leaves out what neighbours took. ``--busy`` keeps the
other core at work meanwhile.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from jam.harmony.changes import Changes
from jam.harmony.symbols import parse_chord
from jam.players.soloist.request import Prefix, Request
from jam.players.soloist.soloist import answer, answer_anew
from jam.session.resources import list_charts, list_styles
from tests.bench import planning
from tests.bench import soloist_people as people
from tests.bench.soloist_calls import arguments, parsed
from tests.bench.soloist_ground import heard_call, of_chart, of_solo, request_for
from tests.bench.times import Times
from tests.bench.words import Row, load, say

PLAN_MEDIAN_MS, PLAN_P99_MS = 5.0, 20.0
TAIL_MEDIAN_MS, TAIL_P99_MS = 1.0, 5.0
FIRST_MS = 1.0
WARM = 10
OTHERS = (1, 2, 3)
"""Parts of the seeds of the replies that are planned first."""


def questions(options: object, count: int) -> list[Request]:
    """Return ``count`` questions of four bars, sources and styles going round."""
    where = people.folder(options.data)  # type: ignore[attr-defined]
    paths = sorted(where.glob("*.json")) if where else []
    grounds = [of_chart(entry.name, 1) for entry in list_charts()]
    grounds += [of_solo(people.solo(Path(path))) for path in paths]
    styles = [entry.name for entry in list_styles()]
    if options.styles and options.styles != "all":  # type: ignore[attr-defined]
        styles = options.styles.split(",")  # type: ignore[attr-defined]
    rng = np.random.default_rng((options.seed, 51))  # type: ignore[attr-defined]
    found: list[Request] = []
    while len(found) < count:
        ground = grounds[int(rng.integers(len(grounds)))]
        if len(ground.turns) < 2:
            continue
        turn = int(rng.integers(1, len(ground.turns)))
        call = heard_call(ground.calls[turn - 1], ground)
        style = styles[len(found) % len(styles)]
        found.append(request_for(ground, turn, style, len(found), call))
    return found


def one_chord_tails(requests: Sequence[Request]) -> Times:
    """Time tails after the next chord only has turned out another one."""
    times = Times()
    for request in requests:
        reply = answer(request)
        if len(reply.notes) < planning.LEAST_NOTES:
            continue
        half = reply.notes[len(reply.notes) // 2].beat
        prefix = Prefix(half, tuple(note.pitch for note in reply.notes if note.beat < half))
        index = request.changes.index_at(half)
        changed = list(request.changes)
        place = min(index + 1, len(changed) - 1)
        root = planning.ROOTS[(changed[place].chord.root + 6) % 12]
        changed[place] = replace(changed[place], chord=parse_chord(f"{root}7"))
        anew = replace(request, changes=Changes(changed))
        with times.taken():
            answer_anew(anew, reply, prefix)
    return times


@contextmanager
def busy(*, wanted: bool) -> Iterator[None]:
    """Keep another core at work."""
    if not wanted:
        yield
        return
    process = get_context("spawn").Process(target=_spin, daemon=True)
    process.start()
    try:
        yield
    finally:
        process.terminate()
        process.join()


def _spin() -> None:
    number = 0
    while True:
        number = (number * 1103515245 + 12345) % 2**31


def rows(requests: Sequence[Request]) -> Iterator[Row]:
    """Yield the table."""
    for request in requests[:WARM]:
        answer(request)
    cold = Times()
    for request in requests:
        with cold.taken():
            answer(replace(request, seed=(*request.seed, OTHERS[0])))
        for other in OTHERS[1:]:
            answer(replace(request, seed=(*request.seed, other)))
    plans = planning.timed(requests)
    yield from _pair("plan of a 4-bar reply", plans.whole, PLAN_MEDIAN_MS, PLAN_P99_MS)
    yield Row("  the first over its chords in its style", str(cold), "", None)
    first = float(np.median(plans.first.wall_ms))
    yield Row("  without effort granted (fallback)", str(plans.first), f"median <= {FIRST_MS:g}",
              first <= FIRST_MS)  # fmt: skip
    yield from _pair("new tail, every later chord", plans.tail, TAIL_MEDIAN_MS, TAIL_P99_MS)
    tails = one_chord_tails(requests)
    yield from _pair("new tail, one chord", tails, TAIL_MEDIAN_MS, TAIL_P99_MS)


def _pair(what: str, times: Times, median_ms: float, p99_ms: float) -> Iterator[Row]:
    median = float(np.median(times.wall_ms)) if times.wall_ms else 0.0
    met = median <= median_ms and times.wall_p99_ms <= p99_ms
    yield Row(what, str(times), f"<= {median_ms:g} / {p99_ms:g} ms", met)


def main(given: Sequence[str] | None = None) -> int:
    """Measure and print."""
    parser = arguments("soloist_times", __doc__ or "", replies=600)
    parser.add_argument("--busy", action="store_true", help="another core at work meanwhile")
    options = parsed(parser, given, 150)
    requests = questions(options, options.replies)
    with busy(wanted=options.busy):
        for row in rows(requests):
            say(str(row))
    say(load())
    return 0


if __name__ == "__main__":
    sys.exit(main())
