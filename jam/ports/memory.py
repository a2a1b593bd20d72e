"""The in-memory twin of the I/O process: sends what it was handed, when its time has come.

It keeps a ledger of its own: every note-on gets its note-off, whatever happens. It is driven by
`MemoryPort.advance` and knows no clock. A note may be taken back or replaced until ``GUARD_SEC``
before it sounds; later than that the port refuses and says so with an `IoReport`, as the process
that owns the wires does. Times are seconds of the session.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from heapq import heapify, heappop, heappush
from math import inf
from typing import NamedTuple

from jam import log
from jam.events import Command, Cut, IoReport, Play, Revoke, Silence

GUARD_SEC = 0.002
"""A note this close to its sound is past recall."""

_OFF, _ON = 0, 1


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


@dataclass(slots=True)
class _Held:
    """A note in the ledger, with the moment it is to end."""

    play: Play
    end: float


class MemoryPort:
    """Takes commands, sends in order of time; note-offs before note-ons of the same moment."""

    def __init__(self, name: str = "memory") -> None:
        self.name = name
        self._now = -inf
        self._coming: dict[int, _Held] = {}
        self._sounding: dict[int, _Held] = {}
        self._keys: dict[tuple[int, int], int] = {}
        self._due: list[tuple[float, int, int]] = []
        self._sent: list[Sent] = []

    @property
    def sounding(self) -> tuple[Play, ...]:
        """The notes that are on and still owe their note-off."""
        return tuple(held.play for held in self._sounding.values())

    @property
    def next_due(self) -> float:
        """When the port next has something to send; inf if never."""
        self._drop_stale()
        return self._due[0][0] if self._due else inf

    @property
    def last_end(self) -> float:
        """When the last of the notes that sound or are to come ends; -inf if there is none."""
        held = [*self._coming.values(), *self._sounding.values()]
        return max((note.end for note in held), default=-inf)

    def take(self, commands: Iterable[Command], now: float) -> list[IoReport]:
        """Take commands handed over at ``now``; return what had to be refused."""
        reports = []
        for command in commands:
            refused = self._take(command, now)
            if refused is not None:
                reports.append(refused)
        return reports

    def advance(self, now: float) -> list[Sent]:
        """Send what is due up to ``now`` and return it, with what was sent since the last call.

        A message handed over in time leaves at its time, a late one at the time of the advance
        before, which is when it was handed over.
        """
        while self.next_due <= now:
            t, what, note = heappop(self._due)
            if what == _ON:
                self._begin(note, t)
            else:
                self._end(note, t)
        self._now = max(self._now, now)
        sent, self._sent = self._sent, []
        return sent

    def close(self) -> list[Sent]:
        """End every note now and forget those to come; return the last messages."""
        self._silence(self._now)
        return self.advance(self._now)

    # --- commands ------------------------------------------------------------------------

    def _take(self, command: Command, now: float) -> IoReport | None:
        self._now = max(self._now, now)
        match command:
            case Play():
                return self._plan(command, now)
            case Revoke(id=note):
                return self._revoke(note, now)
            case Cut(id=note, t=t):
                self._cut(note, max(t, now))
            case Silence():
                self._silence(now)
        return None

    def _plan(self, play: Play, now: float) -> IoReport | None:
        if play.id in self._sounding:
            return _refused("play", play.id, now, "it is sounding")
        old = self._coming.get(play.id)
        if old is not None and old.play.t - now < GUARD_SEC:
            return _refused("play", play.id, now, "the note it replaces is too near")
        if play.end <= max(play.t, now):
            self._coming.pop(play.id, None)
            return _refused("play", play.id, now, "it is over")
        self._coming[play.id] = _Held(play, play.end)
        heappush(self._due, (play.t, _ON, play.id))
        return None

    def _revoke(self, note: int, now: float) -> IoReport | None:
        held = self._coming.get(note)
        if held is None:
            gone = "it is sounding" if note in self._sounding else "no such note is to come"
            return _refused("revoke", note, now, gone)
        if held.play.t - now < GUARD_SEC:
            return _refused("revoke", note, now, "too near")
        del self._coming[note]
        return None

    def _cut(self, note: int, t: float) -> None:
        if note in self._sounding:
            self._sounding[note].end = min(self._sounding[note].end, t)
            heappush(self._due, (self._sounding[note].end, _OFF, note))
        elif note in self._coming:
            held = self._coming[note]
            held.end = min(held.end, t)
            if held.play.t >= t:
                del self._coming[note]

    def _silence(self, now: float) -> None:
        self._coming.clear()
        for note in list(self._sounding):
            self._end(note, now)
        self._due.clear()

    # --- sending -------------------------------------------------------------------------

    def _drop_stale(self) -> None:
        while self._due and self._is_stale(*self._due[0]):
            heappop(self._due)
        if len(self._due) > 64 + 4 * (len(self._coming) + len(self._sounding)):
            self._due = [due for due in self._due if not self._is_stale(*due)]
            heapify(self._due)

    def _is_stale(self, t: float, what: int, note: int) -> bool:
        if what == _ON:
            return note not in self._coming or self._coming[note].play.t != t
        return note not in self._sounding or self._sounding[note].end != t

    def _begin(self, note: int, t: float) -> None:
        held = self._coming.pop(note)
        play = held.play
        key = (play.channel, play.pitch)
        if key in self._keys:
            self._end(self._keys[key], t)
        self._keys[key] = note
        self._sounding[note] = held
        self._send(play, t, 0x90, play.velocity)
        heappush(self._due, (held.end, _OFF, note))

    def _end(self, note: int, t: float) -> None:
        play = self._sounding.pop(note).play
        del self._keys[(play.channel, play.pitch)]
        self._send(play, t, 0x80, 0)

    def _send(self, play: Play, t: float, status: int, value: int) -> None:
        data = (status | play.channel, play.pitch, value)
        self._sent.append(Sent(t, max(t, self._now), self.name, play.part, play.id, data))


def _refused(what: str, note: int, now: float, why: str) -> IoReport:
    return IoReport(now, f"{what} refused", {"note": note, "why": why})
