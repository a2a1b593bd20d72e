"""A session told in plain lines: one for each thing that changes and matters, never one a beat.

For who listens to a screen reader, or keeps the output of a pipe. No colour, no control characters,
nothing is written over. Bars are the session's, as in the log. A call is told when the turn passes
on, a reply when it is over: as it was played, not as it was planned at first.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal

from jam.core.snapshot import Snapshot
from jam.log import Record
from jam.stage.terminal import wording
from jam.stage.terminal.standing import Standing
from jam.stage.terminal.story import Note, Phrase, Story

Say = Literal["less", "usual", "more"]
"""How much is told: turns, cues and troubles; also sections and phrases; also every chord."""

_TEMPO_SHARE = 0.05
_ENDINGS = {
    "last time": "This is the last time through.",
    "tag": "The last bars come again.",
    "fermata": "The last chord will be held: cut it off.",
}


class LineTeller:
    """Turns what a view is given into lines, in order."""

    def __init__(self, standing: Standing, say: Say = "usual") -> None:
        self._standing = standing
        self._say = say
        self._story = Story(standing.metre.bar_beats)
        self._before: Snapshot | None = None
        self._bpm = 0.0
        self._section = ""
        self._call: Phrase | None = None
        self._reply: Phrase | None = None

    def opening(self) -> list[str]:
        """Return what is told before anything has happened."""
        standing = self._standing
        words = [standing.title or "No chart"]
        words += [] if standing.key is None else [standing.key.name]
        words += [f"{standing.tempo_bpm:.0f} bpm", standing.turns]
        return [", ".join(word for word in words if word) + ".", standing.to_start]

    def tell(self, shown: Snapshot | None, records: Sequence[Record]) -> list[str]:
        """Return the lines for a new state (the newest) and all records since the last call."""
        lines: list[str] = []
        for record in records:
            self._story.take(record)
            lines += self._record(record)
        if shown is not None:
            lines += self._state(shown)
        return [_plain(line) for line in lines]

    def closing(self) -> list[str]:
        """Return what has not been told when the session is over."""
        return [_plain(line) for line in (*self._tell_call(), *self._tell_reply())]

    # --- records -------------------------------------------------------------------------

    def _record(self, record: Record) -> Iterator[str]:
        match record["kind"]:
            case "call":
                if self._call is not None and not _is_part(self._call, self._story.call):
                    yield from self._tell_call()
                self._call = self._story.call
            case "reply":
                if self._reply is not None and record.get("replans") is None:
                    yield from self._tell_reply()
                self._reply = self._story.reply
            case "turn":
                yield from self._turn(record)
            case "cue" if record["name"] != "tap":
                yield f"Cue: {record['name']}."
            case "fault":
                yield f"Trouble: {record['what']}."
            case "jump":
                yield "The clock has jumped."
            case "chord" if self._say == "more" and record["symbol"]:
                if record["source"] != "forecast":
                    yield f"Bar {self._story.bar(record['beat'])}: {record['symbol']}."

    def _turn(self, record: Record) -> Iterator[str]:
        yield from self._tell_call()
        if record["who"] != "companion":
            yield from self._tell_reply()
        words = wording.TURNS.get(record["who"], str(record["who"]))
        bars = record["beats"] / self._standing.metre.bar_beats
        length = f", {wording.plural(round(bars), 'bar')}" if 0.5 < bars < 1000 else ""
        yield f"Bar {self._story.bar(record['beat'])}: {words}{length}."

    def _tell_call(self) -> Iterator[str]:
        call, self._call = self._call, None
        if call is not None and call.notes and self._say != "less":
            yield self._phrase("You", call)

    def _tell_reply(self) -> Iterator[str]:
        reply, self._reply = self._reply, None
        if reply is None or not reply.notes or self._say == "less":
            return
        told = self._phrase("Companion", reply)
        origin = reply.origin.capitalize()
        yield f"{told} {origin}: {reply.develops}." if reply.develops else told

    def _phrase(self, who: str, phrase: Phrase) -> str:
        count = wording.plural(len(phrase.notes), "note")
        first, last = _named(phrase.notes[0]), _named(phrase.notes[-1])
        ends = f"from {first} to {last}" if len(phrase.notes) > 1 else first
        return f"{who}, {self._story.bars(phrase)}: {count}, {ends}."

    # --- states --------------------------------------------------------------------------

    def _state(self, shown: Snapshot) -> Iterator[str]:
        before, self._before = self._before, shown
        if self._reply is not None and shown.now >= self._reply.end:
            yield from self._tell_reply()
        yield from self._starts_and_stops(before, shown)
        if shown.running:
            yield from self._clock(before, shown)
            if not shown.count_in:
                yield from self._place(shown)
        if before is not None:
            yield from self._changes(before, shown)

    def _starts_and_stops(self, before: Snapshot | None, shown: Snapshot) -> Iterator[str]:
        if shown.count_in and not (before is not None and before.count_in):
            yield "Count-in."
        if before is not None and before.running and not shown.running:
            yield "Stopped."
        if before is not None and before.who != "none" and _is_over(shown):
            yield "The tune is over."

    def _clock(self, before: Snapshot | None, shown: Snapshot) -> Iterator[str]:
        coasts = shown.source == "coast"
        coasted = before is not None and before.source == "coast"
        if coasts and not coasted:
            yield f"The clock has gone silent: going on at {shown.bpm:.0f} bpm."
        elif coasted and not coasts:
            yield f"The clock is back, {shown.bpm:.0f} bpm."
        elif abs(shown.bpm - self._bpm) > _TEMPO_SHARE * self._bpm:
            yield f"Tempo: {wording.clock_words(shown, self._standing)}."
        else:
            return
        self._bpm = shown.bpm

    def _place(self, shown: Snapshot) -> Iterator[str]:
        section = f", section {shown.section}" if shown.section else ""
        words = wording.chorus_words(shown) + section
        if words != self._section and shown.who != "none" and self._say != "less":
            yield f"Bar {shown.bar}: {words}."
        self._section = words

    def _changes(self, before: Snapshot, shown: Snapshot) -> Iterator[str]:
        if shown.ending != before.ending and shown.ending in _ENDINGS:
            yield _ENDINGS[shown.ending]
        if shown.holding != before.holding:
            yield "The tempo is held." if shown.holding else "The tempo is followed."
        if shown.style != before.style:
            yield f"Reply style: {shown.style}."


def _is_part(call: Phrase, later: Phrase | None) -> bool:
    """Tell whether a call was taken for ended too early and is a part of the later one."""
    return later is not None and later.t <= call.t and later.end >= call.end


def _is_over(shown: Snapshot) -> bool:
    return shown.who == "none" and shown.turn_ends_beat is None and shown.phase != "head"


def _named(note: Note) -> str:
    return f"{note.name} ({note.degree} of {note.chord})" if note.degree else note.name


def _plain(line: str) -> str:
    """Return the line without anything that a terminal could take for a command."""
    return "".join(char if char.isprintable() else " " for char in line)
