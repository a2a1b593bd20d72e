"""The reply that is sounding or waiting: its notes in the schedule and in the log."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from jam import log
from jam.core.moment import Moment, Out
from jam.core.schedule import Pinned, Schedule
from jam.events import PlannedNote
from jam.listening.phrase import LineNote
from jam.players.channels import CHANNELS
from jam.players.soloist.request import Prefix, Reply, Request
from jam.transport.timeline import BeatTime

_UNRESOLVED = ("approach", "leaning", "free")


@dataclass
class Active:
    """A reply on its way. ``notes`` are pairs of note id and note, in order."""

    id: int
    answers: int | None
    request: Request
    reply: Reply
    notes: list[tuple[int, PlannedNote]]

    @property
    def ids(self) -> list[int]:
        """Return the ids of its notes."""
        return [number for number, _ in self.notes]

    @property
    def first_beat(self) -> float:
        """Return the beat of the first note, on the grid."""
        return self.notes[0][1].beat if self.notes else self.request.window.start

    @property
    def end_beat(self) -> float:
        """Return the beat at which the last note ends, on the grid."""
        return max((n.beat + n.beats for _, n in self.notes), default=self.request.window.start)


class Replies:
    """Puts replies into the schedule, takes them back, and logs both."""

    def __init__(self, schedule: Schedule, note_ids: Iterator[int]) -> None:
        self._schedule = schedule
        self._note_ids = note_ids

    def begin(
        self, number: int, answers: int | None, request: Request, reply: Reply, m: Moment, out: Out
    ) -> Active:
        """Schedule and log a new reply."""
        active = Active(number, answers, request, reply, self._numbered(reply.notes))
        self._schedule.add(_pinned(active.notes))
        out.records.append(_record(active, active.notes, m, reply.effort))
        return active

    def begun(self, active: Active, now: float) -> list[tuple[int, PlannedNote]]:
        """Return the notes that can no longer be taken back."""
        gone = self._schedule.begun(active.ids, now)
        kept = []
        for number, note in active.notes:
            if number not in gone and not self._over(number, note, active, gone):
                break
            kept.append((number, note))
        return kept

    def withdraw(self, active: Active, m: Moment, out: Out) -> None:
        """Take back a reply of which nothing has sounded."""
        out.commands += self._schedule.withdraw(active.ids, m.now)
        out.records.append(
            _record(active, [], m, 0, from_beat=active.first_beat, replans=active.id)
        )
        active.notes = []

    def close(self, active: Active, m: Moment, out: Out, limit_beat: float) -> None:
        """End the reply as soon as it can be: on a note that may end it, by ``limit_beat``."""
        kept = self.begun(active, m.now)
        rest = active.notes[len(kept) :]
        while rest and (not kept or kept[-1][1].role in (*_UNRESOLVED, "blue")):
            kept.append(rest.pop(0))
        out.commands += self._schedule.withdraw([number for number, _ in rest], m.now)
        if not kept:
            return
        last_id, last = kept[-1]
        limit = max(limit_beat, last.beat + 0.25)
        cut = last.beat + last.beats > limit + 1e-6
        if not rest and not cut:
            return
        if cut:
            out.commands += self._schedule.cut([last_id], m.time.sec(limit))
            kept[-1] = (last_id, replace(last, beats=limit - last.beat))
        from_beat = limit if cut else rest[0][1].beat
        active.notes = kept
        out.records.append(_record(active, [], m, 0, from_beat=from_beat, replans=active.id))

    def retail(
        self,
        active: Active,
        reply: Reply,
        prefix: Prefix,
        kept: int,
        m: Moment,
        out: Out,
        *,
        stays: bool,
    ) -> None:
        """Put a new tail in the place of the notes after the first ``kept`` ones.

        The last of those is ended at ``m.beat`` where it does not fit the chord that has arrived,
        so that nothing of it is left across the change.
        """
        gone = [number for number, _ in active.notes[kept:]]
        begin = prefix.from_beat if stays else m.beat
        from_beat = min([begin, *(note.beat for _, note in active.notes[kept:])])
        out.commands += self._schedule.withdraw(gone, m.now)
        out.commands += self._schedule.cut(
            [number for number, _ in active.notes[:kept]], m.time.sec(from_beat)
        )
        tail = self._numbered(reply.notes)
        active.notes = active.notes[:kept] + tail
        active.reply = reply
        self._schedule.add(_pinned(tail))
        out.records.append(
            _record(active, tail, m, reply.effort, from_beat=from_beat, replans=active.id)
        )

    def _numbered(self, notes: Sequence[PlannedNote]) -> list[tuple[int, PlannedNote]]:
        return [(next(self._note_ids), note) for note in notes]

    def _over(self, number: int, note: PlannedNote, active: Active, begun: set[int]) -> bool:
        """A note before one that has begun is over, even if the schedule has forgotten it."""
        return any(
            other in begun and later.beat > note.beat for other, later in active.notes
        ) or not self._schedule.knows(number)


def _pinned(notes: Iterable[tuple[int, PlannedNote]]) -> list[Pinned]:
    return [
        Pinned(
            note.sounds_beat, number, note.sounds_beat + note.sounds_beats,
            "companion", CHANNELS["companion"], note.pitch, note.velocity,
        )
        for number, note in notes
    ]  # fmt: skip


def _record(
    active: Active,
    notes: Sequence[tuple[int, PlannedNote]],
    m: Moment,
    effort: int,
    *,
    from_beat: float | None = None,
    replans: int | None = None,
) -> log.Record:
    rows = [_note_row(number, note, m.time) for number, note in notes]
    begin = from_beat if from_beat is not None else active.first_beat
    end = m.time.sec(active.end_beat) if active.notes else m.time.sec(begin)
    return log.reply(
        active.id,
        active.answers,
        rows[0]["t"] if rows else m.time.sec(begin),
        end,
        m.now,
        effort,
        rows,
        replans=replans,
        from_beat=from_beat,
    ) | {"idea": active.reply.idea}


def _note_row(number: int, note: PlannedNote, time: BeatTime) -> log.Record:
    return {
        "id": number,
        "t": time.sec(note.sounds_beat),
        "beat": note.beat,
        "beats": note.beats,
        "pitch": note.pitch,
        "velocity": note.velocity,
        "chord": note.chord,
        "degree": note.degree,
        "role": note.role,
        "move": note.move,
        "why": note.why,
    }


def call_record(number: int, notes: Sequence[LineNote], at: float) -> log.Record:
    """Return the log record of a call."""
    rows = [
        {
            "t": note.t,
            "beat": note.heard_beat,
            "beats": note.heard_beats,
            "pitch": note.pitch,
            "velocity": note.velocity,
        }
        for note in notes
    ]
    return log.call(number, notes[0].t, max(note.end for note in notes), at, rows)
