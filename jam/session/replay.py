"""Performs a session again from its folder alone, and says whether the notes are the same.

The setup comes from the copies, the inputs and the effort from the log, each at the step that took
it then. *Same notes*: replies and sent messages equal in pitch, velocity, beat, beats and time, to
a millionth. A program may have died while it wrote, in the middle of a note or before one that was
planned: then what is played now in the log's last quarter of a second, as long as it waits for late
reports, and is not in the log any more is no difference.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest
from math import inf
from pathlib import Path
from typing import Any

import jam
from jam.core.core import Core
from jam.events import Command, Cut, Input, Intent, IoReport, MidiIn, Play, Revoke, Silence
from jam.log import Log, Record, grained, rounded
from jam.ports.memory import MemoryPort, Sent
from jam.session.copies import read_setup
from jam.session.drive import EFFORT, Drive, Steps
from jam.session.folder import read_session
from jam.session.log_thread import WAIT_SEC
from jam.session.perform import machine

_NOTE_FIELDS = ("pitch", "velocity", "beat", "beats", "t")


@dataclass(frozen=True, slots=True)
class ReplayResult:
    """``same`` or not, what was compared, and ``text``: the verdict in words."""

    same: bool
    text: str
    replies: int = 0
    messages: int = 0


def replay(folder: Path) -> ReplayResult:
    """Perform the session in ``folder`` again; raises InputError if it holds none."""
    log = read_session(folder)
    result = compare(log, perform_again(log, Core(read_setup(folder, log.header))))
    made = log.header["program"], log.header["machine"]
    if result.same or made == (jam.__version__, machine()):
        return result
    where = (
        f"It was made by version {made[0]} on {made[1]}; this is {jam.__version__} on {machine()}."
    )
    return replace(result, text=f"{result.text}\n{where}")


def perform_again(log: Log, core: Steps) -> list[Record]:
    """Return what a new performance of the log's inputs writes, as it would be read back."""
    written: list[Record] = []
    grants = [(r["at"], r["granted"]) for r in log.of("effort")] or [(0.0, EFFORT)]
    drive = Drive(core, written.extend, grants=grants, outlet=Obedient(log), port_reports=False)
    drive.add_taken((r["at"], _input(r)) for r in log.of("in", "intent", "io"))
    end = _last_sec(log)
    drive.run(end)
    drive.finish(end)
    return [grained(record) for record in written]


class Obedient:
    """A port in memory that refuses what the log says was refused then, and ends early what ended
    early then. It learns so what a machine did that was late, or lost a port."""

    def __init__(self, log: Log) -> None:
        self._port = MemoryPort(_port(log))
        self._refused: set[tuple[str, int, float | None]] = set()
        self._ended: dict[int, float] = {}
        self._plays: dict[int, Play] = {}
        for record in log.of("io"):
            what, detail = record["what"], record.get("detail", {})
            if what in ("play refused", "revoke refused"):
                self._refused.add((what, detail["note"], detail.get("handed")))
            elif what == "note ended":
                self._ended[detail["note"]] = detail["t"]

    @property
    def last_end(self) -> float:
        """See `jam.session.drive.Outlet`."""
        return self._port.last_end

    def take(self, commands: Iterable[Command], now: float) -> list[IoReport]:
        """Take what was taken then."""
        taken: list[Command] = []
        for command in commands:
            if isinstance(command, Silence):
                taken += self._silence(now)
            elif not self._was_refused(command, now):
                taken += self._as_then(command)
        return self._port.take(taken, now)

    def advance(self, now: float) -> list[Sent]:
        """Let time pass."""
        return self._port.advance(now)

    def close(self) -> list[Sent]:
        """End every note."""
        return self._port.close()

    def _was_refused(self, command: Command, now: float) -> bool:
        match command:
            case Play(id=note, t=t):
                never = self._ended.get(note, inf) <= rounded(t)
                return never or ("play refused", note, now) in self._refused
            case Revoke(id=note) | Cut(id=note):
                return ("revoke refused", note, now) in self._refused
        return False

    def _silence(self, now: float) -> list[Command]:
        """Return what ends all notes but those that a silence came too late for."""
        self._plays = {note: play for note, play in self._plays.items() if play.end > now}
        return [Cut(n, now) for n in self._plays if ("revoke refused", n, now) not in self._refused]

    def _as_then(self, command: Command) -> list[Command]:
        if not isinstance(command, Play):
            return [command]
        end = min(command.end, self._ended.get(command.id, inf))
        self._plays[command.id] = replace(command, end=end)
        return [command] if end == command.end else [command, Cut(command.id, end)]


