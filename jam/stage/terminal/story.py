"""What the records of the log have told so far: where the bars lie, and the last call and reply.

Bars are the session's, from 1, as the log counts them. Notes of a call have the degree that they
have on the chord that held; notes of a reply have the one they were meant as. The older half is
forgotten as time goes on, so that a long night takes no more room than a short one.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import groupby
from typing import Generic, TypeVar

from jam.harmony.chord import NO_CHORD, Chord
from jam.harmony.spelling import spell
from jam.harmony.symbols import parse_chord
from jam.log import Record

KINDS = frozenset({"beat", "chord", "turn", "call", "reply", "cue", "fault", "jump"})
"""The kinds of records that a view has a use for."""

_EARLY_BEATS = 0.15
"""A note so little before a beat belongs to it: it is played by a person."""

_MOST_PLACES = 1024
_NEAR = 1e-4

T = TypeVar("T")

_DEVELOPS = {
    "restate": "cell restated",
    "sequence": "in sequence",
    "same_rhythm": "same rhythm",
    "invert": "inverted",
    "displace": "shifted",
    "fragment": "a fragment of it",
    "real_sequence": "in exact sequence",
    "same_pitches": "the same notes",
    "retrograde": "backwards",
    "augment": "in longer notes",
    "diminish": "in shorter notes",
    "extend": "carried on",
    "interpolate": "its gaps filled",
    "answer": "the question again, another end",
    "quote": "something you said before",
    "contrast": "the other way about",
}


@dataclass(frozen=True)
class Note:
    """A note of a phrase: ``name`` has its octave; ``role`` is empty in a call."""

    beat: float
    pitch: int
    name: str
    degree: str
    chord: str
    role: str = ""
    move: str = ""

    @property
    def letter(self) -> str:
        """The name without its octave."""
        return self.name.rstrip("-0123456789")


@dataclass(frozen=True)
class Phrase:
    """A call or a reply; ``t`` and ``end`` are session seconds. ``answers`` is a call's id."""

    id: int
    t: float
    end: float
    notes: tuple[Note, ...]
    answers: int | None = None

    @property
    def develops(self) -> str:
        """In words what is done with the idea that is taken up, empty where none is."""
        moves = [note.move for note in self.notes if note.move in _DEVELOPS]
        runs = [move for move, _ in groupby(note.move for note in self.notes)]
        words = []
        for move in dict.fromkeys(moves):
            times = runs.count(move)
            words.append(_DEVELOPS[move] + (f" {times} times" if times > 1 else ""))
        return ", ".join(words)

    @property
    def origin(self) -> str:
        """Whose idea it develops, in words."""
        return "its own idea" if self.answers is None else "from your phrase"


class Story:
    """Takes records in their order; ``call`` and ``reply`` are the last ones."""

    def __init__(self, bar_beats: float = 4.0) -> None:
        self.call: Phrase | None = None
        self.reply: Phrase | None = None
        self._bar_beats = bar_beats
        self._beats = _Places[tuple[int, int]]()
        self._chords = _Places[str]()

    def take(self, record: Record) -> None:
        """Take a record of one of `KINDS`; others are passed over."""
        match record["kind"]:
            case "beat":
                self._beats.put(record["beat"], (record["bar"], record["beat_in_bar"]))
            case "chord":
                self._chords.put(record["beat"], record["symbol"])
            case "call" if record["notes"]:
                self.call = self._call(record)
            case "reply":
                self.reply = self._reply(record)
            case "jump":
                self._beats.cut(record.get("beat", 0.0))
                self._chords.cut(record.get("beat", 0.0))

    def bar(self, beat: float) -> int:
        """Return the bar of ``beat``; where no beat was announced yet it is counted on."""
        found = self._beats.at(beat + _NEAR)
        if found is None:
            return 1
        known, (bar, place) = found
        return bar + int((place - 1 + beat + _NEAR - known) // self._bar_beats)

    def bars(self, phrase: Phrase) -> str:
        """Return ``bars 5 to 8`` or ``bar 5``."""
        first = self.bar(phrase.notes[0].beat + _EARLY_BEATS)
        last = self.bar(phrase.notes[-1].beat + _EARLY_BEATS)
        return f"bar {first}" if first == last else f"bars {first} to {last}"

    def _call(self, record: Record) -> Phrase:
        notes = tuple(self._heard(row) for row in _in_order(record["notes"]))
        return Phrase(record["id"], record["t"], record["end"], notes)

    def _heard(self, row: Record) -> Note:
        held = self._chords.at(row["beat"] + _EARLY_BEATS)
        symbol = "" if held is None else held[1]
        chord = chord_named(symbol)
        name = spell(row["pitch"], chord)
        return Note(row["beat"], row["pitch"], name, _degree(chord, row["pitch"]), symbol)

    def _reply(self, record: Record) -> Phrase:
        notes = tuple(_meant(row) for row in _in_order(record["notes"]))
        fresh = Phrase(record["id"], record["t"], record["end"], notes, record["answers"])
        before = self.reply
        if record.get("replans") is None or before is None or before.id != record["replans"]:
            return fresh
        kept = tuple(n for n in before.notes if n.beat < record["from_beat"] - _NEAR)
        return replace(before, id=fresh.id, end=fresh.end, notes=kept + notes)


class _Places(Generic[T]):
    """Values by beat, in order; the older half goes when there are too many."""

    def __init__(self) -> None:
        self._keys: list[float] = []
        self._values: dict[float, T] = {}

    def put(self, beat: float, value: T | None) -> None:
        """Set the value from ``beat`` on, or take it away."""
        if beat in self._values:
            del self._values[beat]
            self._keys.remove(beat)
        if value is None:
            return
        self._keys.insert(bisect_right(self._keys, beat), beat)
        self._values[beat] = value
        if len(self._keys) > _MOST_PLACES:
            self.cut(self._keys[_MOST_PLACES // 2], before=True)

    def at(self, beat: float) -> tuple[float, T] | None:
        """Return the last place up to ``beat`` with its value."""
        index = bisect_right(self._keys, beat) - 1
        return None if index < 0 else (self._keys[index], self._values[self._keys[index]])

    def cut(self, beat: float, *, before: bool = False) -> None:
        """Forget all from ``beat`` on, or all before it."""
        self._keys = [key for key in self._keys if (key < beat) == (not before)]
        self._values = {key: self._values[key] for key in self._keys}


@lru_cache(maxsize=256)
def chord_named(symbol: str | None) -> Chord:
    """Return the chord of a symbol as the log holds it; none for an empty one."""
    return parse_chord(symbol) if symbol else NO_CHORD


def _degree(chord: Chord, pitch: int) -> str:
    return "" if chord.is_none else chord.degree(pitch)


def _meant(row: Record) -> Note:
    name = spell(row["pitch"], chord_named(row["chord"]))
    return Note(
        row["beat"], row["pitch"], name, row["degree"], row["chord"], row["role"], row["move"]
    )


def _in_order(rows: Sequence[Record]) -> list[Record]:
    return sorted(rows, key=lambda row: float(row["beat"]))
