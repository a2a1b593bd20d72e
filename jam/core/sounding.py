"""The changes as the core knows them: from the chart, from a chart in time, or from the ear.

The chart comes first, then the changes given in seconds, then what the chord tracker named. Where
only the ear knows, the chord that was named last is expected to go on.
"""

from __future__ import annotations

from collections.abc import Sequence

from jam.core.form import Form
from jam.core.setup import Setup, TimedChange
from jam.harmony.changes import Change, Changes
from jam.harmony.chord import Chord
from jam.harmony.functions import function_of
from jam.harmony.keys import Key
from jam.transport.timeline import BeatTime

_GRID = 2
"""Changes given in seconds are placed on the nearest half beat."""


class Harmony:
    """Which chord holds when, for the soloist and the band."""

    def __init__(self, setup: Setup, form: Form) -> None:
        self._form = form
        self._timed = setup.timed_changes
        self._heard: list[Change] = []
        self._placed: list[Change] = []
        self._placed_by: BeatTime | None = None
        self.blues = setup.chart.blues if setup.chart else False
        self.key: Key | None = setup.key or (setup.chart.key if setup.chart else None)

    @property
    def by_ear(self) -> bool:
        """Whether the chords are known by listening alone."""
        return self._form.chart is None and not self._timed

    def changes(self, until: float, time: BeatTime | None) -> Changes:
        """Return the changes from the start of the session to past beat ``until``."""
        if self._form.chart is not None:
            return Changes(self._form.changes(until))
        if not self._timed:
            return Changes(self._heard)
        if time is not None and time is not self._placed_by:
            self._placed = _placed(self._timed, time, self.key)
            self._placed_by = time
        return Changes(self._placed)

    def hear(self, beat: float, chord: Chord, confidence: float) -> Change:
        """Take a chord that the ear named, holding from ``beat`` on."""
        if self._heard and self._heard[-1].beat >= beat - 1e-6:
            beat = self._heard[-1].beat + 1e-3
        if self._heard:
            last = self._heard[-1]
            function = function_of(last.chord, chord, self.key, self.blues)
            self._heard[-1] = Change(last.beat, last.chord, False, function, "heard", confidence)
        function = function_of(chord, None, self.key, self.blues)
        change = Change(beat, chord, False, function, "heard", confidence)
        self._heard.append(change)
        return change


def _placed(timed: Sequence[TimedChange], time: BeatTime, key: Key | None) -> list[Change]:
    placed: list[Change] = []
    for index, change in enumerate(timed):
        beat = round(time.beat(change.sec) * _GRID) / _GRID
        if placed and (placed[-1].chord == change.chord):
            continue
        if placed and placed[-1].beat >= beat:
            placed.pop()
        following = timed[index + 1].chord if index + 1 < len(timed) else None
        function = function_of(change.chord, following, key, blues=False)
        placed.append(Change(beat, change.chord, function=function))
    return placed
