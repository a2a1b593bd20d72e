"""A reply on its way: its notes in the schedule and in the log, and how it ends before its time."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from itertools import takewhile, zip_longest

from jam.core.moment import Moment, Out
from jam.core.schedule import SAFE_SEC, Pinned, Schedule
from jam.core.spans import kept_spans, span_records
from jam.core.talk_log import Numbered, expected, replan_record, reply_record
from jam.players.soloist.request import ImpliedSpan, Reply, Request

SILENCED, OTHER_CHORD = "all is silenced", "another chord has arrived"
POSTPONED = "its first note waits for a key that may be the line's or a chord's"
"""Reasons of a replan, as the log is told them."""

_NO_END = ("approach", "leaning", "free", "blue")
"""Roles that a reply does not end on."""

_SHORTEST_BEATS = 0.25
_SHORTEST_SEC = 0.03
_HAIR_BEATS = 0.02
_EPS = 1e-6


@dataclass
class Active:
    """A reply that is sounding or waiting.

    ``opens`` says that it is the first of its turn; ``closed`` that it has been told to end;
    ``spans`` are the declared spans that stand, ``figures`` tells by their ids which notes belong
    to one figure.
    """

    id: int
    answers: int | None
    request: Request
    reply: Reply
    opens: bool
    notes: list[Numbered] = field(default_factory=list)
    closed: bool = False
    spans: tuple[ImpliedSpan, ...] = ()
    figures: dict[int, Hashable] = field(default_factory=dict)

    @property
    def first_beat(self) -> float:
        """Return the beat of its first note, on the grid."""
        return self.notes[0][1].beat if self.notes else self.request.window.start

    @property
    def end_beat(self) -> float:
        """Return the beat at which the last note ends, on the grid."""
        return max((n.beat + n.beats for _, n in self.notes), default=self.request.window.start)


class Replies:
    """Puts replies into the schedule, takes them back, and logs both."""

    def __init__(self, schedule: Schedule, note_ids: Iterator[int], channel: int) -> None:
        self._schedule = schedule
        self._note_ids = note_ids
        self._channel = channel

    def begin(self, active: Active, m: Moment, out: Out) -> None:
        """Schedule and log a new reply."""
        active.notes = self._added(active, active.reply)
        own = active.request.own
        out.records.append(
            reply_record(active.id, active.answers, active.reply, active.notes, m, own=own)
        )
        out.records[-1] |= expected(active.request)
        active.spans = active.reply.spans
        out.records += span_records(active.id, (), active.spans, m.now)

    def begun(self, active: Active, now: float) -> list[Numbered]:
        """Return the notes that can no longer be taken back."""
        settled = self._schedule.settled
        return list(takewhile(lambda numbered: settled(numbered[0], now), active.notes))

    def withdraw(self, active: Active, m: Moment, out: Out, reason: str) -> None:
        """Take back a reply of which nothing has sounded; ``reason`` is for the log, in words."""
        from_beat = active.first_beat
        out.commands += self._schedule.withdraw(_ids(active.notes), m.now)
        active.notes = []
        _log_replan(active, (), from_beat, m, out, reason)

    def postpone(self, active: Active, until: float, m: Moment, out: Out) -> bool:
        """Let the first note begin at second ``until``, later than planned; return whether there is
        room for that before its end and the next note."""
        number, first = active.notes[0]
        begins, end = m.time.beat(until), first.sounds_beat + first.sounds_beats
        room = min([end, *(note.sounds_beat for _, note in active.notes[1:2])])
        if m.time.sec(room) < until + _SHORTEST_SEC:
            return False
        out.commands += self._schedule.postpone(number, begins, m.time)
        later = replace(first, sounds_beat=begins, sounds_beats=end - begins)
        active.notes = [(number, later), *active.notes[1:]]
        _log_replan(active, active.notes, first.beat, m, out, POSTPONED, effort=0)
        return True

    def silence(self, active: Active, m: Moment, out: Out) -> None:
        """Log that the reply is over with all that sounds (panic, stop, jump).

        What would have begun in this very moment does not.
        """
        if active.end_beat <= m.beat:
            return
        begun = self.begun(active, m.now - SAFE_SEC)
        over = max([m.beat, *(note.beat + _HAIR_BEATS for _, note in begun[-1:])])
        from_beat = min([over, *(note.beat for _, note in active.notes[len(begun) :])])
        active.notes = _until(active.notes, from_beat)
        _log_replan(active, (), from_beat, m, out, SILENCED)

    def close(self, active: Active, m: Moment, out: Out, limit_beat: float, reason: str) -> None:
        """End the reply by ``limit_beat`` on a note that may end it.

        Where none of the notes that can be had by then may, the first one later is the last.
        """
        if active.closed or not active.notes:
            return
        active.closed = True
        count = _closing(active.notes, len(self.begun(active, m.now)), limit_beat)
        kept, rest = active.notes[:count], active.notes[count:]
        last = kept[-1][1]
        limit = max(limit_beat, last.beat + _SHORTEST_BEATS)
        cut = last.beat + last.beats > limit + _EPS
        if not rest and not cut:
            return
        from_beat = limit if cut else rest[0][1].beat
        out.commands += self._schedule.withdraw(_ids(rest), m.now)
        if cut:
            out.commands += self._schedule.cut([kept[-1][0]], limit, m.time)
        active.notes = _until(kept, from_beat)
        _log_replan(active, (), from_beat, m, out, reason)

    def hold_last(self, active: Active, m: Moment, out: Out) -> None:
        """Let the last note sound on under a fermata; the log keeps its written length."""
        out.commands += self._schedule.hold(active.notes[-1][0], m.now, m.time)

    def retail(
        self, active: Active, kept: int, reply: Reply, over_beat: float, m: Moment, out: Out,
        reason: str,
    ) -> None:  # fmt: skip
        """Put the new tail ``reply`` in the place of the notes after the first ``kept`` ones, and
        log the ``reason``.

        The last of those is ended at ``over_beat`` if it would sound longer.
        """
        rest = active.notes[kept:]
        starts = [note.beat for _, note in rest] + [note.beat for note in reply.notes]
        from_beat = min([over_beat, *starts])
        out.commands += self._schedule.withdraw(_ids(rest), m.now)
        cut_beat = min([from_beat, *(note.sounds_beat for note in reply.notes[:1])])
        out.commands += self._schedule.cut(_ids(active.notes[:kept]), cut_beat, m.time)
        tail = self._added(active, reply)
        active.notes = [*_until(active.notes[:kept], from_beat), *tail]
        active.reply = reply
        _log_replan(active, tail, from_beat, m, out, reason)

    def _added(self, active: Active, reply: Reply) -> list[Numbered]:
        """Give the notes of a reply their ids, and schedule them."""
        notes = [(next(self._note_ids), note) for note in reply.notes]
        for (number, note), slot in zip_longest(notes, reply.slots[: len(notes)]):
            active.figures[number] = (note.move, getattr(slot, "group", None))
        self._schedule.add(
            Pinned(
                note.sounds_beat, number, note.sounds_beat + note.sounds_beats,
                "companion", self._channel, note.pitch, note.velocity, bend=note.bend,
            )
            for number, note in notes
        )  # fmt: skip
        return notes


def _closing(notes: list[Numbered], begun: int, limit_beat: float) -> int:
    """Return how many notes to keep so that the last one may end the reply."""
    may_end = [
        count
        for count in range(max(1, begun), len(notes) + 1)
        if notes[count - 1][1].role not in _NO_END
    ]
    in_time = [c for c in may_end if notes[c - 1][1].beat <= limit_beat - _SHORTEST_BEATS + _EPS]
    if in_time:
        return in_time[-1]
    return may_end[0] if may_end else len(notes)


def _until(notes: list[Numbered], beat: float) -> list[Numbered]:
    """Return the notes that begin before ``beat``, none longer than up to there."""
    return [
        (number, replace(note, beats=min(note.beats, beat - note.beat)))
        for number, note in notes
        if note.beat < beat - _EPS
    ]


def _ids(notes: Iterable[Numbered]) -> list[int]:
    return [number for number, _ in notes]


def _log_replan(
    active: Active,
    fresh: Iterable[Numbered],
    from_beat: float,
    m: Moment,
    out: Out,
    reason: str,
    *,
    effort: int | None = None,
) -> None:
    tail = list(fresh)
    kept = active.notes[: len(active.notes) - len(tail)]
    out.records.append(
        replan_record(
            active.id,
            active.answers,
            active.reply,
            kept,
            tail,
            m,
            from_beat,
            reason,
            own=active.request.own,
        )
    )
    if effort is not None:
        out.records[-1]["effort"] = effort
    before = active.spans
    active.spans = kept_spans(before, from_beat, active.reply.spans if tail else ())
    out.records += span_records(active.id, before, active.spans, m.now)
