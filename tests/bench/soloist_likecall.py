"""Does a reply answer this call, and does it parrot? ``python -m tests.bench.soloist_likecall``.

By `soloist_alikeness` the true call is ranked among ten (nine from other tunes). Beside it stands
how the measure behaves on people's phrases: an unrelated one, the same rhythm under other notes,
a cell sequenced two or three times and then left, a copy. Then: replies that repeat the call note
for note, in any key; windows of six notes heard in an earlier reply of the session; how many
different replies fifty seeds give; windows of eight intervals with their rhythm that stand in one
of the solos.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from pathlib import Path
from statistics import fmean, median

import numpy as np

from jam.players.soloist.soloist import answer
from tests.bench import soloist_people as people
from tests.bench.soloist_alikeness import (
    Step,
    alike_gaps,
    distance,
    rank,
    runs,
    steps_of,
)
from tests.bench.soloist_calls import (
    PROCESSES,
    Exchange,
    arguments,
    exchanges,
    parsed,
    styles_of,
)
from tests.bench.soloist_ground import heard_call, of_chart, of_solo, request_for
from tests.bench.words import load, say

OTHERS = 9
FEWEST = 5
SIX, EIGHT = 5, 8
SEEDS = 50

Call = tuple[str, list[Step]]
"""The tune a call is from, and its steps."""


# --- ranked among ten --------------------------------------------------------------------


def ranked(pairs: Sequence[tuple[Call, list[Step]]], pool: Sequence[Call], seed: int) -> list[int]:
    """Return the place of each true call among ten, 0 the first."""
    tasks = [(pair, (seed, k)) for k, pair in enumerate(pairs)]
    with ProcessPoolExecutor(PROCESSES) as workers:
        return list(workers.map(partial(_ranked, list(pool)), tasks, chunksize=16))


def _ranked(pool: list[Call], task: tuple[tuple[Call, list[Step]], tuple[int, int]]) -> int:
    ((tune, call), reply), seed = task
    rng = np.random.default_rng(seed)
    others: list[float] = []
    while len(others) < OTHERS:
        other, steps = pool[int(rng.integers(len(pool)))]
        if other != tune:
            others.append(distance(steps, reply))
    return rank(distance(call, reply), others)


def shares(places: Sequence[int]) -> tuple[float, float]:
    """Return the shares in percent ranked first and among the first three."""
    return 100 * fmean(p == 0 for p in places), 100 * fmean(p < 3 for p in places)


# --- how the measure behaves -------------------------------------------------------------


def unrelated(call: list[Step], other: list[Step], rng: np.random.Generator) -> list[Step]:
    """Return a phrase that has nothing to do with the call."""
    return list(other)


def same_rhythm(call: list[Step], other: list[Step], rng: np.random.Generator) -> list[Step]:
    """Return the call's rhythm under the notes of another phrase."""
    notes = [interval for interval, _ in other]
    return [(notes[k % len(notes)], gap) for k, (_, gap) in enumerate(call)]


def cell_sequenced(call: list[Step], other: list[Step], rng: np.random.Generator) -> list[Step]:
    """Return four to six notes of the call, two or three times from other pitches, then another
    phrase."""
    size = min(int(rng.integers(3, 6)), len(call))
    cell = call[:size]
    for _ in range(10):
        first = int(rng.integers(0, len(call) - size + 1))
        cell = call[first : first + size]
        if max(gap for _, gap in cell) < 24:
            break
    said: list[Step] = []
    for number in range(int(rng.integers(2, 4))):
        joint = [(int(rng.integers(-5, 6)), int(rng.choice([6, 12, 18, 24])))]
        said += (joint if number else []) + cell
    return [*said, (int(rng.integers(-5, 6)), 12), *other[: max(0, len(other) - len(said))]]


def copied(call: list[Step], other: list[Step], rng: np.random.Generator) -> list[Step]:
    """Return the call itself, in another key."""
    return list(call)


CALIBRATION: dict[str, tuple[Callable[..., list[Step]], str]] = {
    "an unrelated phrase": (unrelated, "8-10"),
    "same rhythm, other notes": (same_rhythm, "76"),
    "a cell sequenced, then left": (cell_sequenced, "55-60"),
    "a copy": (copied, "100"),
}


