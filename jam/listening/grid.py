"""Where do the notes of a line belong? Swing-aware quantisation, beat by beat.

Each beat takes the pattern that fits its notes best: duple (0, 1/2), triplet (0, 1/3, 2/3) or
sixteenths (0, 1/4, 1/2, 3/4), finer ones only for five notes and more. A pattern costs more the
rarer it is, so that an off-beat eighth at 0.55 to 0.75 of the beat is the swung 1/2 unless three
notes make a triplet of it. How late the player lies and how much he swings is estimated from the
phrase itself, then the patterns are chosen anew. A shortest path over the beats keeps the order
strict: no two notes share a place.

Beats are quarter notes. Soloists' downbeats lie late by about 30 ms at medium tempo (Nelias et
al. 2022, Communications Physics 5), their swing ratio is near 1.3 (Corcoran & Frieler 2021, Music
Perception 38(4)); both are the starting point of the estimate. The pattern costs are the
author's, tuned on made lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import floor, inf
from statistics import median

from jam.listening.phrase import LineNote

LAG_SEC = 0.020
OFF_BEAT = 0.57
SCATTER_SEC = 0.022
SCATTER_BEATS = 0.035
SWING_SCATTER_BEATS = 0.07
DROP_COST = 9.0
HURRIED_SEC = 0.075


@dataclass(frozen=True, slots=True)
class Placed:
    """A note with its place: ``beat`` and ``beats`` on the grid, ``heard`` as it was played."""

    beat: float
    beats: float
    heard: LineNote


@dataclass(frozen=True, slots=True)
class Grid:
    """A phrase on the grid.

    ``swing_ratio`` is the median beat-upbeat ratio (first eighth over second; Benadon 2006), None
    with fewer than three; ``lag_beats`` is how late the downbeats lie; ``triplets`` is the share
    of the beats with onsets that are triplets.
    """

    notes: tuple[Placed, ...]
    swing_ratio: float | None
    lag_beats: float
    triplets: float


@dataclass(frozen=True, slots=True)
class _Pattern:
    places: tuple[float, ...]
    parts: int
    cost: float


def _patterns() -> dict[int, tuple[_Pattern, ...]]:
    """Return all patterns of a beat by their number of notes."""
    costs: dict[tuple[int, tuple[int, ...]], float] = {
        (2, (0,)): 0.2, (2, (1,)): 0.5, (2, (0, 1)): 0.0,
        (3, (0, 1, 2)): 1.0, (3, (1, 2)): 3.0, (3, (0, 1)): 4.0, (3, (0, 2)): 4.5,
        (3, (1,)): 4.5, (3, (2,)): 5.0,
        (4, (0, 1, 2, 3)): 0.5, (4, (0, 2, 3)): 2.0, (4, (0, 1, 2)): 2.2, (4, (1, 2, 3)): 2.5,
        (4, (0, 1, 3)): 3.0, (4, (2, 3)): 2.5, (4, (0, 3)): 3.0, (4, (0, 1)): 3.0,
        (4, (1, 2)): 3.5, (4, (1, 3)): 4.0, (4, (3,)): 4.0, (4, (1,)): 4.5,
    }  # fmt: skip
    for parts in (6, 8):
        for count in range(5, parts + 1):
            for chosen in combinations(range(parts), count):
                costs[parts, chosen] = 2.0 + (parts - count)
    table: dict[int, list[_Pattern]] = {}
    for (parts, chosen), cost in costs.items():
        places = tuple(place / parts for place in chosen)
        table.setdefault(len(chosen), []).append(_Pattern(places, parts, cost))
    return {count: tuple(sorted(found, key=lambda p: p.cost)) for count, found in table.items()}


PATTERNS = _patterns()


def to_grid(notes: Sequence[LineNote]) -> Grid:
    """Return ``notes`` (in order of onset, one at a time) on the grid, grace notes absorbed."""
    beat_sec = _beat_sec(notes)
    line = _without_grace_notes(notes, beat_sec)
    if not line:
        return Grid((), None, 0.0, 0.0)
    feel = _Feel(beat_sec, LAG_SEC / beat_sec, OFF_BEAT + LAG_SEC / beat_sec)
    path = _best_path(line, feel)
    for _ in range(2):
        feel = _felt(path, line, feel)
        before, path = path, _best_path(line, feel)
        if path == before:
            break
    places = _Places(path)
    return Grid(
        _with_lengths(places, line),
        places.swing_ratio(line),
        feel.lag_beats,
        places.triplet_share(),
    )


def _beat_sec(notes: Sequence[LineNote]) -> float:
    """Return the length of a beat in seconds, read off the notes' own two times."""
    if not notes:
        return 0.5
    first, last = notes[0], notes[-1]
    beats = last.heard_beat + last.heard_beats - first.heard_beat
    return (last.end - first.t) / beats if beats > 0 and last.end > first.t else 0.5


def _without_grace_notes(notes: Sequence[LineNote], beat_sec: float) -> list[LineNote]:
    """Return the notes without those that are over in a flash before the next onset."""
    flash_sec = max(0.030, min(0.060, 0.11 * beat_sec))
    following = [*(note.t for note in notes[1:]), inf]
    return [note for note, t in zip(notes, following, strict=False) if t - note.t > flash_sec]


