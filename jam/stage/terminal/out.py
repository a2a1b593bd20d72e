"""Text to a terminal past Python's buffers, so that a terminal that takes nothing harms nobody.

A write may block for ever (output stopped by hand) or fail (the terminal is closed). `Out` is
written to by a view's own thread only, holds no lock of the interpreter's at its end, and swallows
what fails: `gone` says so.
"""

from __future__ import annotations

import contextlib
import os
import sys
from typing import TextIO

_USUAL = os.terminal_size((80, 24))


class Out:
    """A file to write to, as far as `rich` needs one."""

    def __init__(self, stream: TextIO) -> None:
        self.encoding = getattr(stream, "encoding", None) or "ascii"
        self.errors = "replace"
        self.gone = False
        self._stream = stream
        self._fd = _own_number(stream)

    def write(self, text: str) -> int:
        """Write all of ``text`` at once; a terminal that is closed takes it in silence."""
        try:
            if self._fd is None:
                self._stream.write(text)
                self._stream.flush()
            else:
                data = memoryview(text.encode(self.encoding, "replace"))
                while data and not self.gone:
                    data = data[os.write(self._fd, data) :]
        except (OSError, ValueError):
            self.gone = True
        return len(text)

    def flush(self) -> None:
        """Nothing is kept back."""

    def isatty(self) -> bool:
        """Tell whether a person may be reading."""
        return is_terminal(self._stream)

    def fileno(self) -> int:
        """Return the file number; OSError where there is none."""
        if self._fd is None:
            return self._stream.fileno()
        return self._fd

    def size(self) -> os.terminal_size:
        """Return columns and lines, 80 x 24 where the terminal does not tell."""
        with contextlib.suppress(OSError, ValueError):
            told = os.get_terminal_size(self.fileno())
            if told.columns > 0 and told.lines > 0:
                return told
        return _USUAL

    def close(self) -> None:
        """Let go of the file number; the stream stays open."""
        if self._fd is not None:
            with contextlib.suppress(OSError):
                os.close(self._fd)
            self._fd, self.gone = None, True


def is_terminal(stream: TextIO) -> bool:
    """Tell whether ``stream`` writes to a terminal."""
    try:
        return stream.isatty()
    except (AttributeError, OSError, ValueError):
        return False


def _own_number(stream: TextIO) -> int | None:
    """Return a file number of our own for the stream; None on Windows, whose consoles want text."""
    if sys.platform == "win32":
        return None
    try:
        stream.flush()
        return os.dup(stream.fileno())
    except (AttributeError, OSError, ValueError):
        return None
