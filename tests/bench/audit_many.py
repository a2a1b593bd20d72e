"""Audit hundreds of replies: ``python -m tests.bench.audit_many [--replies 500] [--replay]``.

Rounds of the grid of `tests.audit.rendered` (all tunes by all styles; turns, seeds and tempi go
round) until there are enough replies, two sessions at a time. Prints every breach of H1 to H5,
landing rates and shared cells beside chance, and the styles' lines. The exit code is 1 when a rule
is broken, a log is unsound or claims what is not heard, or too few replies share a cell; with
``--replay`` also when a session performed again is not the same.
"""

from __future__ import annotations

import argparse
import os
import shutil
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter

from jam.session.replay import replay
from jam.session.resources import HOME_VARIABLE
from tests.audit import cells
from tests.audit.rendered import Scene, answered, grid, play
from tests.audit.report import Audit, audit, say_claims, say_findings, say_summary
from tests.bench.words import load, say

PROCESSES = 2
LEAST_ROUNDS = 3
CELLS_SHARED = 0.7


@dataclass(frozen=True)
class Judged:
    """One session: what the audit found, and in what a new performance differs (empty: in
    nothing, or it was not asked for)."""

    scene: Scene
    audit: Audit
    differs: str = ""


def judge(folder: Path, scene: Scene, *, again: bool) -> Judged:
    """Play, audit and perform again one scene; its folder is gone afterwards."""
    session = play(scene, folder).folder
    found = audit(session, {})
    verdict = replay(session) if again else None
    shutil.rmtree(session)
    return Judged(scene, found, "" if verdict is None or verdict.same else verdict.text)


def judged(replies: int, *, again: bool) -> Iterator[Judged]:
    """Yield whole rounds of sessions until ``replies`` are heard, three rounds at least."""
    heard = 0
    with TemporaryDirectory() as folder, ProcessPoolExecutor(PROCESSES) as pool:
        for number in count(1):
            for found in pool.map(partial(judge, Path(folder), again=again), grid(number)):
                heard += len(found.audit.replies)
                yield found
            if number >= LEAST_ROUNDS and heard >= replies:
                return


def faults(found: Sequence[Judged]) -> list[str]:
    """Return in words all that must not be."""
    broken = sum(not f.tags for one in found for f in one.audit.findings)
    serious = sum(claim.serious for one in found for claim in one.audit.claims)
    shared = cells.rates(answered([one.audit for one in found]))["cell"]
    differing = [one for one in found if one.differs]
    told = [f"{one.scene.name}, performed again: {one.differs}" for one in differing]
    if broken:
        told.append(f"{broken} breaches of rules or logs")
    if serious:
        told.append(f"{serious} serious claims that are not heard")
    if shared < CELLS_SHARED:
        told.append(f"cells shared in {100 * shared:.1f} % of replies")
    return told


def main(arguments: Sequence[str] | None = None) -> int:
    """Play, audit, print; return the exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.audit_many", description=__doc__)
    parser.add_argument("--replies", type=int, default=500, help="audit so many at least")
    parser.add_argument("--replay", action="store_true", help="perform every session again")
    parser.add_argument("--limit", type=int, default=12, help="places printed for each rule")
    options = parser.parse_args(arguments)
    os.environ[HOME_VARIABLE] = os.devnull
    begun = perf_counter()
    found = list(judged(options.replies, again=options.replay))
    audits = [one.audit for one in found]
    say_findings(audits, options.limit)
    say_claims(audits, options.limit)
    say_summary(audits)
    rounds = len({one.scene.seed for one in found})
    say(f"\n{rounds} rounds in {perf_counter() - begun:.0f} s, {load()}")
    wrong = faults(found)
    if options.replay and not any(one.differs for one in found):
        say(f"{len(found)} sessions performed again, all with the same notes")
    for text in wrong:
        say(f"FAULT: {text}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
