"""The changes as the core knows them: from the chart, from a chart in time, or from the ear.

The chart comes first, then the changes given in seconds, then what the chord tracker named. Where
only the ear knows, the chord that was named last is expected to go on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from jam.core.forecast import Alternatives, alternatives
from jam.core.form import Form
from jam.core.setup import Setup, TimedChange
from jam.harmony.changes import Change, Changes
from jam.harmony.chord import Chord
from jam.harmony.functions import function_of
from jam.harmony.keys import Key
from jam.transport.timeline import BeatTime

_GRID = 2
"""Changes given in seconds are placed on the nearest half beat."""

_APART_BEATS = 1e-3
"""Chords named by ear follow one another by this at least."""

_EPS = 1e-6


class Harmony:
    """Which chord holds when, for the soloist and the band."""

    def __init__(self, setup: Setup, form: Form) -> None:
        self._form = form
        self.blues = setup.chart.blues if setup.chart else False
        self.key: Key | None = setup.key or (setup.chart.key if setup.chart else None)
        self._timed = _with_functions(setup.timed_changes, self.key)
        self._placed_by: BeatTime | None = None
        self._placed: list[tuple[int, Change]] = []
        self._settled = 0
        self._source: Sequence[Change] = ()
        self._changes = Changes(())

    @property
    def by_ear(self) -> bool:
        """Whether the chords are known by listening alone."""
        return self._form.chart is None and not self._timed

    def changes(self, until: float, time: BeatTime | None) -> Changes:
        """Return the changes from the start of the session to past beat ``until``.

        The same object is returned until something has changed.
        """
        if self._form.chart is not None:
            laid = self._form.changes(until)
            if laid is not self._source:
                self._source, self._changes = laid, Changes(laid)
        elif self._timed and time is not None and time is not self._placed_by:
            self._place(time)
        return self._changes

    def alternatives(self, beat: float, until: float) -> Alternatives:
        """Return what else may come between two beats, each way with its probability: nothing
        where the changes are known."""
        if not self.by_ear:
            return ()
        return alternatives(self._changes, beat, until, self._form.bars, self.key)

    # --- changes given in seconds --------------------------------------------------------

    def settle(self, beat: float) -> None:
        """Take the changes up to ``beat`` for told: they stay there however the tempo moves."""
        while self._settled < len(self._placed) and self._placed[self._settled][1].beat <= beat:
            self._settled += 1

    def _place(self, time: BeatTime) -> None:
        """Place the changes that are not settled by the present tempo."""
        placed = self._placed[: self._settled]
        first = placed[-1][0] + 1 if placed else 0
        for index, (sec, change) in enumerate(self._timed[first:], start=first):
            beat = round(time.beat(sec) * _GRID) / _GRID
            if placed and placed[-1][1].chord == change.chord:
                continue
            while len(placed) > self._settled and placed[-1][1].beat >= beat - _EPS:
                placed.pop()
            if placed:
                beat = max(beat, placed[-1][1].beat + 1.0 / _GRID)
            placed.append((index, replace(change, beat=beat)))
        self._placed = placed
        self._placed_by = time
        self._changes = Changes([change for _, change in placed])

    # --- chords heard --------------------------------------------------------------------

    def hear(self, beat: float, chord: Chord, confidence: float) -> Change:
        """Take a chord that the ear named, holding from ``beat`` on: never before the last one."""
        heard = list(self._changes)
        if heard:
            last = heard[-1]
            beat = max(beat, last.beat + _APART_BEATS)
            function = function_of(last.chord, chord, self.key, self.blues)
            heard[-1] = replace(last, function=function)
        function = function_of(chord, None, self.key, self.blues)
        change = Change(beat, chord, False, function, "heard", confidence)
        self._changes = Changes((*heard, change))
        return change

    def jump(self, beat: float) -> Change | None:
        """Go to ``beat``: the chord heard last is expected to go on there; return it."""
        if not self.by_ear or not len(self._changes):
            return None
        change = replace(self._changes[-1], beat=beat)
        self._changes = Changes((change,))
        return change


def _with_functions(timed: Sequence[TimedChange], key: Key | None) -> list[tuple[float, Change]]:
    """Return the changes with their functions and seconds, still without a place."""
    found = []
    for index, change in enumerate(timed):
        following = timed[index + 1].chord if index + 1 < len(timed) else None
        function = function_of(change.chord, following, key, blues=False)
        found.append((change.sec, Change(0.0, change.chord, function=function)))
    return found
