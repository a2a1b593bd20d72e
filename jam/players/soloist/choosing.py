"""Which of the lines drawn answers best?

Every line keeps the hard rules and is likely enough; here they are weighed as wholes, in whole
numbers: does it say the idea so that it is known again, does it not repeat what was said lately,
does it move as people's phrases do, is it nobody's own phrase.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import log2

from jam.idiom.windows import window_hashes
from jam.players.soloist.form import Form
from jam.players.soloist.lattice import Point
from jam.players.soloist.manner import at_tempo
from jam.players.soloist.moves import RETIMED
from jam.players.soloist.places import Place
from jam.players.soloist.request import Request
from jam.players.soloist.slots import TICKS, Slot, to_ticks

_WINDOW = 5
"""Intervals in a window of six notes."""

_COPIED = 100_000
"""More than all else that can be wrong with a line."""

_STRANGE = 200
_AKIN = 0.65
_STALE = 60
_MARCHED = 25
_UNLIKE = 30
_STUCK = 20
_CROWDED = 40
_SAID = 6
GOOD_ENOUGH, ACCEPTABLE = 90, _COPIED - 1
"""A line no worse than this as a whole is not bettered; one no worse than that, not for long."""
_NARROW = 6
_LEAST_SPAN = 11


@dataclass(frozen=True)
class Tried:
    """A line through the slots of one form; ``cost`` is what is wrong with it as a whole."""

    form: Form
    slots: list[Slot]
    where: list[Place]
    points: list[Point]
    cost: int = 0


class Worth:
    """Judges the lines of one request."""

    def __init__(self, request: Request) -> None:
        self._request = request
        self._low = request.style.instrument.low
        lines = [pattern([note.pitch for note in reply]) for reply in request.memory.said]
        self._said = {
            old[i : i + _WINDOW]
            for old in (*lines, *request.recent)
            for i in range(len(old) - _WINDOW + 1)
        }
        call = request.call
        self._call = pattern([n.pitch for n in call.notes]) if call is not None else ()
        self._steps: Counter[tuple[int, ...]] = Counter()
        self._gaps: Counter[tuple[int, int]] = Counter()
        self._own_windows: frozenset[int] = frozenset()
        if call is not None:
            ticks = [to_ticks(note.beat) for note in call.notes]
            self._steps = Counter(_steps(self._call, ticks))
            gaps = [b - a for a, b in pairwise(ticks)]
            self._gaps = Counter(pairwise(gaps))
            self._own_windows = frozenset(window_hashes([n.pitch for n in call.notes], ticks))

    def judged(self, tried: Tried) -> Tried:
        """Return the line with its cost."""
        pitches = [self._low + point.index for point in tried.points]
        line = pattern(pitches)
        ticks = [slot.tick for slot in tried.slots]
        cost = self._stale(line) + _marched(line, ticks)
        cost += _unlike(tried.slots, pitches) + _shape(pitches)
        cost += self._strange(line, ticks) + self._crowded(tried.form, tried.slots)
        if self._copies(line):
            cost += _COPIED
        return replace(tried, cost=cost)

    def _crowded(self, form: Form, slots: Sequence[Slot]) -> int:
        """Return the cost of having far more or fewer notes a beat than wanted."""
        aim = self._request.style.rhythm.density * at_tempo(self._request.bpm)
        aim *= form.manner.density
        sounding = sum(min(slot.ticks, TICKS) for slot in slots) / TICKS
        off = abs(log2(len(slots) / max(sounding, 1.0) / aim))
        return round(_CROWDED * max(0.0, off - 0.3))

    def _strange(self, line: Sequence[int], ticks: Sequence[int]) -> int:
        """Return the cost of a reply that shares too little with the call, step by step."""
        if not self._steps:
            return 0
        steps = _steps(line, ticks)
        left = self._steps.copy()
        count = 0
        for step in steps:
            if left.get(step, 0):
                left[step] -= 1
                count += 1
        shared = count / max(len(steps), 1)
        akin = _AKIN * (0.4 + 0.8 * self._request.style.idea.literal)
        return round(_STRANGE * max(0.0, akin - shared))

    def of_rhythm(self, form: Form, slots: Sequence[Slot]) -> int:
        """Return what is wrong with a rhythm before it has pitches: its density, and how little of
        the call is in it."""
        return self._crowded(form, slots) - _SAID * self._taken_up(slots)

    def _taken_up(self, slots: Sequence[Slot]) -> int:
        """Return how many pairs of gaps are the call's own, and how many of its intervals it wants;
        what puts the idea into another rhythm is none the worse for it."""
        left = Counter(self._gaps)
        count = 0
        for one, middle, other in zip(slots, slots[1:], slots[2:], strict=False):
            pair = (middle.tick - one.tick, other.tick - middle.tick)
            if left[pair] > 0:
                left[pair] -= 1
                count += 1
            if other.wanted is not None and other.place > 1:
                count += 2 if other.move in RETIMED else 1
        return count

    def best(self, tries: Sequence[Tried]) -> Tried | None:
        """Return the line that answers best, none that is somebody's own phrase."""
        ordered = sorted(tries, key=lambda tried: tried.cost)
        return next(
            (tried for tried in ordered if not quotes(self._request, tried, self._own_windows)),
            None,
        )

    def _stale(self, line: tuple[int, ...]) -> int:
        """Return the cost of six-note windows that were said lately."""
        windows = [line[i : i + _WINDOW] for i in range(len(line) - _WINDOW + 1)]
        again = sum(window in self._said for window in windows)
        return _STALE * again

    def _copies(self, line: tuple[int, ...]) -> bool:
        """Tell whether the whole call stands in the line, in any key, or the line in the call; one
        of fewer than six notes counts as a copy only where the line begins with it."""
        short, long = sorted((self._call, line), key=len)
        if len(short) < _WINDOW:
            return bool(self._call) and line[: len(self._call)] == self._call
        return any(long[i : i + len(short)] == short for i in range(len(long) - len(short) + 1))


