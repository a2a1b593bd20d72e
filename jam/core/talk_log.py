"""Calls and replies as the log writes them."""

from __future__ import annotations

import re
from collections.abc import Sequence

from jam import log
from jam.core.moment import Moment
from jam.events import PlannedNote
from jam.listening.phrase import LineNote
from jam.players.soloist.request import Reply, Request
from jam.transport.timeline import BeatTime

_YOUR = re.compile(r"\byour\b")
"""How moves name an idea, which is the player's as a rule."""

Numbered = tuple[int, PlannedNote]
"""A note of a reply with the id it is sent under."""


def call_record(number: int, notes: Sequence[LineNote], at: float) -> log.Record:
    """Return the record of a call."""
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


def reply_record(
    number: int,
    answers: int | None,
    reply: Reply,
    notes: Sequence[Numbered],
    m: Moment,
    *,
    own: bool = False,
) -> log.Record:
    """Return the record of a new reply, ``notes`` its notes with their ids; ``own`` says that it
    goes on from the companion's own last phrase."""
    rows = _rows(notes, m.time, own=own)
    begin = rows[0]["t"] if rows else m.now
    end = _end_sec(notes, m.time, begin)
    return log.reply(number, answers, begin, end, m.now, reply.effort, rows) | {"idea": reply.idea}


def expected(request: Request) -> log.Record:
    """Return which chords a reply was planned to be ready for, besides the one that holds."""
    rows = [
        {"beat": changes[-1].beat, "symbol": changes[-1].chord.symbol, "probability": chance}
        for chance, changes in request.alternatives
    ]
    return {"expects": rows} if rows else {}


def replan_record(
    number: int,
    answers: int | None,
    reply: Reply,
    kept: Sequence[Numbered],
    fresh: Sequence[Numbered],
    m: Moment,
    from_beat: float,
    reason: str,
    *,
    own: bool = False,
) -> log.Record:
    """Return the record of a tail planned anew, or taken back where ``fresh`` is empty.

    ``reason`` says in words what for. All notes from ``from_beat`` on are gone, and ``fresh`` take
    their place; ``kept`` stay.
    """
    rows = _rows(fresh, m.time, own=own)
    begin = m.time.sec(from_beat)
    end = _end_sec([*kept, *fresh], m.time, begin)
    effort = reply.effort if fresh else 0
    record = log.reply(
        number, answers, rows[0]["t"] if rows else begin, end, m.now, effort, rows,
        replans=number, from_beat=from_beat,
    )  # fmt: skip
    return record | {"idea": reply.idea, "reason": reason}


def _end_sec(notes: Sequence[Numbered], time: BeatTime, begin: float) -> float:
    return max((time.sec(note.beat + note.beats) for _, note in notes), default=begin)


def _rows(notes: Sequence[Numbered], time: BeatTime, *, own: bool) -> list[log.Record]:
    return [
        {
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
            "why": _YOUR.sub("its own", note.why) if own else note.why,
            **({"bend": note.bend} if note.bend is not None else {}),
        }
        for number, note in notes
    ]
