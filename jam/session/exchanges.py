"""Calls and replies of a session, from its log alone: who played what, over which chords, where.

Beats are quarter notes since the session's first downbeat; bars and beats in the bar count
from 1, as the log says them. A reply is given as it was played in the end: planned tails that were
taken back are gone.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from jam.harmony.chord import NO_CHORD, Chord
from jam.harmony.symbols import parse_chord
from jam.listening.grid import to_grid
from jam.listening.phrase import LineNote
from jam.log import Log, Record
from jam.session.heard import last_chords

_NEAR = 1e-4


@dataclass(frozen=True)
class Reply:
    """A reply as played: ``notes`` and ``spans`` are log records in order of their beats."""

    id: int
    answers: int | None
    t: float
    notes: tuple[Record, ...]
    spans: tuple[Record, ...] = ()
    replanned: int = 0


@dataclass(frozen=True)
class Exchange:
    """A call with what answered it; one of the two may be missing."""

    call: Record | None
    reply: Reply | None


def replies_of(log: Log) -> list[Reply]:
    """Return the replies in order, each with its last tail."""
    roots: dict[int, int] = {}
    found: dict[int, Reply] = {}
    for record in log.of("reply", "span"):
        if record["kind"] == "span":
            root = roots[record["reply"]]
            found[root] = _with_span(found[root], record)
            continue
        before = record.get("replans")
        root = record["id"] if before is None else roots[before]
        roots[record["id"]] = root
        found[root] = _first(record) if before is None else _replanned(found[root], record)
    return [reply for reply in found.values() if reply.notes]


def exchanges(log: Log) -> list[Exchange]:
    """Return calls and replies in order of time, each reply with the call that it answers."""
    calls = {record["id"]: record for record in log.of("call")}
    replies = replies_of(log)
    answered = {reply.answers for reply in replies}
    pairs = [Exchange(calls.get(reply.answers or 0), reply) for reply in replies]
    pairs += [
        Exchange(call, None)
        for id, call in calls.items()
        if id not in answered and not _went_on(call, calls.values())
    ]
    return sorted(pairs, key=_begin)


def _went_on(call: Record, calls: Iterable[Record]) -> bool:
    """Tell whether a call was taken for ended too early and is part of a later one."""
    return any(
        later["id"] > call["id"] and later["t"] <= call["t"] and later["end"] >= call["end"]
        for later in calls
    )


def call_on_grid(call: Record) -> list[Record]:
    """Return the notes of a call with ``beat`` and ``beats`` where they belong on the grid.

    The log says where a call's notes fell; one that is too short or too crowded to have a place
    (a grace note) stays where it fell.
    """
    first, last = call["notes"][0], call["notes"][-1]
    beats = last["beat"] - first["beat"]
    beat_sec = (last["t"] - first["t"]) / beats if beats > 0 else 0.5
    heard = {_line_note(note, beat_sec): note for note in call["notes"]}
    placed = {place.heard: place for place in to_grid(list(heard)).notes}
    notes = []
    for line_note, note in heard.items():
        place = placed.get(line_note)
        on_grid = {} if place is None else {"beat": place.beat, "beats": place.beats}
        notes.append({**note, **on_grid})
    return sorted(notes, key=lambda note: note["beat"])


def _line_note(note: Record, beat_sec: float) -> LineNote:
    """Return a note of a call as the ear took it; its release is read off its length in beats."""
    t, beats = note["t"], note["beats"]
    return LineNote(t, t + beats * beat_sec, note["pitch"], note["velocity"], note["beat"], beats)


def _begin(exchange: Exchange) -> float:
    if exchange.call is not None:
        return float(exchange.call["t"])
    return exchange.reply.t if exchange.reply is not None else 0.0


def _first(record: Record) -> Reply:
    notes = tuple(sorted(record["notes"], key=lambda note: note["beat"]))
    return Reply(record["id"], record["answers"], record["t"], notes)


def _replanned(reply: Reply, record: Record) -> Reply:
    cut = record["from_beat"] - _NEAR
    kept = [note for note in reply.notes if note["beat"] < cut]
    tail = sorted(record["notes"], key=lambda note: note["beat"])
    spans = tuple(span for span in reply.spans if span["beat"] < cut)
    return Reply(
        reply.id, reply.answers, reply.t, (*kept, *tail), spans, replanned=reply.replanned + 1
    )


def _with_span(reply: Reply, record: Record) -> Reply:
    """Return the reply with a span that takes the place of an earlier one with the same beat; one
    of no length only takes that away."""
    kept = [span for span in reply.spans if abs(span["beat"] - record["beat"]) > _NEAR]
    if record["beats"] > _NEAR:
        kept.append(record)
    spans = tuple(sorted(kept, key=lambda span: span["beat"]))
    return Reply(reply.id, reply.answers, reply.t, reply.notes, spans, reply.replanned)


class Places:
    """Where a beat lies: bar, place in the bar, chord."""

    def __init__(self, log: Log) -> None:
        metre = (log.header.get("setup") or {}).get("metre") or {}
        self._counts = 2.0 if metre.get("denominator") == 8 else 1.0
        self._beats = {record["beat"]: record for record in log.of("beat")}
        self._known = sorted(self._beats)
        chords = last_chords(log.records)
        self._changes = list(chords)
        self._symbols = [str(chord["symbol"]) for chord in chords.values()]

    def bar(self, beat: float) -> tuple[int, float]:
        """Return the bar and the place in it, counted as the metre is: 1.5 is half a count after
        its first, a count being a quarter, or an eighth in 6/8, 9/8 and 12/8.

        A beat the log does not know is counted on from the last one before it.
        """
        if not self._known:
            return 1, 1.0 + beat
        known = self._known[max(0, bisect_right(self._known, beat + _NEAR) - 1)]
        record = self._beats[known]
        since = record["beat_in_bar"] - 1.0 + max(0.0, beat - known)
        return record["bar"], 1.0 + since * self._counts

    def change(self, beat: float) -> tuple[float, Chord]:
        """Return the chord at ``beat`` and the beat from which it holds."""
        index = bisect_right(self._changes, beat + _NEAR) - 1
        if index < 0:
            return beat, NO_CHORD
        return self._changes[index], chord_named(self._symbols[index])

    def symbols(self, start: float, end: float) -> list[str]:
        """Return the chords from ``start`` up to ``end``, repeats left out."""
        first = max(0, bisect_right(self._changes, start + _NEAR) - 1)
        last = bisect_right(self._changes, end - _NEAR)
        found: list[str] = []
        for symbol in self._symbols[first:last]:
            if not found or found[-1] != symbol:
                found.append(symbol)
        return found


@lru_cache(maxsize=1024)
def chord_named(symbol: str) -> Chord:
    """Return the chord of a canonical symbol, as the log holds it."""
    return parse_chord(symbol)