def quotes(request: Request, tried: Tried, own: frozenset[int] = frozenset()) -> bool:
    """Tell whether a line holds eight intervals with their rhythm of what the idiom was learnt
    from, or of ``own`` windows."""
    low = request.style.instrument.low
    pitches = [low + point.index for point in tried.points]
    windows = window_hashes(pitches, [slot.tick for slot in tried.slots])
    return any(window in request.idiom.windows or window in own for window in windows)


def pattern(pitches: Sequence[int]) -> tuple[int, ...]:
    """Return the intervals of a line, as kept in ``Request.recent``."""
    return tuple(b - a for a, b in pairwise(pitches))


def _steps(line: Sequence[int], ticks: Sequence[int], count: int = 2) -> list[tuple[int, ...]]:
    """Return each ``count`` intervals in a row with their gaps."""
    gaps = [b - a for a, b in pairwise(ticks)]
    rows = [*(line[k:] for k in range(count)), *(gaps[k:] for k in range(count))]
    return list(zip(*rows, strict=False))


def _marched(line: Sequence[int], ticks: Sequence[int]) -> int:
    """Return the cost of four intervals in one rhythm said more than twice within the reply."""
    counts = Counter(_steps(line, ticks, 4))
    return _MARCHED * sum(count - 2 for count in counts.values() if count > 2)


def _unlike(slots: Sequence[Slot], pitches: Sequence[int]) -> int:
    """Return the cost of a statement that is not known again: wanted intervals that were bent by
    more than a half step, past one in four."""
    wanted = [
        abs(pitches[i] - pitches[i - 1] - slot.wanted)
        for i, slot in enumerate(slots)
        if i and slot.wanted is not None and slot.place
    ]
    off = sum(bent > 1 for bent in wanted)
    return _UNLIKE * max(0, off - len(wanted) // 4)


def _shape(pitches: Sequence[int]) -> int:
    """Return the cost of a line that hardly moves, or swings to and fro between two notes."""
    span = max(pitches) - min(pitches)
    narrow = _NARROW * max(0, _LEAST_SPAN - span) if len(pitches) > 6 else 0
    shuttles = sum(
        a == c and b == d
        for a, b, c, d in zip(pitches, pitches[1:], pitches[2:], pitches[3:], strict=False)
    )
    return narrow + _STUCK * shuttles
