"""The ground a reply stands on: when the beats fall, and which chord holds where.

Beats are quarter notes since the session's first downbeat, seconds are the session's. Of several
chords named for one beat the latest ``at`` holds; a symbol of null withdraws the one before.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from .chords import Sound, UnknownSymbolError, read

EPS = 1e-3
"""Beats closer than this are the same beat."""

Record = Mapping[str, Any]


@dataclass(frozen=True)
class Change:
    """A chord from ``beat`` to ``end``; ``known`` is the ``at`` from which on the log names it.

    ``again`` says that the chord before is the same one, with other tensions named.
    """

    beat: float
    end: float
    sound: Sound
    passing: bool
    known: float
    again: bool = False


class Beats:
    """The announced beats, the only bridge between beats and seconds here."""

    def __init__(self, records: Iterable[Record]) -> None:
        points = {float(r["beat"]): r for r in records}
        self.beats = sorted(points)
        self.secs = [float(points[beat]["t"]) for beat in self.beats]
        self.bpms = [float(points[beat]["bpm"]) for beat in self.beats]
        self.bar_starts = [b for b in self.beats if points[b].get("beat_in_bar") == 1]
        self.bars = [int(points[b].get("bar", 0)) for b in self.bar_starts]

    def sec(self, beat: float) -> float:
        """Return when ``beat`` falls, straight between the announced beats."""
        if not self.beats:
            return 0.0
        i = min(max(bisect_right(self.beats, beat) - 1, 0), len(self.beats) - 1)
        j = i + 1
        if (i == 0 and beat < self.beats[0]) or j == len(self.beats):
            return self.secs[i] + (beat - self.beats[i]) * 60.0 / self.bpms[i]
        share = (beat - self.beats[i]) / (self.beats[j] - self.beats[i])
        return self.secs[i] + share * (self.secs[j] - self.secs[i])

    def beat(self, sec: float) -> float:
        """Return the beat that falls at ``sec``."""
        if not self.beats:
            return 0.0
        i = min(max(bisect_right(self.secs, sec) - 1, 0), len(self.beats) - 1)
        j = i + 1
        if (i == 0 and sec < self.secs[0]) or j == len(self.beats):
            return self.beats[i] + (sec - self.secs[i]) * self.bpms[i] / 60.0
        share = (sec - self.secs[i]) / (self.secs[j] - self.secs[i])
        return self.beats[i] + share * (self.beats[j] - self.beats[i])

    def bpm(self, beat: float) -> float:
        """Return the announced tempo at ``beat``, in quarter notes a minute."""
        if not self.beats:
            return 120.0
        return self.bpms[max(0, bisect_right(self.beats, beat + EPS) - 1)]

    def bar_beats(self) -> float:
        """Return the usual length of a bar in beats (4 when fewer than two bars are known)."""
        lengths = sorted(b - a for a, b in pairwise(self.bar_starts))
        return lengths[len(lengths) // 2] if lengths else 4.0

    def seams(self, start: float, end: float) -> list[float]:
        """Return the two-bar seams with ``start < beat < end`` (every second bar of the form)."""
        starts = [b for b, bar in zip(self.bar_starts, self.bars, strict=True) if bar % 2]
        return [b for b in starts if start + EPS < b < end - EPS]


class Harmony:
    """The chords as they stand at the end of the log, the same chord in a row run together."""

    def __init__(self, records: Iterable[Record]) -> None:
        self.unreadable: list[str] = []
        self.changes: tuple[Change, ...] = tuple(self._run_together(self._standing(records)))
        self._beats = [change.beat for change in self.changes]

    def at(self, beat: float) -> Change | None:
        """Return the change that holds at ``beat``, or None before the first."""
        index = bisect_right(self._beats, beat + EPS) - 1
        return self.changes[index] if index >= 0 else None

    def after(self, beat: float) -> Change | None:
        """Return the first change later than ``beat``, or None."""
        index = bisect_right(self._beats, beat + EPS)
        return self.changes[index] if index < len(self.changes) else None

    def between(self, start: float, end: float) -> list[Change]:
        """Return the changes with ``start < beat < end``."""
        return [c for c in self.changes if start + EPS < c.beat < end - EPS]

    def _standing(self, records: Iterable[Record]) -> list[tuple[float, Record, float]]:
        """Return beat, record that holds there, and since when the log says so."""
        history: dict[float, list[Record]] = {}
        for record in sorted(records, key=lambda r: float(r["at"])):
            history.setdefault(round(float(record["beat"]), 3), []).append(record)
        standing = []
        for beat, told in sorted(history.items()):
            if told[-1]["symbol"] is None:
                continue
            since = len(told) - 1
            while since and told[since - 1]["symbol"] == told[-1]["symbol"]:
                since -= 1
            standing.append((beat, told[-1], float(told[since]["at"])))
        return standing

    def _run_together(self, standing: Sequence[tuple[float, Record, float]]) -> list[Change]:
        changes: list[Change] = []
        for beat, record, known in standing:
            try:
                sound = read(record["symbol"])
            except UnknownSymbolError:
                self.unreadable.append(record["symbol"])
                continue
            if changes and changes[-1].sound.sounds_as(sound):
                continue
            passing = bool(record.get("passing", False))
            again = bool(changes) and changes[-1].sound.same_as(sound)
            changes.append(Change(beat, float("inf"), sound, passing, known, again))
        ends = [*(c.beat for c in changes[1:]), float("inf")][: len(changes)]
        return [replace(c, end=end) for c, end in zip(changes, ends, strict=True)]
