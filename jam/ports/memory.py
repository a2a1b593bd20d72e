"""The in-memory twin of the I/O process: sends what it was handed, when its time has come.

It keeps the same `jam.ports.ledger.Ledger`, is driven by `MemoryPort.advance` and knows no clock.
What the port refuses it says with an `IoReport`. Times are seconds of the session.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import inf
from typing import NamedTuple

from jam import log
from jam.events import Command, Cut, IoReport, Play, Revoke, Silence
from jam.ports.ledger import GUARD_SEC as GUARD_SEC
from jam.ports.ledger import Entry, Ledger, Message
from jam.ports.wire import CutNote, PlayNote, Refused, RevokeNote, SilenceAll


class Sent(NamedTuple):
    """A MIDI message that went out: ``t`` is the moment meant, ``at`` when it left."""

    t: float
    at: float
    port: str
    part: str
    note: int
    data: tuple[int, ...]

    def record(self) -> log.Record:
        """Return the log record of it."""
        return log.sent(self.t, self.at, self.port, self.part, self.note, self.data)


class MemoryPort:
    """Takes commands, sends in order of time; note-offs before note-ons of the same moment.

    However late a note comes, it plays what is left of it.
    """

    def __init__(self, name: str = "memory") -> None:
        self.name = name
        self._now = -inf
        self._ledger = Ledger(late_sec=inf)

    @property
    def sounding(self) -> tuple[Play, ...]:
        """The notes that are on and still owe their note-off."""
        return tuple(
            Play(
                note.id,
                note.part,
                note.t,
                note.end,
                note.channel,
                note.pitch,
                note.velocity,
                note.bend,
            )
            for note in self._ledger.sounding
        )

    @property
    def next_due(self) -> float:
        """When the port next has something to send; inf if never."""
        return self._ledger.next_due

    @property
    def last_end(self) -> float:
        """When the last of the notes that sound or are to come ends; -inf if there is none."""
        return self._ledger.last_end

    def take(self, commands: Iterable[Command], now: float) -> list[IoReport]:
        """Take commands handed over at ``now``; return what had to be refused."""
        self._now = max(self._now, now)
        told = [told for c in commands for told in self._ledger.take(_entry(c, now), now)]
        return [
            IoReport(now, f"{refused.what} refused", {"note": refused.id, "why": refused.why})
            for refused in told
            if isinstance(refused, Refused)
        ]

    def advance(self, now: float) -> list[Sent]:
        """Send what is due up to ``now`` and return it, with what was sent since the last call.

        A message handed over in time leaves at its time, a late one at the time of the advance
        before, which is when it was handed over.
        """
        sent = [self._sent(message) for message in self._ledger.advance(now)]
        self._now = max(self._now, now)
        return sent

    def close(self) -> list[Sent]:
        """End every note now and forget those to come; return the last messages, and what lets
        the pitch wheels go back."""
        self._ledger.take(SilenceAll(self._now), self._now)
        sent = self.advance(self._now)
        while (message := self._ledger.peek()) is not None:
            self._ledger.commit(message)
            sent.append(self._sent(message))
        return sent

    def _sent(self, message: Message) -> Sent:
        t, at = message.t, max(message.t, self._now)
        return Sent(t, at, self.name, message.part, message.id, message.data)


def _entry(command: Command, now: float) -> Entry:
    match command:
        case Play(id, part, t, end, channel, pitch, velocity, bend):
            return PlayNote(id, part, t, end, channel, pitch, velocity, now, bend)
        case Revoke(id):
            return RevokeNote(id, now)
        case Cut(id, t):
            return CutNote(id, t, now)
        case Silence():
            return SilenceAll(now)
