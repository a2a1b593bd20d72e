"""The ledger of notes: what is to be sent when, and which notes are owed an end.

Every note-on gets its note-off, whatever is commanded. Two notes of one key (lane, channel and
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

_OFF, _ON = 0, 1


class Message(NamedTuple):
    """A note-on or note-off of note ``id``, meant for ``t``."""

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


class Ledger:
    """A note that comes more than ``late_sec`` after its moment is refused."""

    def __init__(self, *, late_sec: float = LATE_SEC) -> None:
        self._lanes: dict[str, str] = {}
        self._late_sec = late_sec
        self._coming: dict[int, _Note] = {}
        self._sounding: dict[int, _Note] = {}
        self._keys: dict[tuple[str, int, int], int] = {}
        self._due: list[tuple[float, int, int, int, _Note]] = []
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
        """When the last of the notes that sound or are to come ends; -inf if there is none."""
        notes = [*self._coming.values(), *self._sounding.values()]
        return max((note.end for note in notes), default=-inf)

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
        del self._coming[revoke.id]
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
                del self._coming[cut.id]
        end = self._over.get(cut.id, t)
        return _begun(cut, cut.id, end, now) if end > t else []

    def _silence(self, silence: SilenceAll, now: float) -> list[Deviation]:
        self._coming.clear()
        self._due.clear()
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
        t, what, id, _, note = self._due[0]
        if what == _OFF:
            return Message(t, note.key[0], note.play.part, id, note.off)
        holder = self._keys.get(note.key)
        if holder is None:
            return Message(t, note.key[0], note.play.part, id, note.on)
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
        heappop(self._due)
        note = self._coming.pop(message.id)
        self._keys[note.key] = message.id
        self._sounding[message.id] = note
        self._push(note.end, _OFF, note)

    def advance(self, now: float) -> list[Message]:
        """Let time pass up to ``now``: return what is due, entered as sent."""
        messages = []
        while self.next_due <= now:
            message = self.peek()
            assert message is not None
            self.commit(message)
            messages.append(message)
        return messages

    def _ended(self, id: int, t: float) -> Message:
        note = self._sounding.pop(id)
        del self._keys[note.key]
        while self._over and next(iter(self._over.values())) < t - KEPT_SEC:
            del self._over[next(iter(self._over))]
        self._over[id] = t
        return Message(t, note.key[0], note.play.part, id, note.off)

    # --- the queue -----------------------------------------------------------------------

    def _push(self, t: float, what: int, note: _Note) -> None:
        self._count += 1
        heappush(self._due, (t, what, note.play.id, self._count, note))

    def _drop_stale(self) -> None:
        due = self._due
        while due and self._is_stale(due[0]):
            heappop(due)
        if len(due) > 64 + 4 * (len(self._coming) + len(self._sounding)):
            self._due = [entry for entry in due if not self._is_stale(entry)]
            heapify(self._due)

    def _is_stale(self, entry: tuple[float, int, int, int, _Note]) -> bool:
        t, what, id, _, note = entry
        if what == _ON:
            return self._coming.get(id) is not note
        return self._sounding.get(id) is not note or note.end != t


def _refused(command: PlayNote | RevokeNote, why: str, now: float) -> Refused:
    what = "play" if isinstance(command, PlayNote) else "revoke"
    return Refused(command.id, what, why, now, command.handed)


def _begun(command: CutNote | SilenceAll, id: int, end: float, now: float) -> list[Deviation]:
    """Return what to tell of a note that a command came too late for: it had begun, or ended."""
    return [Refused(id, "revoke", "it has begun", now, command.handed), EndedEarly(id, end)]