def say_calibration(pool: Sequence[Call], seed: int, count: int) -> None:
    """Print how the measure behaves on phrases of the pool."""
    say(f"\n{'the measure itself':<34}{'first %':>9}{'of 3 %':>8}   found on people's phrases")
    for name, (made, wanted) in CALIBRATION.items():
        rng = np.random.default_rng((seed, 9))
        pairs = []
        for _ in range(count):
            call = pool[int(rng.integers(len(pool)))]
            other = pool[int(rng.integers(len(pool)))]
            while other[0] == call[0]:
                other = pool[int(rng.integers(len(pool)))]
            pairs.append((call, made(call[1], other[1], rng)))
        first, three = shares(ranked(pairs, pool, seed))
        say(f"  {name:<32}{first:9.1f}{three:8.1f}   {wanted}")


# --- parrots and repeats -----------------------------------------------------------------


def parrots(call: list[Step], reply: list[Step]) -> bool:
    """Tell whether the whole call stands in the reply, or the whole reply in the call, note for
    note and with its rhythm, in any key."""
    short, long = sorted((call, reply), key=len)
    return any(
        all(a[0] == b[0] for a, b in zip(short, long[i:], strict=False))
        and alike_gaps([s[1] for s in short], [s[1] for s in long[i : i + len(short)]])
        for i in range(len(long) - len(short) + 1)
    )


def longest_shared(call: list[Step], reply: list[Step]) -> int:
    """Return the number of notes of the longest run of intervals that both hold."""
    best = 0
    before = [0] * (len(reply) + 1)
    for a, _ in call:
        here = [0]
        for j, (b, _) in enumerate(reply):
            here.append(before[j] + 1 if a == b else 0)
            best = max(best, here[-1])
        before = here
    return best + 1


def heard_before(lines: Sequence[list[Step]], *, rhythm: bool) -> float:
    """Return the share in percent of the six-note windows of a session's replies, from the second
    on, that stood in an earlier one."""
    known: set[object] = set()
    heard = total = 0
    for number, steps in enumerate(lines):
        windows = [w if rhythm else w[0] for w in runs(steps, SIX)]
        if number:
            heard += sum(w in known for w in windows)
            total += len(windows)
        known.update(windows)
    return 100 * heard / total if total else float("nan")


def sessions_of(found: Sequence[Exchange]) -> list[list[list[Step]]]:
    """Return the replies of each session in order, as steps."""
    by_name: dict[str, list[Exchange]] = defaultdict(list)
    for one in found:
        by_name[one.session].append(one)
    return [
        [steps_of(one.reply) for one in sorted(rows, key=lambda o: o.turn)]
        for rows in by_name.values()
        if len(rows) > 1
    ]


def pooled_before(sessions: Sequence[Sequence[list[Step]]], *, rhythm: bool) -> float:
    """Return the mean over sessions of the windows heard before."""
    values = [heard_before(lines, rhythm=rhythm) for lines in sessions]
    return float(np.nanmean(values)) if values else float("nan")


def borrowed(found: Sequence[Exchange], solos: Sequence[people.Solo]) -> tuple[int, int, int, int]:
    """Return windows of eight intervals in all replies, those whose intervals stand in a solo,
    those whose rhythm is the same there too, and those of them that its own call says."""
    known: dict[tuple[int, ...], list[tuple[int, ...]]] = defaultdict(list)
    for solo in solos:
        for intervals, gaps in runs(steps_of(solo.line), EIGHT):
            known[intervals].append(gaps)
    total = notes = both = own = 0
    for one in found:
        call = {intervals for intervals, _ in runs(steps_of(one.call), EIGHT)}
        for intervals, gaps in runs(steps_of(one.reply), EIGHT):
            total += 1
            places = known.get(intervals, [])
            notes += bool(places)
            alike = any(alike_gaps(gaps, other) for other in places)
            both += alike
            own += alike and intervals in call
    return total, notes, both, own


# --- fifty seeds -------------------------------------------------------------------------


def seeds_of(task: tuple[str, bool, str, int]) -> tuple[int, bool]:
    """Return how many different replies fifty seeds give to one call, and whether the same seed
    gives the same reply."""
    source, chart, style, turn = task
    ground = of_chart(source, 1) if chart else of_solo(people.solo(Path(source)))
    call = heard_call(ground.calls[turn - 1], ground)
    request = request_for(ground, turn, style, 1, call)
    replies = [answer(replace(request, seed=(seed, 1))).notes for seed in range(SEEDS)]
    again = answer(replace(request, seed=(0, 1))).notes
    kinds = {tuple((round(n.beat, 3), n.pitch) for n in notes) for notes in replies}
    return len(kinds), again == replies[0]