@dataclass(frozen=True, slots=True)
class _Feel:
    """``off_beat`` is where in the beat the off-beat eighth falls as heard."""

    beat_sec: float
    lag_beats: float
    off_beat: float

    def expected(self, pattern: _Pattern) -> list[tuple[float, float]]:
        """Return (place as heard, weight of a squared deviation) of each note of a pattern."""
        plain = (SCATTER_SEC / self.beat_sec) ** 2 + SCATTER_BEATS**2
        swung = plain + SWING_SCATTER_BEATS**2
        return [
            (self.off_beat, 0.5 / swung)
            if pattern.parts == 2 and place
            else (place + self.lag_beats, 0.5 / plain)
            for place in pattern.places
        ]

    def cost(self, pattern: _Pattern) -> float:
        """Return the pattern's cost at this tempo: places too close to be played cost more."""
        if pattern.parts == 2:
            return pattern.cost
        hurry = HURRIED_SEC * pattern.parts / self.beat_sec
        return pattern.cost + max(0.0, 4.0 * (hurry - 1.0)) + (0.0 if hurry > 0.6 else -0.5)


_Step = tuple[int, int, _Pattern]
"""(beat, index of its first note, pattern)"""


def _best_path(line: Sequence[LineNote], feel: _Feel) -> list[_Step]:
    """Return the cheapest patterns, beat after beat; notes that fit nowhere are left out."""
    heard = [note.heard_beat for note in line]
    table = {
        count: [(p, feel.cost(p), feel.expected(p)) for p in patterns]
        for count, patterns in PATTERNS.items()
    }
    states: dict[int, tuple[float, list[_Step]]] = {0: (0.0, [])}
    for beat in range(floor(heard[0] - 0.5), floor(heard[-1]) + 2):
        reached: dict[int, tuple[float, list[_Step]]] = {}
        for index in range(min(states), len(heard) + 1):
            if index not in states:
                continue
            cost, path = states[index]
            if index + 1 < len(heard) and heard[index] < beat + 0.6:
                _relax(states, index + 1, cost + DROP_COST, path)
            if index == len(heard) or heard[index] >= beat + 0.55:
                _relax(reached, index, cost, path)
            for count in range(1, min(8, len(heard) - index) + 1):
                if not (heard[index] > beat - 0.45 and heard[index + count - 1] < beat + 1.15):
                    break
                step_cost, pattern = _fit(table[count], heard[index : index + count], beat)
                _relax(reached, index + count, cost + step_cost, path, (beat, index, pattern))
        states = reached
    return min(states.values(), key=lambda state: state[0])[1] if states else []


def _relax(
    states: dict[int, tuple[float, list[_Step]]],
    index: int,
    cost: float,
    path: list[_Step],
    step: _Step | None = None,
) -> None:
    if index not in states or cost < states[index][0]:
        states[index] = (cost, path if step is None else [*path, step])


def _fit(
    patterns: Sequence[tuple[_Pattern, float, list[tuple[float, float]]]],
    heard: Sequence[float],
    beat: int,
) -> tuple[float, _Pattern]:
    best, chosen = inf, patterns[0][0]
    for pattern, cost, expected in patterns:
        for h, (place, weight) in zip(heard, expected, strict=True):
            if cost >= best:
                break
            cost += weight * (h - beat - place) ** 2
        if cost < best:
            best, chosen = cost, pattern
    return best, chosen


def _felt(path: Sequence[_Step], line: Sequence[LineNote], before: _Feel) -> _Feel:
    """Return how late and how swung the line is, held near the usual by a few made-up notes."""
    usual_lag = LAG_SEC / before.beat_sec
    downs, offs = [usual_lag] * 3, [before.lag_beats + OFF_BEAT] * 2
    for beat, index, pattern in path:
        if pattern.parts == 2:
            for offset, place in enumerate(pattern.places):
                kind = offs if place else downs
                kind.append(line[index + offset].heard_beat - beat)
    lag = min(0.15, max(-0.1, median(downs)))
    return _Feel(before.beat_sec, lag, min(lag + 0.72, max(lag + 0.45, median(offs))))


class _Places:
    """The chosen patterns, read note by note."""

    def __init__(self, path: Sequence[_Step]) -> None:
        self._path = path
        self.of_note = {
            index + offset: (beat + place, pattern.parts)
            for beat, index, pattern in path
            for offset, place in enumerate(pattern.places)
        }

    def triplet_share(self) -> float:
        triplets = sum(pattern.parts == 3 for _, _, pattern in self._path)
        return triplets / len(self._path) if self._path else 0.0

    def swing_ratio(self, line: Sequence[LineNote]) -> float | None:
        ratios = []
        for beat, index, pattern in self._path:
            following = self.of_note.get(index + 2)
            if pattern.places == (0.0, 0.5) and following and following[0] == beat + 1:
                down, off, then = (line[index + i].heard_beat for i in range(3))
                ratios.append((off - down) / (then - off))
        return median(ratios) if len(ratios) >= 3 else None


def _with_lengths(places: _Places, line: Sequence[LineNote]) -> tuple[Placed, ...]:
    indices = sorted(places.of_note)
    placed = []
    for index, following in zip(indices, [*indices[1:], None], strict=True):
        note = line[index]
        beat, parts = places.of_note[index]
        room = inf if following is None else places.of_note[following][0] - beat
        gap = inf if following is None else line[following].heard_beat - note.heard_beat
        placed.append(Placed(beat, _length(note.heard_beats, parts, room, gap), note))
    return tuple(placed)


def _length(heard_beats: float, parts: int, room: float, gap: float) -> float:
    """Return the written length: up to the next onset if the rest between would be a mere breath.

    Otherwise in whole eighths (or the beat's own parts, where they are finer), one at least.
    """
    legato = heard_beats >= 0.5 * gap and (room <= 1.0 or heard_beats > gap - 0.4)
    if room <= 0.5 or legato:
        return room
    unit = 1.0 / parts
    return min(room, max(unit, round(heard_beats / unit) * unit))
