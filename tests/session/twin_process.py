"""An I/O process in memory, with a clock that is set by hand: the ledger, and nothing around it."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from jam.ports.ledger import Ledger
from jam.ports.wire import (
    CutNote,
    Down,
    PlayNote,
    Ready,
    RevokeNote,
    SentNote,
    SilenceAll,
    Up,
)

MOMENT_SEC = 1e-5
"""A clock that stands still is given a moment, for what is to be done at once."""


class HandClock:
    """Machine seconds, set by the test."""

    def __init__(self, sec: float) -> None:
        self.sec = sec

    def __call__(self) -> float:
        return self.sec


class TwinProcess:
    """Does at once what it is told, and reports it when it is asked; for its first ``deaf_sec``
    seconds it is still opening its ports."""

    def __init__(self, clock: Callable[[], float], deaf_sec: float = 0.0) -> None:
        self.gone = False
        self.left = False
        self.ledger = Ledger()
        self._clock = clock
        self._deaf_until = clock() + deaf_sec
        self._unread: list[Down] = []
        self._says: list[Up] = [Ready(clock(), 1)]

    def fileno(self) -> int:
        return -1

    def send(self, records: Iterable[Down]) -> None:
        self._unread += records
        if self._clock() >= self._deaf_until:
            self._read()

    def _read(self) -> None:
        self._advance()
        records, self._unread = self._unread, []
        for record in records:
            if isinstance(record, PlayNote | RevokeNote | CutNote | SilenceAll):
                self._says += self.ledger.take(record, self._clock())
        self._advance()

    def receive(self) -> list[Up]:
        if self._clock() < self._deaf_until:
            return []
        self._read()
        says, self._says = self._says, []
        return says

    def quit(self, timeout_sec: float) -> None:
        self.left = True

    def kill(self) -> None:
        self.gone = True

    def close(self) -> None:
        self.left = True

    def says(self, *records: Up) -> None:
        """Let it say something of its own."""
        self._says += records

    def _advance(self) -> None:
        now = self._clock()
        for m in self.ledger.advance(now + MOMENT_SEC):
            self._says.append(SentNote(m.id, m.t, max(m.t, now), m.part, m.data))