def say_seeds(found: Sequence[Exchange], where: Path | None, count: int, seed: int) -> None:
    """Print how different the replies of fifty seeds are."""
    rng = np.random.default_rng((seed, 5))
    tasks = []
    for index in rng.permutation(len(found))[:count]:
        one = found[int(index)]
        path = None if where is None else where / f"{one.tune}.json"
        known = path is not None and path.is_file()
        tasks.append((str(path) if known else one.tune, not known, one.style, one.turn))
    with ProcessPoolExecutor(PROCESSES) as pool:
        rows = list(pool.map(seeds_of, tasks))
    numbers = [number for number, _ in rows]
    say(f"{SEEDS} seeds on the same call ({len(rows)} calls): {min(numbers)} to {max(numbers)}"
        f" different replies, median {median(numbers):g} (wanted: 45);"
        f" same seed, same reply: {sum(same for _, same in rows)} of {len(rows)}")  # fmt: skip


def say_row(name: str, found: Sequence[Exchange], pool: Sequence[Call], seed: int) -> None:
    """Print the ranks of one set of replies, and how literal they are."""
    pairs = [((one.tune, steps_of(one.call)), steps_of(one.reply)) for one in found]
    pairs = [pair for pair in pairs if len(pair[0][1]) >= FEWEST and len(pair[1]) >= FEWEST]
    first, three = shares(ranked(pairs, pool, seed))
    parrot = 100 * fmean(parrots(call[1], reply) for call, reply in pairs)
    shared = [longest_shared(call[1], reply) for call, reply in pairs]
    sessions = sessions_of(found)
    say(
        f"  {name:<18}{len(pairs):6}{first:9.1f}{three:8.1f}{parrot:10.1f}{median(shared):9g}"
        f"{max(shared):5}{pooled_before(sessions, rhythm=False):11.1f}"
        f"{pooled_before(sessions, rhythm=True):9.1f}"
    )


def main(given: Sequence[str] | None = None) -> int:
    """Measure and print."""
    options = parsed(arguments("soloist_likecall", __doc__ or "", replies=1000), given, 300)
    found = exchanges(options)
    where = people.folder(options.data)
    human = [one for one in people.solos(where) if "SWING" in one.feel]
    pool = [(one.tune, steps_of(one.call)) for one in found]
    pool = list({(tune, tuple(steps)): (tune, steps) for tune, steps in pool}.values())
    pool = [(tune, steps) for tune, steps in pool if len(steps) >= FEWEST]
    say(f"{'the true call among ten':<20}{'':>6}{'':>9}{'':>8}{'note for':>10}{'longest':>9}"
        f"{'':>5}{'6 notes':>11}{'with':>9}")  # fmt: skip
    say(f"{'':<20}{'pairs':>6}{'first %':>9}{'of 3 %':>8}{'note %':>10}{'shared':>9}{'most':>5}"
        f"{'before %':>11}{'rhythm':>9}")  # fmt: skip
    say_row("all replies", found, pool, options.seed)
    styles = styles_of(options)
    if len(styles) > 1:
        for style in styles:
            own = [one for one in found if one.style == style]
            if own:
                say_row(style, own, pool, options.seed)
    say("  wanted                 50 to 80      75         5                         6        6")
    if human:
        turns = [
            [steps_of(people.ticks_in(one.line, *turn)) for turn in people.turns(one)]
            for one in human
        ]
        say(f"  people, turn after turn: 6 notes heard before"
            f" {pooled_before(turns, rhythm=False):.1f} %, with rhythm"
            f" {pooled_before(turns, rhythm=True):.1f} % (published: 5.8)")  # fmt: skip
        follow = [one for one in found if one.human is not None and len(one.human) > FEWEST]
        pairs = [((one.tune, steps_of(one.call)), steps_of(one.human)) for one in follow]  # type: ignore[arg-type]
        first, three = shares(ranked([p for p in pairs if len(p[0][1]) >= FEWEST], pool, 1))
        say(f"  what the person went on with:  first {first:.1f} %, of 3 {three:.1f} %")
    say_calibration(pool, options.seed, 150 if options.quick else 500)
    say()
    if human:
        total, notes, both, own = borrowed(found, people.solos(where))
        say(f"windows of 8 intervals that stand in a solo: {notes} of {total} by their notes,"
            f" {both} with their rhythm (wanted: 0; {own} of them are its own call's)")  # fmt: skip
    say_seeds(found, where, 4 if options.quick else 16, options.seed)
    say(load())
    return 0


if __name__ == "__main__":
    sys.exit(main())
