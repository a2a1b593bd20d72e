"""A brain that is busy: plans one reply after another, counts in a thread, stands still at times.

All of it happens in threads of the process that hands notes over, as in a brain with too much to
do. A stall keeps the interpreter, as a long collection of garbage does, or a library's call.
"""

from __future__ import annotations

import ctypes
import os
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from itertools import cycle
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter, sleep

from jam.players.soloist.request import Request
from jam.players.soloist.soloist import answer
from jam.session.resources import HOME_VARIABLE
from tests.audit.rendered import Scene, play
from tests.bench.planning import requests_of

STALL_SEC, BETWEEN_SEC = 0.2, 0.5
_COUNT = 10_000


def requests() -> list[Request]:
    """Return the requests for four-bar replies of a chorus in fours."""
    os.environ[HOME_VARIABLE] = os.devnull
    with TemporaryDirectory() as name:
        return requests_of([play(Scene("paper-kites", "bop", "4", 1, 1), Path(name))])


class Brain:
    """What runs beside the handing over, while `working` or `stalling`; ``plans`` counts replies,
    ``stalls`` are the machine seconds between which nothing else could run."""

    def __init__(self) -> None:
        self.plans = 0
        self.stalls: list[tuple[float, float]] = []
        self._over = False

    @contextmanager
    def working(self, asked: Sequence[Request]) -> Iterator[None]:
        """Plan in one thread and count in another."""

        def plan() -> None:
            for request in cycle(asked):
                if self._over:
                    return
                answer(request)
                self.plans += 1

        def count() -> None:
            while not self._over:
                sum(number * number for number in range(_COUNT))

        with self._running(plan, count):
            yield

    @contextmanager
    def stalling(self) -> Iterator[None]:
        """Keep the interpreter for `STALL_SEC`, again and again."""
        keep = ctypes.PyDLL(None).usleep  # called through PyDLL it does not let go of it

        def stall() -> None:
            while not self._over:
                sleep(BETWEEN_SEC)
                begun = perf_counter()
                keep(round(STALL_SEC * 1e6))
                self.stalls.append((begun, perf_counter()))

        with self._running(stall):
            yield

    @contextmanager
    def _running(self, *work: Callable[[], None]) -> Iterator[None]:
        threads = [threading.Thread(target=piece, daemon=True) for piece in work]
        for thread in threads:
            thread.start()
        try:
            yield
        finally:
            self._over = True
            for thread in threads:
                thread.join(5.0)
