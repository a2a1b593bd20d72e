"""Starting the I/O process (`jam.ports.io`) and talking to it without ever waiting for it.

It runs in a session of its own, so that Ctrl-C and a terminal that is closed do not reach it.
What libraries print in it goes to a file without a name (`IoProcess.last_words`).
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Iterable

from jam.ports.pipes import Outbox, read_now, set_nonblocking
from jam.ports.wire import Decoder, Down, Quit, Up, encode
from jam.ports.wishes import Wishes

_KEPT_BYTES = 1 << 22


def spawn(wishes: Wishes) -> IoProcess:
    """Start a process that opens what is wished for; `Ready` comes up when it has."""
    return IoProcess(wishes)


class IoProcess:
    """A running I/O process. ``gone`` says that it has left, or does not read any more."""

    def __init__(self, wishes: Wishes) -> None:
        self._stderr = tempfile.TemporaryFile()  # noqa: SIM115 (closed with the process)
        self._popen = subprocess.Popen(
            [sys.executable, "-m", "jam.ports.io"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=self._stderr,
            bufsize=0,
            start_new_session=True,
        )
        assert self._popen.stdin is not None
        assert self._popen.stdout is not None
        self._stdin, self._stdout = self._popen.stdin, self._popen.stdout
        set_nonblocking(self._stdin.fileno())
        set_nonblocking(self._stdout.fileno())
        self._outbox = Outbox(self._stdin.fileno(), _KEPT_BYTES)
        self._decoder = Decoder()
        self._eof = False
        self._outbox.put(wishes.to_json().encode() + b"\n")
        self._outbox.flush()

    @property
    def pid(self) -> int:
        """Its process id."""
        return self._popen.pid

    @property
    def gone(self) -> bool:
        """Whether it has left: its end of a pipe is closed."""
        return self._eof or self._outbox.gone

    @property
    def alive(self) -> bool:
        """Whether it still runs."""
        return self._popen.poll() is None

    @property
    def exit_code(self) -> int | None:
        """Its exit code, negative for a signal; None while it runs."""
        return self._popen.poll()

    def fileno(self) -> int:
        """Return what to wait on with select: readable when something has come up."""
        return self._stdout.fileno()

    def send(self, records: Iterable[Down]) -> None:
        """Hand records down, now or with the next call of anything here."""
        for record in records:
            self._outbox.put(encode(record))
        self._outbox.flush()

    def receive(self) -> list[Up]:
        """Return what has come up since the last call."""
        self._outbox.flush()
        records: list[Up] = []
        while not self._eof:
            data = read_now(self.fileno())
            if data is None:
                self._eof = True
            elif not data:
                break
            else:
                records += self._decoder.feed(data)  # type: ignore[arg-type]
        return records

    def quit(self, timeout_sec: float) -> None:
        """Let it end its notes and leave; make an end of it after ``timeout_sec``.

        What it says last can be received afterwards.
        """
        self.send([Quit()])
        self._stdin.close()
        self._outbox.gone = True
        try:
            self._popen.wait(timeout_sec)
        except subprocess.TimeoutExpired:
            self.kill()

    def kill(self) -> None:
        """End it at once, notes or no notes."""
        self._popen.kill()
        self._popen.wait()

    def close(self) -> None:
        """Close our ends of the pipes, which makes it end its notes and leave."""
        for stream in (self._stdin, self._stdout, self._stderr):
            stream.close()
        self._outbox.gone = self._eof = True

    def last_words(self, most_bytes: int = 2000) -> str:
        """Return the end of what was printed in it: why it did not start, for one."""
        size = self._stderr.seek(0, 2)
        self._stderr.seek(max(0, size - most_bytes))
        return self._stderr.read().decode("utf-8", "replace").strip()
