"""Where in the beat did people put their notes, when the beat is known?

A player's call is read with a strong liking for plain rhythms (`jam.listening.grid`): a guess that
is too fine helps nobody there. Habits are learnt with a weak one, so that people's uneven rhythms
are kept. Beat by beat the pattern that fits best is taken; a beat's last note may be the next one's
downbeat come early, and the cheapest way through the line decides.

How far behind the beat somebody lies is found first, from the line. So beats of solos left out
are foretold in 3.95 bits instead of 4.10 (38 solos of the Weimar Jazz Database, Pfleiderer et al.
2017; four folds), and what a machine played on the grid is read as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from math import floor

from jam.idiom.classes import TICKS

_EIGHTHS = 2
_DIVISIONS: dict[int, tuple[float, tuple[float, ...], tuple[int, ...]]] = {
    2: (0.0, (0.0, 0.58), (0, 6)),
    3: (0.9, (0.0, 1 / 3, 2 / 3), (0, 4, 8)),
    4: (1.2, (0.0, 0.27, 0.52, 0.77), (0, 3, 6, 9)),
    6: (3.0, tuple(k / 6 for k in range(6)), (0, 2, 4, 6, 8, 10)),
    8: (3.6, tuple(k / 8 for k in range(8)), (0, 1, 3, 4, 6, 7, 9, 10)),
}
"""Parts of a beat -> what dividing it so costs, where the parts usually lie, their ticks."""

LAG_SEC = 0.025
"""How far behind the beat soloists usually lie."""

_LAGS_SEC = (-0.0125, 0.0, 0.0125, 0.025, 0.0375, 0.05)
_MOST_LATE = 0.12
_WIDE_OFF, _WIDE_ON, _WIDE = 0.09, 0.11, 0.05
"""How far from its place a swung eighth, a downbeat and any other note usually falls, in beats."""

_BORDER = 0.68
"""From this share of a beat on, its last note may belong to the next beat, played early."""


@dataclass(frozen=True)
class _Way:
    """The ticks found so far, what they cost, and the note handed on to the next beat."""

    cost: float
    ticks: tuple[int, ...]
    early: float | None = None


def usual_lag(lines: Sequence[Sequence[float]], bpm: float) -> float:
    """Return by how many seconds the onsets of these lines (beats, rising) lie behind the beat.

    It is that of a few by which they fit the grid best: people lie behind, machines do not.
    """
    costs = {
        lag: sum(_cheapest(line, _late_beats(lag, bpm)).cost for line in lines) for lag in _LAGS_SEC
    }
    return min(costs, key=lambda lag: (costs[lag], abs(lag - LAG_SEC)))


def placed(heard_beats: Sequence[float], bpm: float, lag_sec: float = LAG_SEC) -> list[int]:
    """Return the tick of each onset of a line (beats, rising), each later than the one before."""
    ticks = list(_cheapest(heard_beats, _late_beats(lag_sec, bpm)).ticks)
    for index in range(1, len(ticks)):
        ticks[index] = max(ticks[index], ticks[index - 1] + 1)
    return ticks


def _late_beats(lag_sec: float, bpm: float) -> float:
    return min(_MOST_LATE, lag_sec * bpm / 60.0)


def _cheapest(heard_beats: Sequence[float], late: float) -> _Way:
    """Return the cheapest way through a line that lies ``late`` beats behind."""
    inside: dict[int, list[float]] = {}
    for beat in heard_beats:
        inside.setdefault(floor(beat - late), []).append(beat - late)
    ways, last = [_Way(0.0, ())], -(10**9)
    for whole, members in sorted(inside.items()):
        if whole > last + 1:
            ways = [_kept(ways, last)]
        ways, last = _through(ways, whole, members), whole
    return _kept(ways, last)


def _through(ways: Sequence[_Way], whole: int, members: Sequence[float]) -> list[_Way]:
    """Return the best ways past a beat: with its last note kept, and with it handed on."""
    found: dict[bool, _Way] = {}
    for way in ways:
        notes = [*([way.early] if way.early is not None else []), *members]
        for gives in (False, True) if notes[-1] - whole >= _BORDER else (False,):
            kept = notes[:-1] if gives else notes
            cost, places = _fitted(tuple(round(note - whole, 3) for note in kept))
            ticks = (*way.ticks, *(whole * TICKS + place for place in places))
            new = _Way(way.cost + cost, ticks, notes[-1] if gives else None)
            if gives not in found or new.cost < found[gives].cost:
                found[gives] = new
    return list(found.values())


def _kept(ways: Sequence[_Way], whole: int) -> _Way:
    """Return the best way to end here; a note handed on stands on the next beat alone."""
    ended = []
    for way in ways:
        if way.early is None:
            ended.append(way)
            continue
        cost, places = _fitted((round(way.early - whole - 1, 3),))
        ended.append(_Way(way.cost + cost, (*way.ticks, (whole + 1) * TICKS + places[0])))
    return min(ended, key=lambda way: way.cost)


@lru_cache(maxsize=50_000)
def _fitted(notes: tuple[float, ...]) -> tuple[float, tuple[int, ...]]:
    """Return cost and ticks of the notes of one beat, which lie from 0 to 1."""
    if not notes:
        return 0.0, ()
    best: tuple[float, tuple[int, ...]] | None = None
    for parts, (dear, places, ticks) in _DIVISIONS.items():
        if len(notes) > parts or (parts > 4 and len(notes) < 4):
            continue
        for chosen in combinations(range(parts), len(notes)):
            cost = dear + sum(
                ((note - places[k]) / _wide(parts, k)) ** 2
                for note, k in zip(notes, chosen, strict=True)
            )
            if best is None or cost < best[0]:
                best = (cost, tuple(ticks[k] for k in chosen))
    if best is not None:
        return best
    return 20.0, tuple(min(TICKS - 1, k * TICKS // len(notes)) for k in range(len(notes)))


def _wide(parts: int, part: int) -> float:
    if part == 0:
        return _WIDE_ON
    return _WIDE_OFF if parts == _EIGHTHS else _WIDE
