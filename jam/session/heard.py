"""What was heard in a session, from its log's records: every note, the beats, the chords."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from jam.log import Record
from jam.players.bends import Point, is_wheel, semitones_of, value_of
from jam.sound.recipes import SoundPart

_DRUMS = 9
"""Channel 10 of General MIDI, counted from 0."""

_SHORTEST_SEC = 0.01


@dataclass(frozen=True, slots=True)
class HeardNote:
    """A note from second ``t`` to second ``end``; ``channel`` runs from 0 to 15."""

    t: float
    end: float
    part: SoundPart
    channel: int
    pitch: int
    velocity: int
    bend: tuple[Point, ...] = ()


@dataclass(frozen=True, slots=True)
class HeardTurn:
    """A pitch wheel, set at second ``t`` to a 14-bit value (centre 8192) for a note of ``part``."""

    t: float
    part: SoundPart
    channel: int
    value: int


def heard_turns(records: Iterable[Record]) -> list[HeardTurn]:
    """Return how the wheels of the companion's side were set."""
    return [
        HeardTurn(max(0.0, r["t"]), r["part"], r["bytes"][0] & 0x0F, value_of(r["bytes"]))
        for r in records
        if r["kind"] == "sent" and is_wheel(r["bytes"])
    ]


def heard_notes(records: Sequence[Record]) -> list[HeardNote]:
    """Return the notes of player, band and companion, in order of their ends.

    A key struck again before its release ends the note before; what is still held after the last
    message ends with it. The pitch of a bent note is that of its wheel.
    """
    notes: list[HeardNote] = []
    held: dict[tuple[str, int, int], tuple[float, SoundPart, int, int | None]] = {}
    curves = _curves(records)

    def end(key: tuple[str, int, int], until: float) -> None:
        if key in held:
            t, part, velocity, number = held.pop(key)
            until = max(until, t + _SHORTEST_SEC)
            bend = _bend(curves.get(number, ()), t, until)
            notes.append(HeardNote(t, until, part, key[1], key[2], velocity, bend))

    last = 0.0
    for record in records:
        part = _part(record)
        if part is None:
            continue
        status, pitch, value = record["bytes"]
        t = max(0.0, record["t"])
        last = max(last, t)
        key = (record["port"], status & 0x0F, pitch)
        end(key, t)
        if status & 0xF0 == 0x90 and value > 0:
            held[key] = (t, part, value, record.get("note"))
    for key in list(held):
        end(key, last)
    return notes


def _curves(records: Iterable[Record]) -> dict[int | None, list[Point]]:
    """Return second and semitones of the wheel, by the note it was set for."""
    curves: dict[int | None, list[Point]] = {}
    for record in records:
        if record["kind"] == "sent" and is_wheel(record["bytes"]):
            point = (record["t"], semitones_of(value_of(record["bytes"])))
            curves.setdefault(record["note"], []).append(point)
    return curves


def _bend(curve: Sequence[Point], t: float, end: float) -> tuple[Point, ...]:
    """Return what of a curve falls into a note, from its onset; nothing if it never moves."""
    points = [(sec - t, semitones) for sec, semitones in curve if t <= sec < end]
    if not any(semitones for _, semitones in points):
        return ()
    return tuple(points if points[0][0] <= 0.0 else [(0.0, 0.0), *points])


def _part(record: Record) -> SoundPart | None:
    """Return whose note a record begins or ends, None if it is no message of a note."""
    if record["kind"] not in ("in", "sent"):
        return None
    data = record["bytes"]
    if len(data) != 3 or data[0] & 0xF0 not in (0x80, 0x90):
        return None
    if record["kind"] == "sent":
        part: SoundPart = record["part"]
        return part
    if record["port"] == "band":
        return "drums" if data[0] & 0x0F == _DRUMS else "band"
    return "player" if record["port"] == "player" else None


def tempo_points(records: Iterable[Record]) -> list[tuple[float, float]]:
    """Return ``(beat, sec)`` of the beats as they were announced, rising in both.

    After a jump back only what goes on from the highest beat is kept: a file has one time line.
    """
    points: list[tuple[float, float]] = []
    for record in records:
        if record["kind"] == "beat":
            beat, sec = float(record["beat"]), float(record["t"])
            if not points or (beat > points[-1][0] and sec > points[-1][1]):
                points.append((beat, sec))
    return points


def last_chords(records: Sequence[Record]) -> dict[float, Record]:
    """Return the chord that holds from each beat on: for one beat the latest record counts."""
    chords: dict[float, Record] = {}
    for record in records:
        if record["kind"] == "chord":
            if record["symbol"] is None:
                chords.pop(record["beat"], None)
            else:
                chords[record["beat"]] = record
    return dict(sorted(chords.items()))
