"""Where in the tune: the road map laid out in beats.

With a chart, passages are laid end to end (head, choruses, head out) as far ahead as anybody has
asked; what has not begun can still be changed. Without a chart there is one passage without end,
in bars of the metre or of the beats that were given. Beat 0 is the first downbeat after the
count-in. The last note of the tune falls on the first beat of its last bar.

How it ends can be asked for as it goes:
- *last time*: the passage after the present one is the last: the head out where there is one, else
  one more chorus. Said in the opening head, no chorus comes between. Without a chart the tune ends
  with a last note on the next seam of four bars.
- *tag*: the last four bars once more for each time it is asked for, before the last bar at latest;
- *fermata*: the last chord is held, asked for before the last bar at latest.
A tag or a fermata asked for while no end is in sight waits for it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf
from typing import Literal

from jam.charts.changes import bar_starts, changes_of
from jam.charts.model import TAG_BARS, Chart, MelodyNote, Passage, RoadMap
from jam.core.setup import Setup
from jam.harmony.changes import Change
from jam.transport.metre import Bars, Metre

Phase = Literal["head", "chorus", "head out"]
Ending = Literal["", "last time", "tag", "fermata"]

SEAM_BARS = 4
"""Where there is no chart, music comes in stretches of so many bars (common practice)."""


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
        """Begin again at the top of the road map, no other ending asked for."""
        self._last_time = self._ending_asked = False
        self._tags, self._fermata = self.road_map.tags, self.road_map.fermata
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

    @property
    def last_bar_beat(self) -> float:
        """Return the beat on which the last bar begins, inf while no end is in sight."""
        if self.end_beat == inf:
            return inf
        bar, _ = self.bars.at(self.end_beat - 1e-3)
        return self.bars.start(bar)

    @property
    def choruses(self) -> int | None:
        """Return how many choruses there are between the heads, None while that is open."""
        latest = self._laid[-1]
        if self.chart is None or not (self._last_time or latest.last):
            return self.road_map.choruses
        if latest.last or self.road_map.head_out != "none":
            return max(laid.number for laid in self._laid)
        return latest.number + 1

    def holds(self, beat: float) -> bool:
        """Return whether the last chord is held at ``beat``, until it is cut off."""
        return self._fermata and beat >= self.last_bar_beat

    @property
    def fermata(self) -> bool:
        """Whether the last chord will be held."""
        return self._fermata

    def ending(self, beat: float) -> Ending:
        """Return how the tune ends, empty while no end was asked for and none has begun."""
        if not (self._ending_asked or self.at(beat).last):
            return ""
        if self._fermata:
            return "fermata"
        return "tag" if self._tags else "last time"

    def last_time(self, beat: float) -> None:
        """Take the *last time* cue: the passage after the one at ``beat`` is the last."""
        self._last_time = self._ending_asked = True
        if self.chart is None:
            self._end_on_a_seam(beat)
            return
        while len(self._laid) > 1 and self._laid[-1].start > beat:
            self._unlay()
        self._set_bars()

    def tag(self, beat: float) -> None:
        """Take the *tag* cue at ``beat``; in the last bar it comes too late."""
        if beat >= self.last_bar_beat:
            return
        self._tags += 1
        self._ending_asked = True
        latest = self._laid[-1]
        if latest.last and latest.passage is None:
            bar, _ = self.bars.at(latest.end)
            self._laid[-1] = replace(latest, end=self.bars.start(bar + TAG_BARS))
        elif latest.last:
            self._unlay()
            self._lay(latest)

    def hold_last(self, beat: float) -> None:
        """Take the *fermata* cue at ``beat``; in the last bar it comes too late."""
        if beat < self.last_bar_beat:
            self._fermata = self._ending_asked = True

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

    def closes_section(self, bar: int) -> bool:
        """Return whether a section ends with ``bar``; without a chart there are none."""
        laid = self.at(self.bars.start(bar))
        return laid.passage is not None and laid.passage.opens(bar - laid.first_bar + 1)

    def form_bar(self, beat: float) -> tuple[int, int]:
        """Return the bar of the passage at ``beat``, from 1, and how many it has; 0, 0 without a
        chart."""
        laid = self.at(beat)
        if laid.passage is None:
            return 0, 0
        bar, _ = self.bars.at(beat)
        count = len(laid.passage.bars)
        return min(max(0, bar - laid.first_bar), count - 1) + 1, count

    # --- laying out ----------------------------------------------------------------------

    def _end_on_a_seam(self, beat: float) -> None:
        """End the passage without a chart with the bar that begins on the next seam."""
        endless = self._laid[-1]
        if endless.last:
            return
        bar, _ = self.bars.at(max(0.0, beat))
        bars = bar - bar % SEAM_BARS + SEAM_BARS + 1 + TAG_BARS * self._tags
        self._laid[-1] = replace(endless, end=self.bars.start(bars), last=True)

    def _lay_next(self) -> None:
        assert self.chart is not None
        before = self._laid[-1] if self._laid else None
        start = before.end if before else 0.0
        phase, number, melody_by = self._next_phase(before)
        ends_here = number == self.road_map.choruses or self._last_time
        last = phase == "head out" or (
            phase == "chorus" and self.road_map.head_out == "none" and ends_here
        )
        first_bar = len(self._starts)
        self._lay(Laid(phase, number, None, start, start, melody_by, last, first_bar))

    def _lay(self, laid: Laid) -> None:
        """Lay a passage at the end, with its tags if it is the last."""
        assert self.chart is not None
        passage = self.chart.last.tagged(self._tags) if laid.last else self.chart.chorus
        self._laid.append(replace(laid, passage=passage, end=laid.start + passage.beats))
        self._changes = self._changes + changes_of(self.chart, passage, laid.start)
        self._starts = self._starts + bar_starts(passage, laid.start)
        self._set_bars()

    def _unlay(self) -> None:
        """Take the last passage away again."""
        gone = self._laid.pop()
        self._changes = [c for c in self._changes if c.beat < gone.start]
        self._starts = [s for s in self._starts if s < gone.start]

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
