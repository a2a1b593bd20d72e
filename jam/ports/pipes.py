"""Pipes that never make anybody wait: what does not go in now is kept and goes in later.

Both ends of the talk between brain and I/O process use them (`jam.ports.wire`).
"""

from __future__ import annotations

import os
import sys

from jam.errors import PortError

_PIECE_BYTES = 65536


def set_nonblocking(fd: int) -> None:
    """Make reads and writes of a pipe return at once."""
    if sys.platform == "win32" and sys.version_info < (3, 12):
        raise PortError(
            "playing live needs pipes that do not block: on Windows, Python has them from 3.12 on",
            "Install Python 3.12 or later and install the program there",
        )
    os.set_blocking(fd, False)


def read_now(fd: int, most_bytes: int = _PIECE_BYTES) -> bytes | None:
    """Return what can be read now (perhaps nothing), or None if the other end is gone."""
    try:
        return os.read(fd, most_bytes) or None
    except BlockingIOError:
        return b""
    except OSError:
        return None


class Outbox:
    """Writes to a pipe what it takes, and keeps the rest, up to ``limit_bytes``.

    ``gone`` says that nobody reads any more; ``dropped`` counts the pieces that found no room.
    """

    def __init__(self, fd: int, limit_bytes: int) -> None:
        self.gone = False
        self.dropped = 0
        self._fd = fd
        self._limit_bytes = limit_bytes
        self._kept = bytearray()

    def put(self, data: bytes) -> None:
        """Send a piece, now or with a later `flush`; without room for it, drop it whole."""
        if len(self._kept) + len(data) > self._limit_bytes:
            self.flush()
            if len(self._kept) + len(data) > self._limit_bytes:
                self.dropped += 1
                return
        self._kept += data

    def flush(self) -> bool:
        """Write what the pipe takes now; return whether nothing is left."""
        while self._kept and not self.gone:
            try:
                written = os.write(self._fd, self._kept[:_PIECE_BYTES])
            except BlockingIOError:
                return False
            except OSError:
                self.gone = True
                break
            del self._kept[:written]
        if self.gone:
            self._kept.clear()
        return True
