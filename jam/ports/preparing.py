"""A thread that makes things ready: what is needed first is made first, idle time is used to
make what may be needed."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from heapq import heappop, heappush
from math import inf
from queue import Empty, SimpleQueue

Job = Callable[[], None]

_IDLE_SEC = 0.02


class Preparing:
    """Jobs with the moment they are wanted. A job that raises is counted, and its reason kept."""

    def __init__(self) -> None:
        self._asked: SimpleQueue[tuple[float, int, Job] | None] = SimpleQueue()
        self._due: list[tuple[float, int, Job]] = []
        self._idle: deque[Job] = deque()
        self._count = 0
        self._done = 0
        self.faults = 0
        self.fault = ""
        self._thread = threading.Thread(target=self._run, name="preparing", daemon=True)
        self._thread.start()

    def ask(self, t: float, job: Job) -> None:
        """Do ``job`` soon, before what is wanted later than ``t``."""
        self._count += 1
        self._asked.put((t, self._count, job))

    def later(self, job: Job) -> None:
        """Do ``job`` when there is nothing else to do, with a pause before it."""
        self._asked.put((inf, 0, job))

    @property
    def is_done(self) -> bool:
        """Whether all that was asked is done."""
        return self._done == self._count

    def close(self, timeout_sec: float = 1.0) -> None:
        """Finish what is asked and end the thread; do not wait for ever."""
        self._asked.put(None)
        self._thread.join(timeout_sec)

    def _run(self) -> None:
        going = True
        while going or self._due:
            going = self._listen() and going
            if self._due:
                self._do(heappop(self._due)[2])
                self._done += 1
            elif going and self._idle:
                self._do(self._idle.popleft())

    def _listen(self) -> bool:
        """Take in what was asked; wait for it if there is nothing to do. False: it is over."""
        patience = 0.0 if self._due else _IDLE_SEC if self._idle else None
        try:
            asked = self._asked.get(timeout=patience)
            while asked is not None:
                if asked[0] == inf:
                    self._idle.append(asked[2])
                else:
                    heappush(self._due, asked)
                asked = self._asked.get_nowait()
        except Empty:
            return True
        return False

    def _do(self, job: Job) -> None:
        try:
            job()
        except Exception as error:  # a note that cannot be made is not heard: go on
            self.faults += 1
            self.fault = f"{type(error).__name__}: {error}"
