"""Single keys of the terminal, as they are pressed: no echo, no Enter, no waiting.

`open_keys` takes the terminal over and `Keys.close` gives it back as it was; so does the end of the
program, however it comes about in Python, and a stop by signal (SIGTSTP) until it goes on again
(SIGCONT). Ctrl-C still interrupts. Ctrl-Z, Ctrl-\\ and Ctrl-S are taken from the terminal for as
long: a slip of the hand must neither stop a performance nor freeze what it shows.

Keys are named by what they write (``"t"``, ``" "``), or ``"escape"``; arrows and the like are
swallowed whole, so that none of them is taken for Escape.
"""

from __future__ import annotations

import atexit
import contextlib
import errno
import os
import re
import signal
import sys
from types import FrameType
from typing import Any, Protocol, TextIO

ESCAPE = "escape"
"""The name of the key Escape."""

_SEQUENCE = re.compile(r"\x1b\[[0-?]*[ -/]*[@-~]|\x1bO.", re.DOTALL)
_REST = re.compile(r"\[[0-?]*[ -/]*[@-~]")
_MOST_BYTES = 1024


class Keys(Protocol):
    """Where key presses come from."""

    def pressed(self) -> list[str]:
        """Return the keys pressed since the last call, in order; never waits."""

    def fileno(self) -> int | None:
        """Return what select can wait for, None where keys must be asked for by and by."""

    def close(self) -> None:
        """Give the terminal back as it was; may be called twice."""


class NoKeys:
    """Where there is no terminal to press keys at."""

    def pressed(self) -> list[str]:
        return []

    def fileno(self) -> int | None:
        return None

    def close(self) -> None:
        return


class Decoder:
    """Turns what a terminal writes for its keys into their names."""

    def __init__(self) -> None:
        self._after_escape = False

    def decode(self, text: str) -> list[str]:
        """Return the keys in ``text``; what follows a torn off Escape is not taken for letters."""
        if self._after_escape:
            text = _REST.sub("", text, count=1) if text.startswith("[") else text
        text = _SEQUENCE.sub("", text)
        self._after_escape = text.endswith("\x1b")
        return [ESCAPE if char == "\x1b" else char for char in text]


def open_keys(stream: TextIO | None = None) -> Keys:
    """Take over the terminal that ``stream`` (stdin) reads from; `NoKeys` where it is none."""
    source = sys.stdin if stream is None else stream
    try:
        fd = source.fileno()
        if not os.isatty(fd):
            return NoKeys()
    except (AttributeError, OSError, ValueError):
        return NoKeys()
    if sys.platform == "win32":
        return WindowsKeys()
    return PosixKeys(fd)


if sys.platform == "win32":
    import msvcrt

    class WindowsKeys:
        """Keys of a Windows console, which writes none of them by itself."""

        def pressed(self) -> list[str]:
            keys = []
            while msvcrt.kbhit():
                char = msvcrt.getwch()
                if char in ("\x00", "\xe0"):
                    msvcrt.getwch()
                    continue
                keys.append(ESCAPE if char == "\x1b" else char)
            return keys

        def fileno(self) -> int | None:
            return None

        def close(self) -> None:
            return

else:
    import termios

    class PosixKeys:
        """Keys of a terminal by its file number; signals are handled in the main thread only."""

        def __init__(self, fd: int) -> None:
            self._fd: int | None = fd
            self._decoder = Decoder()
            self._before = termios.tcgetattr(fd)
            self._handlers: dict[int, Any] = {}
            self._take()
            atexit.register(self.close)
            # Only the main thread may handle signals.
            with contextlib.suppress(ValueError):
                self._handlers[signal.SIGTSTP] = signal.signal(signal.SIGTSTP, self._on_stop)
                self._handlers[signal.SIGCONT] = signal.signal(signal.SIGCONT, self._on_continue)

        def pressed(self) -> list[str]:
            if self._fd is None or not self._in_front():
                return []
            try:
                data = os.read(self._fd, _MOST_BYTES)
            except OSError:
                self._fd = None
                return []
            return self._decoder.decode(data.decode("utf-8", "ignore")) if data else []

        def fileno(self) -> int | None:
            return self._fd

        def close(self) -> None:
            atexit.unregister(self.close)
            with contextlib.suppress(ValueError):
                for number, handler in self._handlers.items():
                    signal.signal(number, handler)
            self._handlers.clear()
            self._give_back()
            self._fd = None

        def _in_front(self) -> bool:
            """Tell whether keys are ours; a terminal that has hung up is let go."""
            assert self._fd is not None
            try:
                return os.tcgetpgrp(self._fd) == os.getpgrp()
            except OSError as problem:
                if problem.errno == errno.ENOTTY:
                    return True  # not the terminal that we were started from: it is ours alone
                self._fd = None
                return False

        def _take(self) -> None:
            assert self._fd is not None
            mode = termios.tcgetattr(self._fd)
            mode[0] &= ~termios.IXON
            mode[3] &= ~(termios.ECHO | termios.ICANON)
            none = bytes([os.fpathconf(self._fd, "PC_VDISABLE") & 0xFF])
            mode[6][termios.VSUSP] = mode[6][termios.VQUIT] = none
            mode[6][termios.VMIN] = mode[6][termios.VTIME] = 0
            self._set(mode)

        def _give_back(self) -> None:
            if self._fd is not None:
                self._set(self._before)

        def _set(self, mode: list[Any]) -> None:
            """Set the terminal at once: to wait for its output could be to wait for ever."""
            assert self._fd is not None
            with contextlib.suppress(OSError, termios.error):
                termios.tcsetattr(self._fd, termios.TCSANOW, mode)

        def _on_stop(self, number: int, frame: FrameType | None) -> None:
            self._give_back()
            signal.signal(signal.SIGTSTP, signal.SIG_DFL)
            os.kill(os.getpid(), signal.SIGTSTP)

        def _on_continue(self, number: int, frame: FrameType | None) -> None:
            signal.signal(signal.SIGTSTP, self._on_stop)
            if self._fd is not None and self._in_front():
                self._take()
