"""The ledger of notes: what is to be sent when, and which notes are owed an end.

Every note-on gets its note-off, whatever is commanded, and a pitch wheel that was moved for a
note goes back to its centre (`jam.players.bends`). Two notes of one key (lane, channel and
pitch; a *lane* is where a part's messages go) never overlap: the one that comes ends the one that
sounds. Of two messages for one moment the note-off is first.

Moments are those that were meant, never those at which something happened to be read: a `CutNote`
ends a note at its ``t``, at its ``handed`` if that is later, but not before the note began;
`SilenceAll` at its ``handed``. The ``now`` of `take` only decides what comes too late: that is
refused, and what had happened by then against a command is told as a deviation. So the messages
are the same however often the ledger is looked at, and the same again when a session is performed
from its log. All times are of one clock, in seconds.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Collection
from heapq import heapify, heappop, heappush
from math import inf
from typing import NamedTuple

from jam.events import Part
from jam.players.bends import (
    BACK_SEC,
    CENTRE,
    bend_points,
    is_wheel,
    value_of,
    wheel_message,
    wheel_value,
)
from jam.ports.wire import CutNote, EndedEarly, PlayNote, Refused, RevokeNote, SilenceAll

GUARD_SEC = 0.002
"""A note this close to its sound is past recall."""

LATE_SEC = 0.1
"""A note that comes later than this after its moment is better not played."""

KEPT_SEC = 2.0
"""How long it is remembered that a note is over: commands are late by less."""

BLIP_SEC = 0.001
"""How long a note lasts, at least, whose cut came when it had already begun."""

Entry = PlayNote | RevokeNote | CutNote | SilenceAll
Deviation = Refused | EndedEarly

_OFF, _ON, _TURN, _BACK = 0, 1, 2, 3


class Message(NamedTuple):
    """A note-on, a note-off or a turn of the wheel for note ``id``, meant for ``t``."""

    t: float
    lane: str
    part: Part
    id: int
    data: tuple[int, int, int]


class _Note:
    """A note in the ledger, with the moment it is to end and its bytes."""

    __slots__ = ("end", "key", "off", "on", "play")

    def __init__(self, play: PlayNote, lane: str) -> None:
        self.play = play
        self.end = play.end
        self.key = (lane, play.channel, play.pitch)
        self.on = (0x90 | play.channel, play.pitch, play.velocity)
        self.off = (0x80 | play.channel, play.pitch, 0)

    @property
    def wheel(self) -> tuple[str, int]:
        """The lane and channel whose wheel it is heard through."""
        return self.key[:2]

    @property
    def turns(self) -> list[tuple[float, int]]:
        """Moments and values of the wheel for it, by the length it was planned with."""
        points = bend_points(self.play.bend, self.play.end - self.play.t)
        return [(self.play.t + sec, wheel_value(semitones)) for sec, semitones in points]

    @property
    def begins_at(self) -> int:
        """Where the wheel has to be when the note begins."""
        return CENTRE if self.play.bend is None else self.turns[0][1]


class Ledger:
    """A note that comes more than ``late_sec`` after its moment is refused."""

    def __init__(self, *, late_sec: float = LATE_SEC) -> None:
        self._lanes: dict[str, str] = {}
        self._late_sec = late_sec
        self._coming: dict[int, _Note] = {}
        self._sounding: dict[int, _Note] = {}
        self._keys: dict[tuple[str, int, int], int] = {}
        self._wheels: dict[tuple[str, int], tuple[int, _Note]] = {}
        self._due: list[tuple[float, int, int, int, _Note, int]] = []
        self._at_once: deque[Message] = deque()
        self._over: dict[int, float] = {}
        self._count = 0

    # --- what is there -------------------------------------------------------------------

    @property
    def sounding(self) -> tuple[PlayNote, ...]:
        """The notes that are on and still owe their note-off."""
        return tuple(note.play for note in self._sounding.values())

    @property
    def last_end(self) -> float:
        """When the last of the notes that sound or are to come is over, its wheel at rest; -inf if
        there is none."""
        notes = [*self._coming.values(), *self._sounding.values()]
        ends = [note.end + BACK_SEC * (note.play.bend is not None) for note in notes]
        backs = [note.end + BACK_SEC for value, note in self._wheels.values() if value != CENTRE]
        return max([*ends, *backs], default=-inf)

    @property
    def next_due(self) -> float:
        """The moment of the next message; inf if there is none."""
        if self._at_once:
            return self._at_once[0].t
        self._drop_stale()
        return self._due[0][0] if self._due else inf

    def holds(self, part: Part, channel: int, pitch: int) -> bool:
        """Say whether a note of ours sounds on that key where the part goes."""
        return (self._lanes.get(part, ""), channel, pitch) in self._keys

    def lead(self, part: str, lane: str) -> None:
        """Let the notes of a part that are taken from now on go to a lane; at first it is ""."""
        self._lanes[part] = lane

    # --- commands ------------------------------------------------------------------------

    def take(self, entry: Entry, now: float) -> list[Deviation]:
        """Take a command that is read at ``now``; return what comes otherwise than it asks."""
        match entry:
            case PlayNote():
                return self._plan(entry, now)
            case RevokeNote():
                return self._revoke(entry, now)
            case CutNote():
                return self._cut(entry, now)
            case SilenceAll():
                return self._silence(entry, now)

    def _plan(self, play: PlayNote, now: float) -> list[Deviation]:
        if play.id in self._sounding or play.id in self._over:
            gone = "it is sounding" if play.id in self._sounding else "it has sounded"
            return [_refused(play, gone, now)]
        old = self._coming.get(play.id)
        if old is not None and old.play.t - now < GUARD_SEC:
            return [_refused(play, "the note it replaces is too near", now)]
        late = "it is over" if play.end <= max(play.t, now) else ""
        if late or now - play.t > self._late_sec:
            self._coming.pop(play.id, None)
            return [_refused(play, late or "it is too late", now)]
        note = _Note(play, self._lanes.get(play.part, ""))
        self._coming[play.id] = note
        self._push(play.t, _ON, note)
        return []

    def _revoke(self, revoke: RevokeNote, now: float) -> list[Deviation]:
        note = self._coming.get(revoke.id)
        if note is None:
            gone = "it is sounding" if revoke.id in self._sounding else "no such note is to come"
            return [_refused(revoke, gone, now)]
        if note.play.t - now < GUARD_SEC:
            return [_refused(revoke, "too near", now)]
        self._forget(note)
        return []

    def _cut(self, cut: CutNote, now: float) -> list[Deviation]:
        t = max(cut.t, cut.handed)
        note = self._sounding.get(cut.id)
        if note is not None:
            began = note.play.t
            too_late = cut.handed < began and t <= began
            note.end = min(note.end, t if t > began else began + too_late * BLIP_SEC)
            self._push(note.end, _OFF, note)
            return _begun(cut, cut.id, note.end, now) if too_late else []
        note = self._coming.get(cut.id)
        if note is not None:
            note.end = min(note.end, t)
            if note.play.t >= t:
                self._forget(note)
        end = self._over.get(cut.id, t)
        return _begun(cut, cut.id, end, now) if end > t else []

    def _silence(self, silence: SilenceAll, now: float) -> list[Deviation]:
        self._coming.clear()
        self._due.clear()
        for value, note in self._wheels.values():
            if value != CENTRE and note.play.id not in self._sounding:
                self._push(note.end + BACK_SEC, _BACK, note, CENTRE)
        deviations: list[Deviation] = []
        for id, end in self._over.items():
            if end > silence.handed:
                deviations += _begun(silence, id, end, now)
        for id, note in list(self._sounding.items()):
            too_late = silence.handed < note.play.t
            t = max(silence.handed, note.play.t + too_late * BLIP_SEC)
            if too_late:
                deviations += _begun(silence, id, t, now)
            self._at_once.append(self._ended(id, t))
        return deviations

    def lose(self, parts: Collection[str], t: float) -> list[Message]:
        """End what sounds of some parts at ``t``; return the note-offs that could not be sent."""
        lost = [(id, note) for id, note in self._sounding.items() if note.play.part in parts]
        return [self._ended(id, max(t, note.play.t)) for id, note in lost]

    # --- sending -------------------------------------------------------------------------

    def peek(self) -> Message | None:
        """Return the next message, whenever it is due."""
        if self._at_once:
            return self._at_once[0]
        self._drop_stale()
        if not self._due:
            return None
        t, what, id, _, note, value = self._due[0]
        lane, part, channel = note.key[0], note.play.part, note.play.channel
        if what == _OFF:
            return Message(t, lane, part, id, note.off)
        if what in (_TURN, _BACK):
            return Message(t, lane, part, id, wheel_message(channel, value))
        holder = self._keys.get(note.key)
        if holder is None:
            wanted = note.begins_at
            if self._wheel(note) != wanted:
                return Message(t, lane, part, id, wheel_message(channel, wanted))
            return Message(t, lane, part, id, note.on)
        old = self._sounding[holder].play
        return Message(max(t, old.t), note.key[0], old.part, holder, note.off)

    def commit(self, message: Message) -> None:
        """Enter that the message of the last `peek` has gone out."""
        if self._at_once:
            self._at_once.popleft()
            return
        if message.data[0] < 0x90:
            self._ended(message.id, message.t)
            return
        note = self._due[0][4]
        if is_wheel(message.data):
            if self._due[0][1] in (_TURN, _BACK):
                heappop(self._due)
            self._wheels[note.wheel] = (value_of(message.data), note)
            return
        heappop(self._due)
        del self._coming[message.id]
        self._keys[note.key] = message.id
        self._sounding[message.id] = note
        self._push(note.end, _OFF, note)
        if note.play.bend is not None:
            self._bend(note)

    def advance(self, now: float) -> list[Message]:
        """Let time pass up to ``now``: return what is due, entered as sent."""
        messages = []
        while self.next_due <= now:
            message = self.peek()
            assert message is not None
            self.commit(message)
            messages.append(message)
        return messages

    def _wheel(self, note: _Note) -> int:
        """Return where the wheel of the note's channel stands."""
        return self._wheels.get(note.wheel, (CENTRE, note))[0]

    def _bend(self, note: _Note) -> None:
        """Let the wheel be this note's, and enter the turns it is to make."""
        self._wheels[note.wheel] = (self._wheel(note), note)
        for t, value in note.turns[1:]:
            self._push(t, _TURN, note, value)

    def _ended(self, id: int, t: float) -> Message:
        note = self._sounding.pop(id)
        note.end = t
        del self._keys[note.key]
        self._let_go(note, t)
        while self._over and next(iter(self._over.values())) < t - KEPT_SEC:
            del self._over[next(iter(self._over))]
        self._over[id] = t
        return Message(t, note.key[0], note.play.part, id, note.off)

    def _forget(self, note: _Note) -> None:
        """Strike out a note to come, for which the wheel may have been set already."""
        del self._coming[note.play.id]
        self._let_go(note, note.play.t)

    def _let_go(self, note: _Note, t: float) -> None:
        """Let the wheel that a note has moved go back, some time after ``t``."""
        value, owner = self._wheels.get(note.wheel, (CENTRE, note))
        if owner is note and value != CENTRE:
            self._push(t + BACK_SEC, _BACK, note, CENTRE)

    # --- the queue -----------------------------------------------------------------------

    def _push(self, t: float, what: int, note: _Note, value: int = CENTRE) -> None:
        self._count += 1
        heappush(self._due, (t, what, note.play.id, self._count, note, value))

    def _drop_stale(self) -> None:
        due = self._due
        while due and self._is_stale(due[0]):
            heappop(due)
        if len(due) > 64 + 16 * (len(self._coming) + len(self._sounding)):
            self._due = [entry for entry in due if not self._is_stale(entry)]
            heapify(self._due)

    def _is_stale(self, entry: tuple[float, int, int, int, _Note, int]) -> bool:
        t, what, id, _, note, value = entry
        if what == _ON:
            return self._coming.get(id) is not note
        if what in (_TURN, _BACK):
            stands, owner = self._wheels.get(note.wheel, (CENTRE, note))
            over = what == _TURN and self._sounding.get(id) is not note
            return owner is not note or stands == value or over
        return self._sounding.get(id) is not note or note.end != t


def _refused(command: PlayNote | RevokeNote, why: str, now: float) -> Refused:
    what = "play" if isinstance(command, PlayNote) else "revoke"
    return Refused(command.id, what, why, now, command.handed)


def _begun(command: CutNote | SilenceAll, id: int, end: float, now: float) -> list[Deviation]:
    """Return what to tell of a note that a command came too late for: it had begun, or ended."""
    return [Refused(id, "revoke", "it has begun", now, command.handed), EndedEarly(id, end)]
