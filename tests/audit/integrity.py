"""Is the log sound in itself? Order, beats, notes against the grid, and what was really sent.

Every sent note-on has its note-off; what the companion sent is what its replies say; each beat is
announced once, in order, at or before it falls. The log is in order of ``at``.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from .findings import Finding, name
from .ground import Record
from .reading import Note, Reply, Session

TICK_SEC = 0.001
GRAIN = 1e-5
APART_SEC = 0.02
"""Closer than this, two notes of a line are heard as one struck twice, not one after the other."""
STEADY_SEC = 0.002
MOVING_SEC = 0.06
"""How far a sent note may lie from its reply's ``t``: where the tempo is steady, where it moves."""
FEEL_BEATS = 0.34
FEEL_SEC = 0.1
"""How far a note may lie from its place on the grid: swing up to 5:1, and time feel besides."""


@dataclass(frozen=True)
class Sent:
    """A note that went out. ``off`` is None when it was never ended."""

    id: object
    part: str
    pitch: int
    velocity: int
    on: float
    off: float | None


def audit_log(session: Session) -> list[Finding]:
    """Return all that is wrong with a log as a log."""
    notes, loose = sent_notes(session)
    return [
        *_order(session),
        *_faults(session),
        *_beats(session),
        *_chords(session),
        *_reply_notes(session),
        *loose,
        *_together(notes),
        *_as_replied(session, notes),
    ]


def _wrong(rule: str, text: str, reply: object = None, note: Note | None = None) -> Finding:
    return Finding(
        rule, reply, note.beat if note else None, name(note.pitch) if note else "", "", text
    )


def _order(session: Session) -> Iterator[Finding]:
    if session.header["kind"] != "session":
        yield _wrong("log order", "the first record is no header")
    stamped = [record for record in session.records[1:] if "at" in record]
    for earlier, later in pairwise(stamped):
        if later["at"] < earlier["at"] - GRAIN:
            text = f"{later['kind']} of {later['at']} stands after {earlier['at']}"
            yield _wrong("log order", text)


def _faults(session: Session) -> Iterator[Finding]:
    """Yield the failures that were survived: on stage that is a virtue, in a test it is none."""
    for record in session.records:
        if record["kind"] == "fault" and "who" in record:
            yield _wrong("fault", f"{record['who']}: {record['what']}")


def _beats(session: Session) -> Iterator[Finding]:
    records = session.kind("beat")
    seen: set[float] = set()
    jumped = bool(session.kind("jump"))
    for record in records:
        if record["beat"] in seen:
            yield _wrong("beats", f"beat {record['beat']} is announced again at {record['at']}")
        seen.add(record["beat"])
        if record["locked"] and record["at"] > record["t"] + GRAIN:
            late_ms = 1000 * (record["at"] - record["t"])
            yield _wrong("beats", f"beat {record['beat']} is confessed {late_ms:.1f} ms late")
    for earlier, later in pairwise(records):
        if later["beat"] < earlier["beat"] or later["t"] <= earlier["t"]:
            yield _wrong("beats", f"beat {later['beat']} does not come after {earlier['beat']}")
        elif later["beat"] - earlier["beat"] > 1 + GRAIN and not jumped:
            yield _wrong("beats", f"no beat between {earlier['beat']} and {later['beat']}")


def _chords(session: Session) -> Iterator[Finding]:
    for symbol in sorted(set(session.harmony.unreadable)):
        yield _wrong("chord symbol", f"the audit cannot read {symbol!r}")


def _reply_notes(session: Session) -> Iterator[Finding]:
    ids: set[object] = set()
    known = {reply.id for reply in session.replies}
    for record in session.kind("reply"):
        if "replans" in record and record["replans"] not in known:
            yield _wrong("replan", f"replans {record['replans']}, which is no reply", record["id"])
    for reply in session.replies:
        for note in reply.notes:
            if note.id in ids:
                yield _wrong("note", f"id {note.id} is used twice", reply.id, note)
            ids.add(note.id)
            yield from _one_note(session, reply, note)
        for note, following in pairwise(reply.notes):
            if following.t - note.t < APART_SEC:
                text = f"sounds {1000 * (following.t - note.t):.0f} ms after the note before it"
                yield _wrong("note", text, reply.id, following)


