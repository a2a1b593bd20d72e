"""The brain's side of the I/O process: commands down, news up, and another process if one dies.

An `Outlet` of the drive. It keeps a mirror of every note it has handed over, so that when the
process is lost its sounding notes are ended by the next one and the notes to come are handed to
that one again: the form goes on. Seconds are of the session; the wire has machine seconds.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from time import perf_counter, sleep
from typing import Protocol

from jam import log
from jam.events import Command, Cut, Input, IoReport, MidiIn, Part, Play, Revoke, Silence
from jam.players.bends import BACK_SEC, CENTRE, is_wheel, value_of, wheel_message
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
from jam.session.mirror import Mirror, Mirrored

RETRY_SEC = 1.0
"""How long to wait before another start, when a process died as soon as it was there."""

STUCK_SEC = 3.0
"""A process that has not spoken for so long, though a note was due, hangs: it is ended."""

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

    def kill(self) -> None:
        """End it at once, notes or no notes; one that has left already is no trouble."""

    def close(self) -> None:
        """Let go of our ends of the pipes."""


Spawn = Callable[[Wishes], Process]


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
        self._mirror = Mirror()
        self._levels: dict[Part | None, float] = {}
        self._sent: list[Sent] = []
        self._inputs: list[Input] = []
        self.facts: list[News] = []
        self._news: list[News] = []
        self._ports: dict[str, str] = {}
        self._started_at = self._spoke_at = clock()
        self._process: Process | None = spawn(wishes)

    # --- sessions ------------------------------------------------------------------------

    def begin(self, origin: float) -> None:
        """Begin a session whose second 0 is machine second ``origin``; all before is over."""
        self._origin = origin
        self._base = self._highest
        self.late_ms = array("d")
        self._mirror.clear()
        self._sent.clear()
        self._inputs.clear()

    @property
    def now(self) -> float:
        """The present second of the session, on the grain of its log."""
        return self._sec(self._clock())

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
        return self._mirror.last_end

    def take(self, commands: Iterable[Command], now: float) -> list[IoReport]:
        """Hand commands down; what is refused comes back later, as an input."""
        records = [self._down(command, now) for command in commands]
        if records and self._process is not None:
            self._process.send(records)
        return []

    def advance(self, now: float) -> list[Sent]:
        """Return what was reported as sent since the last call."""
        sent, self._sent = self._sent, []
        for held in self._mirror.forget_old(now):
            self._never_sounded(held.play, self._machine(now), "no process was there to play it")
        return sent

    def close(self) -> list[Sent]:
        """Return the last messages; the process is left as it is."""
        self.listen()
        return self.advance(self.now)

    def wait_until_silent(self, longest_sec: float) -> None:
        """Let the process report the ends of all notes that were on, for so long at most."""
        until = self._clock() + longest_sec
        while self._mirror.busy and self._clock() < until:
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
        self._take_all(process.receive())
        if gone or process.gone or self._hangs():
            self._take_all(process.receive())
            self._lost(process)

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
            self._take_all(process.receive())
            process.close()

    def _take_all(self, records: Sequence[Up]) -> None:
        if records:
            self._spoke_at = self._clock()
        for record in records:
            self._take_up(record)

    def _take_up(self, record: Up) -> None:
        match record:
            case Ready(at, _):
                self.ready = True
                self._news.append(News("lost", "", at))
            case Heard(t, _, port, data):
                self._inputs.append(MidiIn(self._sec(t), port, data))
            case SentNote():
                self._take_sent(record)
            case Refused(id, what, why, at, handed):
                self._take_refused(id, what, why, at, handed)
            case EndedEarly(id, t):
                self._report(t, "note ended", {"note": id - self._base, "t": self._sec(t)}, id)
                self._mirror.over(id)
            case News():
                self._take_news(record)

    def _take_refused(self, id: int, what: str, why: str, at: float, handed: float) -> None:
        held = self._mirror.get(id)
        note = id - self._base
        if held is not None and held.again and what == "play":
            self._mirror.over(id)
            self._never_sounded(held.play, at, why)
            return
        if what == "revoke":
            self._mirror.keep(id)
        detail = {"note": note, "why": why, "handed": self._sec(handed)}
        self._report(at, f"{what} refused", detail, id)

    def _never_sounded(self, play: Play, at: float, why: str) -> None:
        detail = {"note": play.id - self._base, "t": play.t, "why": why}
        self._report(at, "note ended", detail, play.id)

    def _take_sent(self, record: SentNote) -> None:
        if record.id <= self._base:
            return
        if is_wheel(record.data):
            self._mirror.turned(record.id, bent=value_of(record.data) != CENTRE)
        elif record.data[0] & 0xF0 == 0x90 and record.data[2] > 0:
            self.late_ms.append((record.at - record.t) * 1000.0)
            self._mirror.began(record.id)
        else:
            self._mirror.over(record.id, self._sec(record.t))
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
        elif news.topic == "lost":
            self._ports.pop(who, None)
        if news.topic in _TO_CORE:
            self._report(news.at, _TO_CORE[news.topic], {"role": who, "name": name})

    def _report(
        self, at: float, what: str, detail: Mapping[str, object], id: int | None = None
    ) -> None:
        if id is None or id > self._base:
            self._inputs.append(IoReport(max(0.0, self._sec(at)), what, detail))

    # --- a process that dies -------------------------------------------------------------

    def _hangs(self) -> bool:
        """Return whether the process neither plays what is due nor says why."""
        silent = self._clock() - self._spoke_at > STUCK_SEC
        return silent and self.ready and self._mirror.overdue(self.now, STUCK_SEC / 2.0)

    def _lost(self, process: Process) -> None:
        """Put down what sounded as ended, and start another process at once."""
        now = self._clock()
        process.kill()
        process.close()
        self._process, self.ready = None, False
        self._news.append(News("lost", "the I/O process: another one is being started", now))
        self._report(now, "process lost", {})
        t = self._sec(now)
        for held in self._mirror.end_at(t):
            id = held.play.id
            self._report(now, "note ended", {"note": id - self._base, "t": t}, id)
        if now - self._started_at > RETRY_SEC:
            self._start_again()

    def _start_again(self) -> None:
        now = self._clock()
        if now - self._started_at <= RETRY_SEC:
            return
        self._started_at = self._spoke_at = now
        process = self._process = self._spawn(self._wishes)
        self.facts.clear()
        left, coming = self._mirror.take_over()
        ends = [self._end_of(held) for held in left]
        levels = [SetLevel(part, level) for part, level in self._levels.items()]
        plays = [self._wire(held.play, self._machine(held.handed)) for held in coming]
        process.send([*ends, *levels, *plays])

    def _end_of(self, held: Mirrored) -> EndSounding:
        """Return what ends a note that was on, or bent, and log its messages."""
        play = held.play
        owed = []
        if not held.rings:
            owed.append((play.end, (0x80 | play.channel, play.pitch, 0)))
        if held.bent:
            owed.append((log.rounded(play.end + BACK_SEC), wheel_message(play.channel, CENTRE)))
        port = self._ports.get(play.part, "none")
        note = play.id - self._base
        self._sent += [Sent(t, self.now, port, play.part, note, data) for t, data in owed]
        return EndSounding(play.part, play.channel, play.pitch)

    # --- commands ------------------------------------------------------------------------

    def _down(self, command: Command, now: float) -> Down:
        handed = self._machine(now)
        match command:
            case Play():
                play = replace(command, id=command.id + self._base)
                self._highest = max(self._highest, play.id)
                self._mirror.hand(play, now)
                return self._wire(play, handed)
            case Revoke(id=note):
                self._mirror.revoke(note + self._base)
                return RevokeNote(note + self._base, handed)
            case Cut(id=note, t=t):
                self._mirror.cut(note + self._base, t)
                return CutNote(note + self._base, self._machine(t), handed)
            case Silence():
                self._mirror.silence()
                return SilenceAll(handed)

    def _wire(self, play: Play, handed: float) -> PlayNote:
        return PlayNote(
            play.id, play.part, self._machine(play.t), self._machine(play.end),
            play.channel, play.pitch, play.velocity, handed, play.bend,
        )  # fmt: skip

    def _sec(self, machine: float) -> float:
        return log.rounded(machine - self._origin)

    def _machine(self, sec: float) -> float:
        return sec + self._origin


def start_io(wishes: Wishes) -> IoClient:
    """Start an I/O process on the machine's clock, which opens what is wished for meanwhile."""
    return IoClient(wishes, spawn, perf_counter)
