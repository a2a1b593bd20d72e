"""Where in the tune: the road map laid out in beats.

With a chart, passages are laid end to end (head, choruses, head out) as far ahead as anybody has
asked; what has not begun can still be changed by the *last time* cue. Without a chart there is one
passage without end, in bars of the metre or of the beats that were given. Beat 0 is the first
downbeat after the count-in.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import Literal

from jam.charts.changes import bar_starts, changes_of
from jam.charts.model import Chart, MelodyNote, Passage, RoadMap
from jam.core.setup import Setup
from jam.harmony.changes import Change
from jam.transport.metre import Bars, Metre

Phase = Literal["head", "chorus", "head out"]


@dataclass(frozen=True)
class Laid:
    """A passage laid at ``start``: chorus number from 1 (0 for heads).

    ``first_bar`` is the session's number of its first bar.
    """

    phase: Phase
    number: int
    passage: Passage | None
    start: float
    end: float
    melody_by: str
    last: bool = False
    first_bar: int = 0


class Form:
    """The road map, unrolled as the session goes on."""

    def __init__(self, setup: Setup) -> None:
        self.chart: Chart | None = setup.chart
        self.metre: Metre = setup.chart.metre if setup.chart else setup.metre
        road_map = setup.road_map or (setup.chart.road_map if setup.chart else RoadMap())
        self.road_map = road_map
        self.bars = Bars(self.metre.bar_beats)
        self.restart()
        if self.chart is None:
            self.bars = _given_bars(setup, self.metre)

    def restart(self) -> None:
        """Begin again at the top of the road map, no *last time* asked for."""
        self._last_time = False
        self._laid: list[Laid] = []
        self._changes: list[Change] = []
        self._starts: list[float] = []
        if self.chart is None:
            self._laid.append(Laid("chorus", 1, None, 0.0, inf, "none"))
        else:
            self._lay_next()

    @property
    def end_beat(self) -> float:
        """Return the beat on which the tune is over, inf while that is open."""
        return self._laid[-1].end if self._laid[-1].last else inf

    def last_time(self, beat: float) -> None:
        """Take the *last time* cue: the passage after the one at ``beat`` is the last.

        Without a chart there is no form that could end.
        """
        self._last_time = True
        if self.chart is None:
            return
        while len(self._laid) > 1 and self._laid[-1].start > beat:
            gone = self._laid.pop()
            self._changes = [c for c in self._changes if c.beat < gone.start]
            self._starts = [s for s in self._starts if s < gone.start]
        self._set_bars()

    def at(self, beat: float) -> Laid:
        """Return the passage that holds at ``beat`` (the first one before it, the last after)."""
        self.reach(beat)
        begun = (laid for laid in reversed(self._laid) if laid.start <= beat + 1e-6)
        return next(begun, self._laid[0])

    def reach(self, beat: float) -> None:
        """Lay out passages until ``beat`` is covered or the tune is over."""
        while self._laid[-1].end <= beat and not self._laid[-1].last:
            self._lay_next()

    def changes(self, until: float) -> list[Change]:
        """Return the chart's changes from the start to past ``until``.

        It is the same list until the form is laid anew or further.
        """
        self.reach(until)
        return self._changes

    def melody(self, start: float, end: float) -> list[MelodyNote]:
        """Return what of the melody the companion plays in ``start <= beat < end``."""
        self.reach(end + self.metre.bar_beats)
        found = []
        for laid in self._laid:
            if laid.melody_by != "companion" or laid.passage is None:
                continue
            for note in laid.passage.melody:
                beat = laid.start + note.beat
                if start <= beat < end:
                    found.append(MelodyNote(beat, note.beats, note.pitch))
        return found

    def section(self, beat: float) -> str:
        """Return the name of the section at ``beat``, empty when there is none."""
        laid = self.at(beat)
        if laid.passage is None:
            return ""
        bar, _ = self.bars.at(beat)
        place = min(max(0, bar - laid.first_bar), len(laid.passage.bars) - 1)
        return laid.passage.bars[place].section

    def _lay_next(self) -> None:
        assert self.chart is not None
        before = self._laid[-1] if self._laid else None
        start = before.end if before else 0.0
        phase, number, melody_by = self._next_phase(before)
        ends_here = number == self.road_map.choruses or self._last_time
        last = phase == "head out" or (
            phase == "chorus" and self.road_map.head_out == "none" and ends_here
        )
        passage = self.chart.last if last else self.chart.chorus
        end = start + passage.beats
        first_bar = len(self._starts)
        self._laid.append(Laid(phase, number, passage, start, end, melody_by, last, first_bar))
        self._changes = self._changes + changes_of(self.chart, passage, start)
        self._starts = self._starts + bar_starts(passage, start)
        self._set_bars()

    def _next_phase(self, before: Laid | None) -> tuple[Phase, int, str]:
        road_map = self.road_map
        if before is None and road_map.head != "none":
            return "head", 0, road_map.head
        number = before.number if before else 0
        enough = road_map.choruses is not None and number >= road_map.choruses
        if before is not None and (enough or self._last_time) and road_map.head_out != "none":
            return "head out", 0, road_map.head_out
        return "chorus", number + 1, "none"

    def _set_bars(self) -> None:
        self.bars = Bars(self.metre.bar_beats, tuple(self._starts), 0)


def _given_bars(setup: Setup, metre: Metre) -> Bars:
    """Return the bars of beats that were given (each ``1`` begins one), else regular ones."""
    ones = [i for i, beat in enumerate(setup.given_beats) if beat.beat_in_bar == 1]
    if not ones:
        return Bars(metre.bar_beats)
    return Bars(metre.bar_beats, tuple(float(i - ones[0]) for i in ones), 0)
