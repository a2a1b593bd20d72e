"""The brain's side of the I/O process: commands down, news up, and another process if one dies.

An `Outlet` of the drive. It keeps a mirror of every note it has handed over, so that when the
process is lost its sounding notes are ended by the next one and the notes to come are handed to
that one again: the form goes on. Seconds are of the session; the wire has machine seconds.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from math import inf
from time import perf_counter, sleep
from typing import Protocol

from jam import log
from jam.events import Command, Cut, Input, IoReport, MidiIn, Part, Play, Revoke, Silence
from jam.ports.memory import Sent
from jam.ports.spawn import spawn
from jam.ports.wire import (
    CutNote,
    Down,
    EndedEarly,
    EndSounding,
    Heard,
    News,
    PlayNote,
    Ready,
    Refused,
    RevokeNote,
    SentNote,
    SetLevel,
    SilenceAll,
    Up,
)
from jam.ports.wishes import Wishes

RETRY_SEC = 1.0
"""How long to wait before another start, when a process died as soon as it was there."""

_KEPT_SEC = 2.0
"""How long after its end a note is forgotten whose end was never reported."""

_TO_CORE = {"lost": "port lost", "found": "port found"}


class Process(Protocol):
    """What is asked of `jam.ports.spawn.IoProcess`."""

    @property
    def gone(self) -> bool:
        """Whether it has left."""

    def fileno(self) -> int:
        """Return what to wait on."""

    def send(self, records: Iterable[Down]) -> None:
        """Hand records down; never blocks, never raises."""

    def receive(self) -> list[Up]:
        """Return what has come up; never blocks."""

    def quit(self, timeout_sec: float) -> None:
        """Ask it to end its notes and leave, and wait that long at most."""


Spawn = Callable[[Wishes], Process]


@dataclass(slots=True)
class _Mirrored:
    """A note handed over, as it stands now. ``again`` says that a second process was asked."""

    play: Play
    handed: float
    on: bool = False
    revoked: bool = False
    again: bool = False


class IoClient:
    """One I/O process at a time; ``clock`` returns machine seconds (time.perf_counter).

    `begin` starts a session: its second 0 is the machine's moment it is given. ``ready`` says that
    the present process has opened what it could; ``facts`` is its news until then: what is there
    and what is missing. ``late_ms`` holds how late each note-on left.
    """

    def __init__(self, wishes: Wishes, spawn: Spawn, clock: Callable[[], float]) -> None:
        self.ready = False
        self.late_ms = array("d")
        self._wishes = wishes
        self._spawn = spawn
        self._clock = clock
        self._origin = 0.0
        self._base = 0
        self._highest = 0
        self._looked_at = 0.0
        self._mirror: dict[int, _Mirrored] = {}
        self._levels: dict[Part | None, float] = {}
        self._sent: list[Sent] = []
        self._inputs: list[Input] = []
        self.facts: list[News] = []
        self._news: list[News] = []
        self._ports: dict[str, str] = {}
        self._started_at = clock()
        self._process: Process | None = spawn(wishes)

    # --- sessions ------------------------------------------------------------------------

    def begin(self, origin: float) -> None:
        """Begin a session whose second 0 is machine second ``origin``; all before is over."""
        self._origin = origin
        self._base = self._highest
        self._looked_at = 0.0
        self.late_ms = array("d")
        self._mirror.clear()
        self._sent.clear()
        self._inputs.clear()

    @property
    def now(self) -> float:
        """The present second of the session, on the grain of its log."""
        return self._sec(self._clock())

    @property
    def process(self) -> Process | None:
        """The present process; None between the death of one and the start of the next."""
        return self._process

    @property
    def files(self) -> list[int]:
        """What to wait on: readable when the process has said something."""
        return [] if self._process is None else [self._process.fileno()]

    @property
    def ports(self) -> Mapping[str, str]:
        """What each role and part was last known to be connected to."""
        return self._ports

    # --- Outlet --------------------------------------------------------------------------

    @property
    def last_end(self) -> float:
        """When the last of the notes handed over ends; -inf if there is none."""
        return max((held.play.end for held in self._mirror.values()), default=-inf)

    def take(self, commands: Iterable[Command], now: float) -> list[IoReport]:
        """Hand commands down; what is refused comes back later, as an input."""
        records = [self._down(command, now) for command in commands]
        if records and self._process is not None:
            self._process.send(records)
        return []

    def advance(self, now: float) -> list[Sent]:
        """Return what was reported as sent since the last call."""
        sent, self._sent = self._sent, []
        if now > self._looked_at + _KEPT_SEC:
            self._looked_at = now
            old = [i for i, held in self._mirror.items() if held.play.end < now - _KEPT_SEC]
            for id in old:
                del self._mirror[id]
        return sent

    def close(self) -> list[Sent]:
        """Return the last messages; the process is left as it is."""
        self.listen()
        return self.advance(self.now)

    def wait_until_silent(self, longest_sec: float) -> None:
        """Let the process report the ends of all notes that were on, for so long at most."""
        until = self._clock() + longest_sec
        while any(held.on for held in self._mirror.values()) and self._clock() < until:
            sleep(0.001)
            self.listen()

    def late_summary(self) -> list[log.Record]:
        """Return how late the note-ons of this session left, for ``timing.jsonl``."""
        late = sorted(self.late_ms)
        if not late:
            return []
        return [
            {
                "kind": "sent late",
                "count": len(late),
                "median_ms": late[len(late) // 2],
                "p99_ms": late[int(0.99 * (len(late) - 1))],
                "max_ms": late[-1],
            }
        ]

    # --- what comes up -------------------------------------------------------------------

    def listen(self) -> None:
        """Take in what the process has said, and see to it that there is one."""
        process = self._process
        if process is None:
            self._start_again()
            return
        gone = process.gone
        for record in process.receive():
            self._take_up(record)
        if gone or process.gone:
            for record in process.receive():
                self._take_up(record)
            self._lost()

    def inputs(self) -> list[Input]:
        """Return what came in for the core since the last call."""
        inputs, self._inputs = self._inputs, []
        return inputs

    def news(self) -> list[News]:
        """Return the news since the last call."""
        news, self._news = self._news, []
        return news

    def level(self, part: Part | None, level: float) -> None:
        """Set the loudness of a part, or of all (None), from 0 to 1; a new process is told too."""
        self._levels[part] = level
        if self._process is not None:
            self._process.send([SetLevel(part, level)])

    def quit(self, timeout_sec: float = 2.0) -> None:
        """Let the process end its notes and leave; take in its last words."""
        process, self._process = self._process, None
        if process is not None:
            process.quit(timeout_sec)
            for record in process.receive():
                self._take_up(record)

    def _take_up(self, record: Up) -> None:
        match record:
            case Ready():
                self.ready = True
            case Heard(t, _, port, data):
                self._inputs.append(MidiIn(self._sec(t), port, data))
            case SentNote():
                self._take_sent(record)
            case Refused(id, what, why, at, handed):
                self._take_refused(id, what, why, at, handed)
            case EndedEarly(id, t):
                self._report(t, "note ended", {"note": id - self._base, "t": self._sec(t)}, id)
                self._mirror.pop(id, None)
            case News():
                self._take_news(record)

    def _take_refused(self, id: int, what: str, why: str, at: float, handed: float) -> None:
        held = self._mirror.get(id)
        note = id - self._base
        if held is not None and held.again and what == "play":
            del self._mirror[id]
            self._report(at, "note ended", {"note": note, "t": held.play.t, "why": why}, id)
            return
        if held is not None and what == "revoke":
            held.revoked = False
        detail = {"note": note, "why": why, "handed": self._sec(handed)}
        self._report(at, f"{what} refused", detail, id)

    def _take_sent(self, record: SentNote) -> None:
        if record.id <= self._base:
            return
        on = record.data[0] & 0xF0 == 0x90 and record.data[2] > 0
        held = self._mirror.get(record.id)
        if on:
            self.late_ms.append((record.at - record.t) * 1000.0)
            if held is not None:
                held.on = True
        else:
            self._mirror.pop(record.id, None)
        port = self._ports.get(record.part, "none")
        self._sent.append(
            Sent(
                self._sec(record.t), self._sec(record.at), port, record.part,
                record.id - self._base, record.data,
            )
        )  # fmt: skip

    def _take_news(self, news: News) -> None:
        self._news.append(news)
        if not self.ready:
            self.facts.append(news)
        who, _, name = news.text.partition("=")
        if news.topic in ("input", "output", "found"):
            self._ports[who] = name
        if news.topic in _TO_CORE:
            self._report(news.at, _TO_CORE[news.topic], {"role": who, "name": name})

    def _report(
        self, at: float, what: str, detail: Mapping[str, object], id: int | None = None
    ) -> None:
        if id is None or id > self._base:
            self._inputs.append(IoReport(max(0.0, self._sec(at)), what, detail))

    # --- a process that dies -------------------------------------------------------------

    def _lost(self) -> None:
        """Put down what sounded as ended, and start another process at once."""
        now = self._clock()
        self._process, self.ready = None, False
        self._news.append(News("lost", "the I/O process: another one is being started", now))
        self._report(now, "process lost", {})
        for id, held in self._mirror.items():
            if held.on:
                t = self._sec(now)
                held.play = replace(held.play, end=min(held.play.end, t))
                self._report(now, "note ended", {"note": id - self._base, "t": t}, id)
        if now - self._started_at > RETRY_SEC:
            self._start_again()

    def _start_again(self) -> None:
        now = self._clock()
        if now - self._started_at <= RETRY_SEC:
            return
        self._started_at = now
        process = self._process = self._spawn(self._wishes)
        self.facts.clear()
        ends: list[Down] = [self._end_of(i, held) for i, held in self._mirror.items() if held.on]
        plays: list[Down] = []
        self._mirror = {i: held for i, held in self._mirror.items() if not held.on}
        for held in self._mirror.values():
            if not held.revoked:
                held.again = True
                plays.append(self._wire(held.play, self._machine(held.handed)))
        levels = [SetLevel(part, level) for part, level in self._levels.items()]
        process.send([*ends, *levels, *plays])

    def _end_of(self, id: int, held: _Mirrored) -> EndSounding:
        """Return the note-off that is owed for a note that was on, and log it."""
        play, now = held.play, self._sec(self._clock())
        data = (0x80 | play.channel, play.pitch, 0)
        port = self._ports.get(play.part, "none")
        self._sent.append(Sent(play.end, now, port, play.part, id - self._base, data))
        return EndSounding(play.part, play.channel, play.pitch)

    # --- commands ------------------------------------------------------------------------

    def _down(self, command: Command, now: float) -> Down:
        handed = self._machine(now)
        match command:
            case Play():
                play = replace(command, id=command.id + self._base)
                self._highest = max(self._highest, play.id)
                before = self._mirror.get(play.id)
                self._mirror[play.id] = _Mirrored(play, now, before is not None and before.on)
                return self._wire(play, handed)
            case Revoke(id=note):
                held = self._mirror.get(note + self._base)
                if held is not None:
                    held.revoked = True
                return RevokeNote(note + self._base, handed)
            case Cut(id=note, t=t):
                held = self._mirror.get(note + self._base)
                if held is not None:
                    held.play = replace(held.play, end=min(held.play.end, t))
                return CutNote(note + self._base, self._machine(t), handed)
            case Silence():
                for held in self._mirror.values():
                    held.revoked = True
                return SilenceAll(handed)

    def _wire(self, play: Play, handed: float) -> PlayNote:
        return PlayNote(
            play.id, play.part, self._machine(play.t), self._machine(play.end),
            play.channel, play.pitch, play.velocity, handed,
        )  # fmt: skip

    def _sec(self, machine: float) -> float:
        return log.rounded(machine - self._origin)

    def _machine(self, sec: float) -> float:
        return sec + self._origin


def start_io(wishes: Wishes) -> IoClient:
    """Start an I/O process on the machine's clock, which opens what is wished for meanwhile."""
    return IoClient(wishes, spawn, perf_counter)
