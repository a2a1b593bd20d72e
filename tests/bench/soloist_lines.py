"""A line as the measuring tools hear it: notes on a grid of twelfths, phrases, chords and roles.

Nothing here is the engine's: quantisation, phrase limits and roles are worked out anew from what
sounds, alike for people and for replies. Beats are quarter notes; a tick is a twelfth of a beat.

Roles as the published figures on human solos define them (208 solos of the Weimar Jazz Database,
Pfleiderer et al. 2017): chord tone (1 3 5 7, or 6 for the 7th), tension (major and dominant 9 #11
13, minor 9 11 13, half-diminished 9 11 b13, diminished a whole step above a chord tone), altered
(b9 #9 b13 on dominants), other.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import combinations, pairwise
from math import floor

import numpy as np

from tests.audit.chords import Sound, read

TICKS = 12
BAR = 4 * TICKS
KINDS = ("major", "minor", "dominant", "half-diminished", "diminished")
ROLES = ("chord", "tension", "altered", "other")

_TENSIONS = {
    "major": frozenset({2, 6, 9}),
    "dominant": frozenset({2, 6, 9}),
    "minor": frozenset({2, 5, 9}),
    "half-diminished": frozenset({2, 5, 8}),
    "diminished": frozenset({2, 5, 8, 11}),
}
_ALTERED = frozenset({1, 3, 8})


@dataclass(frozen=True)
class Harmony:
    """Chord symbols with the beats from which they hold; the first one holds before its beat."""

    beats: tuple[float, ...]
    symbols: tuple[str, ...]

    def at(self, beat: float) -> str:
        """Return the symbol that holds at ``beat``."""
        return self.symbols[max(0, bisect_right(self.beats, beat + 1e-4) - 1)]


@dataclass(frozen=True)
class Line:
    """Notes in order: ``ticks`` on the grid, ``heard`` and ``lengths`` in beats as they sound.

    ``phrases`` numbers the phrase of each note. ``name`` is the tune or solo it belongs to.
    """

    name: str
    bpm: float
    ticks: tuple[int, ...]
    heard: tuple[float, ...]
    lengths: tuple[float, ...]
    pitches: tuple[int, ...]
    phrases: tuple[int, ...]
    harmony: Harmony
    bar: int = BAR
    velocities: tuple[int, ...] = ()

    def __len__(self) -> int:
        return len(self.ticks)

    @cached_property
    def intervals(self) -> tuple[int, ...]:
        """Semitones from note to note, across phrases too."""
        return tuple(b - a for a, b in pairwise(self.pitches))

    @cached_property
    def degrees(self) -> tuple[int, ...]:
        """Semitones above the root, -1 where no chord sounds."""
        return tuple(
            degree_of(self.harmony.at(t / TICKS), p)
            for t, p in zip(self.ticks, self.pitches, strict=True)
        )

    @cached_property
    def roles(self) -> tuple[str, ...]:
        """The role of each note, empty where no chord sounds."""
        return tuple(
            role_of(self.harmony.at(t / TICKS), p)
            for t, p in zip(self.ticks, self.pitches, strict=True)
        )

    @cached_property
    def spans(self) -> tuple[tuple[int, int], ...]:
        """From and to (excluded) of each phrase, as indices of notes."""
        cuts = [i for i in range(1, len(self)) if self.phrases[i] != self.phrases[i - 1]]
        edges = [0, *cuts, len(self)]
        return tuple((a, b) for a, b in pairwise(edges) if b > a)

    def part(self, start: float, end: float) -> Line:
        """Return the notes with ``start <= tick / 12 < end`` (beats)."""
        kept = [i for i, t in enumerate(self.ticks) if start <= t / TICKS < end]
        first, last = (kept[0], kept[-1] + 1) if kept else (0, 0)
        return Line(
            self.name,
            self.bpm,
            self.ticks[first:last],
            self.heard[first:last],
            self.lengths[first:last],
            self.pitches[first:last],
            self.phrases[first:last],
            self.harmony,
            self.bar,
            self.velocities[first:last],
        )


@lru_cache(maxsize=4096)
def kind_of(symbol: str) -> str:
    """Return the kind of a chord, one of `KINDS`; empty for no chord."""
    sound = read(symbol)
    if sound.silent:
        return ""
    steps = {(tone - sound.root) % 12 for tone in sound.tones}
    if {3, 6} <= steps and 7 not in steps:
        return "half-diminished" if 10 in steps else "diminished"
    if 10 in steps and (4 in steps or 3 not in steps):
        return "dominant"
    return "minor" if 3 in steps and 4 not in steps else "major"


@lru_cache(maxsize=4096)
def sound_of(symbol: str) -> Sound:
    """Return the chord as the audit reads it."""
    return read(symbol)


def degree_of(symbol: str, pitch: int) -> int:
    """Return semitones above the root, -1 on no chord."""
    sound = sound_of(symbol)
    return -1 if sound.silent else (pitch - sound.root) % 12


def role_of(symbol: str, pitch: int) -> str:
    """Return the role of ``pitch`` on a chord, one of `ROLES`; empty on no chord."""
    sound = sound_of(symbol)
    if sound.silent:
        return ""
    if pitch % 12 in sound.tones:
        return "chord"
    kind, step = kind_of(symbol), (pitch - sound.root) % 12
    if step in _TENSIONS[kind]:
        return "tension"
    return "altered" if kind == "dominant" and step in _ALTERED else "other"


# --- the grid ----------------------------------------------------------------------------

_COSTS = {1: 0.0, 2: 0.0, 3: 0.9, 4: 1.2, 6: 3.0, 8: 3.6}
_PLACES = {
    2: (0.0, 0.58),
    3: (0.0, 1 / 3, 2 / 3),
    4: (0.0, 0.27, 0.52, 0.77),
    6: tuple(k / 6 for k in range(6)),
    8: tuple(k / 8 for k in range(8)),
}
_GRID = {
    2: (0, 6),
    3: (0, 4, 8),
    4: (0, 3, 6, 9),
    6: (0, 2, 4, 6, 8, 10),
    8: (0, 1, 3, 4, 6, 7, 9, 10),
}
_LATE_SEC = 0.025
_WIDE_OFF, _WIDE_ON, _WIDE = 0.09, 0.11, 0.05
_BORDER = 0.68
"""From this share of a beat on, its last note may belong to the next beat, played early."""


def on_grid(heard: Sequence[float], bpm: float) -> list[int]:
    """Return the tick of each onset (beats, rising): beat by beat the pattern that fits best.

    Off-beat eighths may lie anywhere from even to a triplet's last. A beat's last note may be
    the next one's downbeat come early; the cheapest way through the line decides.
    """
    late = min(0.12, _LATE_SEC * bpm / 60)
    by_beat: dict[int, list[float]] = {}
    for beat in heard:
        by_beat.setdefault(floor(beat - late), []).append(beat - late)
    ways: dict[bool, tuple[float, list[int]]] = {False: (0.0, [])}
    before: tuple[int, float | None] = (-(10**9), None)
    for whole, members in sorted(by_beat.items()):
        if whole > before[0] + 1:
            ways = _closed(ways, before)
        borrowed = before[1] if whole == before[0] + 1 else None
        ways = _through(ways, whole, members, borrowed)
        last = members[-1] - whole
        before = (whole, members[-1] if last >= _BORDER else None)
    ticks = _closed(ways, before)[False][1]
    for index in range(1, len(ticks)):
        ticks[index] = max(ticks[index], ticks[index - 1] + 1)
    return ticks


_Ways = dict[bool, tuple[float, list[int]]]
"""By whether the last note is handed on to the next beat: cost and ticks up to there."""


def _through(ways: _Ways, whole: int, members: Sequence[float], borrowed: float | None) -> _Ways:
    found: _Ways = {}
    for took, (cost, ticks) in ways.items():
        inside = ([borrowed] if took and borrowed is not None else []) + list(members)
        for gives in (False, True):
            if gives and inside[-1] - whole < _BORDER:
                continue
            kept = inside[:-1] if gives else inside
            price, places = _fit(tuple(round(beat - whole, 3) for beat in kept))
            total = cost + price
            if gives not in found or total < found[gives][0]:
                found[gives] = (total, [*ticks, *(whole * TICKS + place for place in places)])
    return found


def _closed(ways: _Ways, before: tuple[int, float | None]) -> _Ways:
    """Let a note that was handed on stand on the next beat alone."""
    best = ways[False]
    whole, borrowed = before
    if True in ways and borrowed is not None:
        price, places = _fit((round(borrowed - whole - 1, 3),))
        total = ways[True][0] + price
        if total < best[0]:
            best = (total, [*ways[True][1], (whole + 1) * TICKS + places[0]])
    return {False: best}


@lru_cache(maxsize=100_000)
def _fit(inside: tuple[float, ...]) -> tuple[float, tuple[int, ...]]:
    """Return cost and places of the notes of one beat."""
    if not inside:
        return 0.0, ()
    best: tuple[float, tuple[int, ...]] | None = None
    for parts, places in _PLACES.items():
        if len(inside) > len(places) or (parts > 4 and len(inside) < 4):
            continue
        for chosen in combinations(range(len(places)), len(inside)):
            cost = _COSTS[parts]
            for place, index in zip(inside, chosen, strict=True):
                off = place - places[index]
                wide = _WIDE_OFF if parts == 2 and index else _WIDE_ON if not index else _WIDE
                cost += (off / wide) ** 2
            if best is None or cost < best[0]:
                best = (cost, tuple(_GRID[parts][index] for index in chosen))
    if best is not None:
        return best
    crowd = tuple(min(TICKS - 1, k * TICKS // len(inside)) for k in range(len(inside)))
    return 20.0, crowd


def phrase_numbers(
    ticks: Sequence[int], lengths: Sequence[float], *, gap_beats: float = 2.0
) -> tuple[int, ...]:
    """Return the phrase of each note: a new one begins after ``gap_beats`` from onset to onset
    or, from three quarters of that on, after a rest of three quarters of a beat or more."""
    numbers = [0] if ticks else []
    for (a, length), b in zip(zip(ticks, lengths, strict=True), ticks[1:], strict=False):
        gap = (b - a) / TICKS
        cut = gap >= gap_beats or (gap >= 0.75 * gap_beats and gap - length >= 0.75)
        numbers.append(numbers[-1] + cut)
    return tuple(numbers)


def transposed(line: Line, semitones: int) -> Line:
    """Return the notes moved by ``semitones`` over the same chords."""
    return Line(
        line.name,
        line.bpm,
        line.ticks,
        line.heard,
        line.lengths,
        tuple(p + semitones for p in line.pitches),
        line.phrases,
        line.harmony,
        line.bar,
        line.velocities,
    )


def quantiles(values: Sequence[float], shares: Sequence[float]) -> list[float]:
    """Return the quantiles of ``values``, nan where there are none."""
    return (
        [float(x) for x in np.quantile(values, shares)]
        if len(values)
        else [float("nan")] * len(shares)
    )