def _one_note(session: Session, reply: Reply, note: Note) -> Iterator[Finding]:
    if not 0 <= note.pitch <= 127 or not 1 <= note.velocity <= 127 or note.beats <= 0:
        text = f"pitch {note.pitch}, velocity {note.velocity}, {note.beats} beats"
        yield _wrong("note", text, reply.id, note)
    place = session.beats.sec(note.beat)
    feel = FEEL_BEATS * 60.0 / session.beats.bpm(note.beat) + FEEL_SEC
    if session.beats.beats and abs(note.t - place) > feel:
        text = f"sounds {1000 * (note.t - place):+.0f} ms from its place on the grid"
        yield _wrong("note", text, reply.id, note)


def sent_notes(session: Session) -> tuple[list[Sent], list[Finding]]:
    """Return the notes that went out, and what is wrong with their beginnings and ends."""
    down: dict[tuple[str, str, int, int], tuple[Record, float]] = {}
    notes: list[Sent] = []
    wrong: list[Finding] = []
    for record in session.kind("sent"):
        data = record["bytes"]
        if len(data) != 3 or data[0] & 0xF0 not in (0x80, 0x90):
            continue
        key = (record["port"], record["part"], data[0] & 0x0F, data[1])
        begins = data[0] & 0xF0 == 0x90 and data[2] > 0
        place = f"{record['part']} {name(data[1])} at {record['t']:.3f} s"
        if begins and key in down:
            wrong.append(_wrong("sent", f"{place} is struck again before it ends"))
        elif not begins and key not in down:
            wrong.append(_wrong("sent", f"{place} ends without having begun"))
        if key in down:
            on, _ = down.pop(key)
            notes.append(_sent(on, record))
            if not begins and on["note"] != record["note"]:
                wrong.append(_wrong("sent", f"{place} ends under another id than it began"))
        if begins:
            down[key] = (record, record["t"])
    for on, _ in down.values():
        place = f"{on['part']} {name(on['bytes'][1])} at {on['t']:.3f} s"
        wrong.append(_wrong("sent", f"{place} never ends"))
        notes.append(_sent(on, None))
    return sorted(notes, key=lambda n: n.on), wrong


def _sent(on: Record, off: Record | None) -> Sent:
    return Sent(
        on["note"],
        on["part"],
        on["bytes"][1],
        on["bytes"][2],
        float(on["t"]),
        None if off is None else float(off["t"]),
    )


def _together(notes: list[Sent]) -> Iterator[Finding]:
    """Yield what the companion sounded two notes at a time, replies and all."""
    own = [note for note in notes if note.part == "companion"]
    for note, following in pairwise(own):
        if note.off is None or note.off > following.on + TICK_SEC:
            text = f"{name(note.pitch)} still sounds as {name(following.pitch)} goes out"
            yield _wrong("H5 one at a time", f"{text} at {following.on:.3f} s")


def _as_replied(session: Session, notes: list[Sent]) -> Iterator[Finding]:
    sent = {note.id: note for note in notes if note.part == "companion"}
    if not sent and not session.kind("sent"):
        return
    replied = {note.id: (reply, note) for reply in session.replies for note in reply.notes}
    for id_, message in sent.items():
        if id_ not in replied:
            text = f"{name(message.pitch)} at {message.on:.3f} s went out, but is in no reply"
            yield _wrong("sent", text)
    over = max((float(r["at"]) for r in session.records[1:] if "at" in r), default=0.0)
    for id_, (reply, note) in replied.items():
        if id_ in sent:
            yield from _compared(session, reply, note, sent[id_])
        elif note.t < over:
            yield _wrong("sent", "never went out", reply.id, note)


def _compared(session: Session, reply: Reply, note: Note, sent: Sent) -> Iterator[Finding]:
    if (note.pitch, note.velocity) != (sent.pitch, sent.velocity):
        text = f"went out as {name(sent.pitch)} velocity {sent.velocity}"
        yield _wrong("sent", text, reply.id, note)
    bpms = session.beats.bpms
    steady = not bpms or max(bpms) - min(bpms) < 0.01 * max(bpms)
    off_by = sent.on - note.t
    if abs(off_by) > (STEADY_SEC if steady else MOVING_SEC):
        yield _wrong("sent", f"went out {1000 * off_by:+.0f} ms from its t", reply.id, note)
    feel = FEEL_BEATS * 60.0 / session.beats.bpm(note.beat) + FEEL_SEC
    if sent.off is not None and sent.off > session.beats.sec(note.end) + feel:
        yield _wrong("sent", "sounds past its end on the grid", reply.id, note)