def compare(log: Log, again: Sequence[Record]) -> ReplayResult:
    """Compare a log with the records of a new performance of it."""
    last = _last_sec(log)
    if _breaks_off(log, last):
        last -= WAIT_SEC
    for kind, differs in (("reply", _reply_differs), ("sent", _sent_differs)):
        then, now = _ordered(log.records, kind), _ordered(again, kind)
        kept = {_key(record) for record in then}
        now = [record for record in now if record["at"] < last or _key(record) in kept]
        for number, (one, other) in enumerate(zip_longest(then, now), start=1):
            difference = differs(one, other)
            if difference:
                return ReplayResult(False, f"Not the same: {kind} {number}, {difference}")
    replies = sum("replans" not in record for record in log.of("reply"))
    messages = len(log.of("sent"))
    cut = " The log is cut off in its last line: compared as far as it goes." if log.cut else ""
    text = f"Same notes: {replies} replies, {messages} messages.{cut}"
    return ReplayResult(True, text, replies, messages)


def _input(record: Record) -> Input:
    if record["kind"] == "in":
        return MidiIn(record["t"], record["port"], tuple(record["bytes"]))
    moment: float = record["t"] if "t" in record else record["at"]
    if record["kind"] == "intent":
        return Intent(moment, record["name"], record.get("value"))
    return IoReport(moment, record["what"], record.get("detail", {}))


def _port(log: Log) -> str:
    sent = log.of("sent")
    return str(sent[0]["port"]) if sent else "file"


def _last_sec(log: Log) -> float:
    """Return the last moment of a log; a note that is ended in a hurry ends before its time."""
    ends = (float(record["t"]) for record in log.of("sent"))
    return max((*(float(record["at"]) for record in log.records), *ends), default=0.0)


def _breaks_off(log: Log, last_sec: float) -> bool:
    """Tell whether a log ends with a note on, or before one that was planned."""
    on: set[int] = set()
    for record in log.of("sent"):
        status, *data = record["bytes"]
        if status & 0xF0 == 0x90 and data[-1]:
            on.add(record["note"])
        elif status & 0xE0 == 0x80:
            on.discard(record["note"])
    return bool(on) or any(record["end"] > last_sec for record in log.of("reply"))


def _ordered(records: Iterable[Record], kind: str) -> list[Record]:
    """Return the records of a kind; messages in the order meant, however late they left."""
    found = [record for record in records if record["kind"] == kind]
    if kind == "sent":
        found.sort(key=lambda r: (r["t"], r["note"], r["bytes"]))
    return found


def _key(record: Record) -> tuple[Any, ...]:
    """Return what makes a reply or a message one and the same in two performances."""
    if record["kind"] == "sent":
        return record["t"], record["note"], tuple(record["bytes"])
    return record["at"], record["id"]


def _reply_differs(then: Record | None, now: Record | None) -> str:
    if then is None or now is None:
        return _missing(then, now)
    for field in ("replans", "from_beat"):
        if then.get(field) != now.get(field):
            return _values(f"at {then['at']} s: {field}", then.get(field), now.get(field))
    pairs = zip_longest(then["notes"], now["notes"])
    for number, (one, other) in enumerate(pairs, start=1):
        if one is None or other is None:
            counts = len(then["notes"]), len(now["notes"])
            return _values(f"at {then['at']} s: number of notes", *counts)
        for field in _NOTE_FIELDS:
            if one[field] != other[field]:
                place = f"note {number} (beat {one['beat']}, {one['t']} s): {field}"
                return _values(place, one[field], other[field])
    return ""


def _sent_differs(then: Record | None, now: Record | None) -> str:
    if then is None or now is None:
        return _missing(then, now)
    for field in ("t", "part", "bytes"):
        if then[field] != now[field]:
            return _values(f"{then['part']} at {then['t']} s: {field}", then[field], now[field])
    return ""


def _missing(then: Record | None, now: Record | None) -> str:
    if then is not None:
        return f"at {then['t']} s, is in the log and was not played again."
    assert now is not None
    return f"at {now['t']} s, was played now and is not in the log."


def _values(what: str, then: Any, now: Any) -> str:
    return f"{what} was {then} and is {now}."
