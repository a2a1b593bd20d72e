"""What was left sounding? Judged from received bytes alone, with nothing of the program under test.

Status bytes and controllers: MIDI 1.0 Detailed Specification (a note-on of velocity 0 is a
note-off; controller 120 all sound off, 123 all notes off; 64 damper and 66 sostenuto hold from 64
upwards). All times are seconds of one clock.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np

ALL_OFF = (120, 123)
HOLDING = (64, 66)


class Got(NamedTuple):
    """A message that came in at ``t``."""

    t: float
    port: str
    data: tuple[int, ...]


class Note(NamedTuple):
    """A note that was heard from ``t`` to ``end``."""

    port: str
    channel: int
    pitch: int
    velocity: int
    t: float
    end: float


@dataclass
class Ledger:
    """``open`` are note-ons that were never closed, ``loose`` note-offs without one, ``again``
    note-ons of a key that was down, ``at_once`` notes that only an *all off* closed, ``held``
    pedals that were left down."""

    notes: list[Note] = field(default_factory=list)
    open: list[Got] = field(default_factory=list)
    loose: list[Got] = field(default_factory=list)
    again: list[Got] = field(default_factory=list)
    at_once: list[Got] = field(default_factory=list)
    held: list[tuple[str, int, int]] = field(default_factory=list)

    @property
    def longest_sec(self) -> float:
        """Return how long the longest closed note sounded."""
        return max((note.end - note.t for note in self.notes), default=0.0)

    @property
    def clean(self) -> bool:
        """Tell whether nothing is left sounding and nothing is held."""
        return not self.open and not self.held


def received(rows: Iterable[Mapping[str, Any]]) -> list[Got]:
    """Return a receiver's rows as messages, dated by the library's stamps: the earliest reading
    says when the stamps began."""
    ports: dict[str, list[Mapping[str, Any]]] = defaultdict(list)
    for row in rows:
        ports[row["port"]].append(row)
    got = []
    for port, its in ports.items():
        stamps = np.cumsum([0.0, *(row["since"] for row in its[1:])])
        begun = float(np.min(np.array([row["at"] for row in its]) - stamps))
        got += [
            Got(begun + float(stamp), port, tuple(row["bytes"]))
            for stamp, row in zip(stamps, its, strict=True)
        ]
    return sorted(got, key=lambda one: one.t)


def ledger(messages: Iterable[Got]) -> Ledger:
    """Return what became of every note."""
    book = Ledger()
    down: dict[tuple[str, int, int], Got] = {}
    pedals: set[tuple[str, int, int]] = set()
    for got in messages:
        status, channel = got.data[0] & 0xF0, got.data[0] & 0x0F
        if status == 0x90 and got.data[2]:
            key = (got.port, channel, got.data[1])
            if key in down:
                book.again.append(got)
            else:
                down[key] = got
        elif status in (0x80, 0x90):
            begun = down.pop((got.port, channel, got.data[1]), None)
            if begun is None:
                book.loose.append(got)
            else:
                book.notes.append(_note(begun, got.t))
        elif status == 0xB0 and got.data[1] in ALL_OFF:
            for key in [key for key in down if key[:2] == (got.port, channel)]:
                book.at_once.append(down[key])
                book.notes.append(_note(down.pop(key), got.t))
        elif status == 0xB0 and got.data[1] in HOLDING:
            pedal = (got.port, channel, got.data[1])
            (pedals.add if got.data[2] >= 64 else pedals.discard)(pedal)
    book.open = sorted(down.values(), key=lambda one: one.t)
    book.held = sorted(pedals)
    book.notes.sort(key=lambda note: note.t)
    return book


def _note(begun: Got, end: float) -> Note:
    _, pitch, velocity = begun.data
    return Note(begun.port, begun.data[0] & 0x0F, pitch, velocity, begun.t, end)


# --- the same messages, told by two -----------------------------------------------------


@dataclass(frozen=True)
class Alignment:
    """How two tellings of the same messages agree.

    ``offset_sec`` is the median of second minus first, ``apart_sec`` what each pair differs from
    it; ``missing`` are of the first only, ``extra`` of the second only.
    """

    offset_sec: float
    apart_sec: np.ndarray
    missing: list[Got]
    extra: list[Got]

    @property
    def same(self) -> bool:
        """Tell whether both tell the same messages."""
        return not self.missing and not self.extra

    def within(self, sec: float) -> float:
        """Return the share of pairs that lie within ``sec`` of each other, the offset taken off,
        where the offset is the one that serves best."""
        if not len(self.apart_sec):
            return 1.0
        apart = np.sort(self.apart_sec)
        ends = np.searchsorted(apart, apart + sec, side="right")
        return float(np.max(ends - np.arange(len(apart))) / len(apart))

    def words(self) -> str:
        """Return the figures in a line."""
        low, mid, high = (
            np.percentile(1000 * self.apart_sec, [5, 50, 95])
            if len(self.apart_sec)
            else (0.0, 0.0, 0.0)
        )
        return (
            f"{len(self.apart_sec)} pairs, {len(self.missing)} missing, {len(self.extra)} extra; "
            f"offset {1000 * self.offset_sec:.2f} ms, p5 {low:+.2f} p50 {mid:+.2f} p95 {high:+.2f}"
        )


def notes_only(messages: Iterable[Got]) -> list[Got]:
    """Return the note-ons and note-offs, every note-off as 8x with velocity 0, ports forgotten."""
    found = []
    for got in messages:
        status = got.data[0] & 0xF0
        if status not in (0x80, 0x90):
            continue
        if status == 0x90 and got.data[2]:
            found.append(Got(got.t, "", got.data))
        else:
            found.append(Got(got.t, "", (0x80 | got.data[0] & 0x0F, got.data[1], 0)))
    return found


def align(
    first: Sequence[Got], second: Sequence[Got], *, most_apart_sec: float = 0.25
) -> Alignment:
    """Pair equal messages of two tellings in order, a constant offset apart.

    The offset is guessed from messages that both tell equally often, then each is paired with
    the earliest free one of its kind that lies no more than ``most_apart_sec`` off.
    """
    a, b = _by_data(first), _by_data(second)
    sure = [
        y.t - x.t
        for data in a.keys() & b.keys()
        if len(a[data]) == len(b[data])
        for x, y in zip(a[data], b[data], strict=True)
    ]
    guess = float(np.median(sure)) if sure else 0.0
    pairs: list[tuple[Got, Got]] = []
    missing, extra = [], []
    for data in sorted(a.keys() | b.keys()):
        free = list(b.get(data, ()))
        for x in a.get(data, ()):
            while free and free[0].t - x.t - guess < -most_apart_sec:
                extra.append(free.pop(0))
            if free and free[0].t - x.t - guess <= most_apart_sec:
                pairs.append((x, free.pop(0)))
            else:
                missing.append(x)
        extra += free
    apart = np.array([y.t - x.t for x, y in pairs])
    offset = float(np.median(apart)) if len(apart) else guess
    return Alignment(offset, apart - offset, sorted(missing), sorted(extra))


def _by_data(messages: Iterable[Got]) -> dict[tuple[int, ...], list[Got]]:
    found: dict[tuple[int, ...], list[Got]] = defaultdict(list)
    for got in sorted(messages, key=lambda one: one.t):
        found[got.data].append(got)
    return found
