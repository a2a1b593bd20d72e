"""The log of a live session: records are put down at once and written by a thread of its own.

What the I/O process reports comes a little after the step it belongs to; so records wait until
the session is `WAIT_SEC` past them and are written in order of ``at``. Every `FLUSH_SEC` what was
written is handed to the system, where it outlives this program. A disk that is full or gone is
told once; the music goes on.
"""

from __future__ import annotations

import threading
from collections.abc import Iterable
from heapq import heappop, heappush
from pathlib import Path
from queue import Empty, SimpleQueue
from time import monotonic

from jam.log import Record, to_line
from jam.session.folder import LOG

WAIT_SEC = 0.25
FLUSH_SEC = 0.5

_Item = tuple[float, list[Record]]


class LogThread:
    """Writes ``folder``'s log; ``header`` is its first line, written before this returns.

    `write` and `reached` never wait. ``trouble`` is what went wrong with the disk, in words.
    """

    def __init__(self, folder: Path, header: Record) -> None:
        self.trouble = ""
        self._queue: SimpleQueue[_Item | None] = SimpleQueue()
        self._now = 0.0
        self._stream = (folder / LOG).open("w", encoding="ascii", newline="\n")
        self._stream.write(to_line(header) + "\n")
        self._stream.flush()
        self._thread = threading.Thread(target=self._run, name="session log", daemon=True)
        self._thread.start()

    def write(self, records: Iterable[Record]) -> None:
        """Put records down."""
        kept = list(records)
        if kept:
            self._queue.put((self._now, kept))

    def reached(self, now: float) -> None:
        """Say that the session has come to second ``now``; nothing earlier will be put down
        except what the I/O process reports late."""
        self._now = now
        self._queue.put((now, []))

    def close(self) -> None:
        """Write all that was put down and close the file; waits for the disk."""
        self._queue.put(None)
        self._thread.join()

    def _run(self) -> None:
        waiting: list[tuple[float, int, Record]] = []
        count = 0
        flushed = monotonic()
        while True:
            try:
                item = self._queue.get(timeout=FLUSH_SEC)
            except Empty:
                item = (0.0, [])
            until = float("inf") if item is None else item[0] - WAIT_SEC
            for record in item[1] if item is not None else []:
                heappush(waiting, (float(record["at"]), count, record))
                count += 1
            self._put_down(waiting, until)
            if item is None or monotonic() - flushed > FLUSH_SEC:
                self._flush(last=item is None)
                flushed = monotonic()
            if item is None:
                return

    def _put_down(self, waiting: list[tuple[float, int, Record]], until: float) -> None:
        while waiting and waiting[0][0] <= until:
            record = heappop(waiting)[2]
            try:
                self._stream.write(to_line(record) + "\n")
            except (OSError, ValueError) as error:
                self.trouble = f"the log cannot be written: {error}"

    def _flush(self, *, last: bool) -> None:
        try:
            self._stream.flush()
            if last:
                self._stream.close()
        except (OSError, ValueError) as error:
            self.trouble = f"the log cannot be written: {error}"
