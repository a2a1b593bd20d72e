"""What happened in a session? `session.jsonl` read into plain values, nothing else of the folder.

Beats are quarter notes since the session's first downbeat, seconds are the session's. Where
several records speak of the same thing, the latest ``at`` holds: chords and turns by their beat,
notes of a reply by its replans. What the log claims of a note (chord, degree, role) is kept
beside it as a claim and used for no judgement.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from .chords import Sound, read
from .ground import EPS, Beats, Harmony, Record


@dataclass(frozen=True)
class Note:
    """A note of a call or a reply. ``claim`` is what the log says of it (chord, degree, role)."""

    id: object
    t: float
    beat: float
    beats: float
    pitch: int
    velocity: int
    claim: Mapping[str, str] = field(default_factory=dict)

    @property
    def end(self) -> float:
        """The beat on which it ends."""
        return self.beat + self.beats


@dataclass(frozen=True)
class Phrase:
    """A call. ``t`` and ``end`` are seconds."""

    id: object
    t: float
    end: float
    notes: tuple[Note, ...]


@dataclass(frozen=True)
class Reply:
    """A reply as it stands after all its replans. ``cut`` is the beat of a replan without notes
    that shortened it, or None; ``replans`` counts them."""

    id: object
    answers: object
    at: float
    notes: tuple[Note, ...]
    replans: int = 0
    cut: float | None = None


@dataclass(frozen=True)
class Turn:
    """Whose turn it is from ``beat`` to ``end``."""

    beat: float
    end: float
    who: str


@dataclass(frozen=True)
class Implied:
    """A declared span: from ``beat`` to ``end`` of a reply another chord is meant."""

    reply: object
    beat: float
    end: float
    sound: Sound


@dataclass(frozen=True)
class Session:
    """A whole log, in the order of its records."""

    header: Record
    records: tuple[Record, ...]
    beats: Beats
    harmony: Harmony
    turns: tuple[Turn, ...]
    calls: tuple[Phrase, ...]
    replies: tuple[Reply, ...]
    spans: tuple[Implied, ...]
    player: tuple[tuple[float, float], ...]
    """From when to when (seconds) a key of the player's line was down."""

    def kind(self, kind: str) -> list[Record]:
        """Return the records of one kind."""
        return [record for record in self.records if record["kind"] == kind]


def load(path: Path) -> Session:
    """Read a log, or the log of a session folder."""
    file = path / "session.jsonl" if path.is_dir() else path
    lines = file.read_text(encoding="utf-8").splitlines()
    return session([json.loads(line) for line in lines if line.strip()])


def session(records: Sequence[Record]) -> Session:
    """Return the session that ``records``, header first, tell of."""
    by_kind: dict[str, list[Record]] = {}
    for record in records:
        by_kind.setdefault(record["kind"], []).append(record)
    return Session(
        header=records[0],
        records=tuple(records),
        beats=Beats(by_kind.get("beat", [])),
        harmony=Harmony(by_kind.get("chord", [])),
        turns=tuple(_turns(by_kind.get("turn", []))),
        calls=tuple(_call(record) for record in by_kind.get("call", [])),
        replies=tuple(_replies(by_kind.get("reply", []))),
        spans=tuple(_span(record) for record in by_kind.get("span", [])),
        player=tuple(_sounding(by_kind.get("in", []))),
    )


def _note(record: Record) -> Note:
    claim = {key: record[key] for key in ("chord", "degree", "role") if key in record}
    return Note(
        record.get("id"),
        float(record["t"]),
        float(record["beat"]),
        float(record["beats"]),
        int(record["pitch"]),
        int(record["velocity"]),
        claim,
    )


def _call(record: Record) -> Phrase:
    notes = sorted((_note(note) for note in record["notes"]), key=lambda n: (n.beat, n.pitch))
    return Phrase(record["id"], float(record["t"]), float(record["end"]), tuple(notes))


def _span(record: Record) -> Implied:
    beat = float(record["beat"])
    return Implied(record["reply"], beat, beat + float(record["beats"]), read(record["implied"]))


def _replies(records: Sequence[Record]) -> list[Reply]:
    replies: dict[object, Reply] = {}
    for record in records:
        notes = tuple(_note(note) for note in record["notes"])
        if "replans" not in record:
            replies[record["id"]] = Reply(
                record["id"], record.get("answers"), float(record["at"]), notes
            )
        elif record["replans"] in replies:
            old = replies[record["replans"]]
            replies[old.id] = replan(old, float(record["from_beat"]), notes)
    return [
        replace(reply, notes=tuple(sorted(reply.notes, key=lambda n: (n.beat, n.pitch))))
        for reply in replies.values()
    ]


def replan(reply: Reply, from_beat: float, notes: tuple[Note, ...]) -> Reply:
    """Return the reply with everything from ``from_beat`` on replaced by ``notes``.

    A note sounding there ends there.
    """
    kept = tuple(
        replace(note, beats=min(note.beats, from_beat - note.beat))
        for note in reply.notes
        if note.beat < from_beat - EPS
    )
    shortened = not notes and (len(kept) < len(reply.notes) or kept != reply.notes)
    return replace(
        reply,
        notes=kept + notes,
        replans=reply.replans + 1,
        cut=from_beat if shortened else None if notes else reply.cut,
    )


def _turns(records: Sequence[Record]) -> list[Turn]:
    """Return the turns that stand: the latest word for a beat, each until the next begins."""
    latest: dict[float, Record] = {}
    for record in sorted(records, key=lambda r: float(r["at"])):
        latest[round(float(record["beat"]), 3)] = record
    standing = [latest[beat] for beat in sorted(latest)]
    turns: list[Turn] = []
    for index, record in enumerate(standing):
        beat = float(record["beat"])
        end = beat + float(record["beats"])
        if index + 1 < len(standing):
            end = min(end, float(standing[index + 1]["beat"]))
        if turns and turns[-1].who == record["who"] and abs(turns[-1].end - beat) < EPS:
            turns[-1] = replace(turns[-1], end=end)
        else:
            turns.append(Turn(beat, end, record["who"]))
    return turns


def _sounding(records: Iterable[Record]) -> list[tuple[float, float]]:
    """Return when keys of the player's line were down; comping is no line."""
    down: dict[tuple[int, int], float] = {}
    sounded: list[tuple[float, float]] = []
    for record in records:
        data = record["bytes"]
        if record["port"] != "player" or len(data) != 3:
            continue
        key, t = (data[0] & 0x0F, data[1]), float(record["t"])
        if data[0] & 0xF0 in (0x80, 0x90) and key in down:
            sounded.append((down.pop(key), t))
        if data[0] & 0xF0 == 0x90 and data[2] and record.get("channel_split") != "comping":
            down[key] = t
    return sorted([*sounded, *((t, float("inf")) for t in down.values())])
