"""From played lines to counts.

Each phrase is put on the grid with a weak liking for plain rhythms (`jam.idiom.placing`).
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from statistics import median

import numpy as np

from jam.harmony.changes import Changes
from jam.harmony.chord import Chord
from jam.idiom.classes import (
    TICKS,
    family_class,
    gap_class,
    interval_class,
    place_class,
    tempo_class,
)
from jam.idiom.counts import SPREADS, Counts, Key
from jam.idiom.placing import placed, usual_lag
from jam.idiom.windows import window_hashes
from jam.listening.phrase import LineNote
from jam.transport.metre import Bars
from jam.transport.swing import swing_beat

MOST_PATTERNS = 64
MOST_IN_BEAT = 6
_LINE_REST = 2 * TICKS
_FEWEST = 8
_STEADY_MS = 0.5
_QUANTILES = np.linspace(0.0, 1.0, 21)


@dataclass(frozen=True)
class Played:
    """A line as somebody played it: its phrases, each a run of notes, over chords and bars."""

    phrases: tuple[tuple[LineNote, ...], ...]
    changes: Changes
    bpm: float
    bars: Bars = field(default_factory=Bars)
    pulse_beats: float = 1.0


@dataclass(frozen=True)
class _Note:
    tick: int
    played: LineNote


def learn(lines: Sequence[Played]) -> Counts:
    """Return the counts of all lines together."""
    tally = _Tally()
    for line in lines:
        tally.take(line)
    return tally.counts()


class _Tally:
    def __init__(self) -> None:
        self.notes = self.phrases = 0
        self.steps: Counter[Key] = Counter()
        self.bare: Counter[Key] = Counter()
        self.first: Counter[Key] = Counter()
        self.last: Counter[Key] = Counter()
        self.beats: list[tuple[int, list[Key]]] = []
        self.spreads: dict[str, list[list[float]]] = {
            n: [[] for _ in range(k)] for n, k in SPREADS.items()
        }
        self.neighbours: list[tuple[float, float]] = []
        self.windows: set[int] = set()

    def take(self, line: Played) -> None:
        tempo = tempo_class(line.bpm)
        lines = [phrase for phrase in line.phrases if len(phrase) >= 2]
        lag_sec = usual_lag([[n.heard_beat for n in phrase] for phrase in lines], line.bpm)
        phrases = [_on_grid(phrase, line.bpm, lag_sec) for phrase in lines]
        whole = [note for phrase in phrases for note in phrase]
        pitches = [note.played.pitch for note in whole]
        self.windows.update(window_hashes(pitches, [note.tick for note in whole]))
        for phrase in phrases:
            self._steps(phrase, line)
            self._rhythm(phrase, line, tempo)
            self._time(phrase, line, tempo)
        for one, other in pairwise(phrases):
            rest = (other[0].tick - one[-1].tick) / TICKS
            if rest > 0:
                self.spreads["rest_beats"][tempo].append(rest)

    def _steps(self, phrase: Sequence[_Note], line: Played) -> None:
        self.notes += len(phrase)
        self.phrases += 1
        reached = 0
        for end, counter in ((phrase[0], self.first), (phrase[-1], self.last)):
            chord = _chord(line.changes, end.tick)
            if chord is not None:
                degree = (end.played.pitch - chord.root) % 12
                family = family_class(chord)
                place = _place(end.tick, line)
                key = (family, place, degree) if counter is self.first else (family, degree)
                counter[key] += 1
        for one, other in pairwise(phrase):
            gap = other.tick - one.tick
            interval = max(-12, min(12, other.played.pitch - one.played.pitch))
            chord = _chord(line.changes, other.tick)
            self.bare[gap_class(gap), reached, interval + 12] += 1
            if chord is not None:
                degree = (one.played.pitch - chord.root) % 12
                self.steps[
                    family_class(chord), _place(other.tick, line), gap_class(gap),
                    reached, degree, interval + 12,
                ] += 1  # fmt: skip
            reached = 0 if gap >= _LINE_REST + 2 else interval_class(interval)

    def _rhythm(self, phrase: Sequence[_Note], line: Played, tempo: int) -> None:
        first, last = phrase[0].tick, phrase[-1].tick
        self.spreads["phrase_beats"][tempo].append((last - first) / TICKS)
        if line.pulse_beats == 1.5:
            return
        inside: defaultdict[int, list[int]] = defaultdict(list)
        for note in phrase:
            inside[note.tick // TICKS].append(note.tick % TICKS)
        row = [tuple(inside[beat]) for beat in range(first // TICKS, last // TICKS + 1)]
        self.beats.append((tempo, row))

    def _time(self, phrase: Sequence[_Note], line: Played, tempo: int) -> None:
        ratios = list(_ratios(phrase))
        self.spreads["swing"][tempo] += ratios
        ratio = median(ratios) if ratios else 1.0
        beat_ms = 60_000.0 / line.bpm
        off = [
            (note.played.heard_beat - swing_beat(note.tick / TICKS, ratio)) * beat_ms
            for note in phrase
        ]
        middle = median(off)
        self.neighbours += pairwise([late - middle for late in off])
        for note, late in zip(phrase, off, strict=True):
            self.spreads["early_late"][4 * tempo + _place(note.tick, line)].append(late)
        for one, other in pairwise(phrase):
            gap = other.played.t - one.played.t
            share = (one.played.end - one.played.t) / gap if gap > 0 else 1.0
            self.spreads["sounding"][gap_class(other.tick - one.tick)].append(min(1.0, share))

    def counts(self) -> Counts:
        """Return what was counted, spreads as quantiles."""
        seen = Counter(p for _, row in self.beats for p in row if 0 < len(p) <= MOST_IN_BEAT)
        patterns = ((), *(p for p, _ in seen.most_common(MOST_PATTERNS - 1)))
        beats, opening, closing = _beat_counts(self.beats, patterns)
        return Counts(
            self.notes, self.phrases, self.steps, self.bare, self.first, self.last, patterns, beats,
            opening, closing,
            {name: _spread(rows) for name, rows in self.spreads.items()},
            _correlation(self.neighbours), frozenset(self.windows),
        )  # fmt: skip


def _on_grid(notes: Sequence[LineNote], bpm: float, lag_sec: float) -> list[_Note]:
    ticks = placed([note.heard_beat for note in notes], bpm, lag_sec)
    return [_Note(tick, note) for tick, note in zip(ticks, notes, strict=True)]


def _chord(changes: Changes, tick: int) -> Chord | None:
    if not changes:
        return None
    chord = changes.at(tick / TICKS).chord
    return None if chord.is_none else chord


def _place(tick: int, line: Played) -> int:
    bar, _ = line.bars.at(tick / TICKS)
    start, end = line.bars.start(bar), line.bars.start(bar + 1)
    pulse = 18 if line.pulse_beats == 1.5 else TICKS
    return place_class(tick - round(start * TICKS), round((end - start) * TICKS), pulse)


def _ratios(phrase: Sequence[_Note]) -> Iterator[float]:
    """Yield the ratio of each beat that holds two eighths and is followed by a beat."""
    for a, b, c in zip(phrase, phrase[1:], phrase[2:], strict=False):
        if a.tick % TICKS == 0 and b.tick - a.tick == TICKS // 2 and c.tick - a.tick == TICKS:
            long = b.played.heard_beat - a.played.heard_beat
            short = c.played.heard_beat - b.played.heard_beat
            if long > 0 and short > 0:
                yield min(4.0, max(0.4, long / short))


def _beat_counts(
    rows: Sequence[tuple[int, list[Key]]], patterns: Sequence[Key]
) -> tuple[Counter[Key], Counter[Key], Counter[Key]]:
    index = {pattern: number for number, pattern in enumerate(patterns)}
    beats: Counter[Key] = Counter()
    opening: Counter[Key] = Counter()
    closing: Counter[Key] = Counter()
    for tempo, row in rows:
        numbers = [index[p] if p in index else nearest(p, patterns) for p in row]
        opening[tempo, numbers[0]] += 1
        closing[tempo, numbers[-1]] += 1
        for a, b, c in zip([0, 0, *numbers], [0, *numbers], numbers, strict=False):
            beats[tempo, a, b, c] += 1
    return beats, opening, closing


def nearest(pattern: Key, patterns: Sequence[Key]) -> int:
    """Return the number of the pattern most like one that is not among them."""

    def off(number: int) -> tuple[int, int, int]:
        other = patterns[number]
        apart = sum(abs(a - b) for a, b in zip(pattern, other, strict=False))
        return abs(len(pattern) - len(other)), apart, number

    return min(range(len(patterns)), key=off)


def _spread(rows: Sequence[Sequence[float]]) -> list[list[float]]:
    """Return the quantiles of each class; one with too few values to say so has none, unless all
    have too few."""
    fewest = min(_FEWEST, max(map(len, rows)))
    return [_quantiles(row) if len(row) >= fewest else [] for row in rows]


def _quantiles(values: Sequence[float]) -> list[float]:
    if not values:
        return []
    return [round(float(q), 4) for q in np.quantile(np.array(values), _QUANTILES)]


def _correlation(pairs: Sequence[tuple[float, float]]) -> float:
    """Return the correlation of pairs; 0 for too few of them, or where a machine kept time."""
    both = np.array(pairs)
    if len(pairs) < 10 or both.std(axis=0).min() < _STEADY_MS:
        return 0.0
    return round(float(np.corrcoef(both.T)[0, 1]), 4)
