"""Waiting for whichever comes first: the I/O process, a key, a signal, or the next due moment.

Where the system can wait on pipes (POSIX) it does; elsewhere they are looked at every `LOOK_SEC`.
"""

from __future__ import annotations

import select
import signal
import socket
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from time import monotonic, sleep
from types import FrameType
from typing import Any

LOOK_SEC = 0.002
PATIENCE_SEC = 3.0
"""Ctrl-C again within that time is impatience; later it is an order to leave at once."""

_LEAVING = [name for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK") if hasattr(signal, name)]


class Waiter:
    """Knows which signals have asked us to leave; ``asked`` is the name of the first."""

    def __init__(self) -> None:
        self.asked = ""
        self._asked_sec = 0.0
        self._wake, self._bell = socket.socketpair()
        for end in (self._wake, self._bell):
            end.setblocking(False)

    def wait(self, files: Iterable[int], timeout_sec: float) -> None:
        """Return as soon as one of the files can be read, a signal came, or time is up."""
        if self.asked:
            return
        if sys.platform == "win32":
            sleep(min(LOOK_SEC, max(0.0, timeout_sec)))
            return
        try:
            wake = self._wake.fileno()
            ready, _, _ = select.select([wake, *files], [], [], max(0.0, timeout_sec))
        except (OSError, ValueError):  # a file went away meanwhile: the caller will look
            sleep(LOOK_SEC)
            return
        if wake in ready:
            self._wake.recv(64)

    @contextmanager
    def signals(self) -> Iterator[None]:
        """Take the signals that ask to leave as a wish; Ctrl-C again, later, is an order."""
        before: dict[int, Any] = {}
        woken = signal.set_wakeup_fd(self._bell.fileno(), warn_on_full_buffer=False)
        try:
            for name in _LEAVING:
                number = getattr(signal, name)
                before[number] = signal.signal(number, self._heard)
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)
            signal.set_wakeup_fd(woken)

    def close(self) -> None:
        """Close what it waits with."""
        self._wake.close()
        self._bell.close()

    def _heard(self, number: int, _: FrameType | None) -> None:
        if self.asked and number == signal.SIGINT and monotonic() > self._asked_sec + PATIENCE_SEC:
            raise KeyboardInterrupt
        if not self.asked:
            self.asked, self._asked_sec = signal.Signals(number).name, monotonic()
