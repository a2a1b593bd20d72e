"""Following MIDI clock: 24 ticks (F8) to the quarter note.

As the standard says (MIDI 1.0 Detailed Specification, System Real Time): after Start the first
tick is beat 0; Continue goes on with the tick that would have come next; a song position counts
sixteenths of six ticks, and Start is song position 0 and Continue. While the clock is stopped its
ticks tell the tempo beforehand. Ticks without a start tell no place, so the follower waits: a
caller who wants to join a clock already running hands in a `ClockStart` of his own.

A clock that falls silent while it runs is coasted on at its last tempo; when ticks come back they
are counted from where the coasting got to.
"""

from __future__ import annotations

from jam.events import ClockContinue, ClockStart, ClockStop, ClockTick, SongPosition
from jam.transport.bend import bend
from jam.transport.follower import Heard, Jump, Source
from jam.transport.tick_filter import MEMORY_TICKS, TickFilter
from jam.transport.timeline import TempoMap, Timeline

TICKS_PER_BEAT = 24
TICKS_PER_SIXTEENTH = 6

SILENT_TICKS = 6.0
SILENT_SEC = 0.25
"""Silence of six ticks, and of a quarter second at least, is coasted on."""

_NEWS_TICKS = 6
_NEWS_SEC = 0.001
_NEWS_TEMPO = 0.0005


class MidiClockFollower:
    """Tempo, phase and place in the song from MIDI clock messages.

    Locked half a beat after the first tick. The map changes four times a beat at most, unless it
    is more than a millisecond off.
    """

    def __init__(self) -> None:
        self.source: Source = "midi"
        self.running = False
        self.time: TempoMap | None = None
        self._filter = TickFilter()
        self._position_ticks = 0
        self._begin: tuple[int, str] | None = None
        self._next_ticks = 0
        self._next_why = "continue"
        self._last_tick_sec: float | None = None
        self._ticks_since_news = 0
        self._now = float("-inf")

    @property
    def locked(self) -> bool:
        """Return whether the clock runs and tempo and phase are known."""
        return self.time is not None and self._filter.sure

    def hear(self, event: Heard) -> Jump | None:
        """Take a clock message; the tick that carries out a start returns the jump it makes."""
        self._now = max(self._now, event.t)
        match event:
            case ClockTick():
                return self._tick(event.t)
            case ClockStart():
                self._begin = (0, "start")
            case ClockContinue():
                self._begin = (self._next_ticks, self._next_why)
            case ClockStop():
                self._stop()
            case SongPosition():
                self._place(event.sixteenths * TICKS_PER_SIXTEENTH)
        return None

    def settle(self, now: float) -> None:
        """Notice that a running clock has fallen silent."""
        self._now = max(self._now, now)
        if self.running and self._silent(self._now):
            self.source = "coast"

    def lose(self) -> None:
        """Take the clock for silent: its port is gone."""
        if self.running:
            self.source = "coast"

    def take_up(self, present: TempoMap, now: float) -> None:
        """Go on at second ``now`` from the map ``present``, which was kept while the ticks went
        their own way: the nearest of their beats is bent to, and counted on from there."""
        self._now = max(self._now, now)
        self.time = present
        if not self.running or not self._filter.known or self.source == "coast":
            return
        beats = round(present.beat(now) - self._line().beat(now))
        self._position_ticks += beats * TICKS_PER_BEAT
        self.time = bend(present, self._line(), now)
        self._ticks_since_news = 0

    def _silent(self, now: float) -> bool:
        limit = max(SILENT_SEC, SILENT_TICKS * self._filter.period_sec)
        return self._last_tick_sec is not None and now - self._last_tick_sec > limit

    def _stop(self) -> None:
        if self._begin is not None:
            self._next_ticks, self._next_why = self._begin
        elif self.running:
            self._next_ticks, self._next_why = self._position_ticks + 1, "continue"
        self.running = False
        self._begin = None
        self.source = "midi"

    def _place(self, ticks: int) -> None:
        """Take a song position: for the coming continue, or for the next tick if running."""
        self._next_ticks, self._next_why = ticks, "song position"
        if self.running or self._begin is not None:
            self._begin = (ticks, "song position")

    def _tick(self, t: float) -> Jump | None:
        silent = self._silent(t)
        self._last_tick_sec = t
        self.source = "midi"
        ticks = self._count(t, silent=silent)
        if self._begin is not None:
            return self._jump(t)
        if self.running:
            self._position_ticks += ticks
            self._tell()
        return None

    def _count(self, t: float, *, silent: bool) -> int:
        """Return how many ticks this one stands for; after a silence, by the coasting map."""
        if not silent:
            return self._filter.hear(t)
        self._filter.restart()
        self._filter.hear(t)
        if self.time is None or not self.running:
            return 1
        return max(1, round(self.time.beat(t) * TICKS_PER_BEAT) - self._position_ticks)

    def _jump(self, t: float) -> Jump | None:
        """Begin at the place that a start, continue or song position has named."""
        assert self._begin is not None
        position, why = self._begin
        in_place = self.running and position == self._position_ticks + 1
        self._begin = None
        self.running = True
        self._position_ticks = position
        if in_place:
            self._tell()
            return None
        self.time = TempoMap((self._line(),)) if self._filter.known else None
        self._ticks_since_news = 0
        return Jump(t, position / TICKS_PER_BEAT, why)

    def _tell(self) -> None:
        """Renew the map if it is time to, or if it is off."""
        self._ticks_since_news += 1
        if not self._filter.known:
            return
        line = self._line()
        if self.time is None:
            self.time = TempoMap((line,))
            return
        off_sec = abs(line.sec(self.time.beat(self._now)) - self._now)
        off_tempo = abs(self.time.stretches[-1].bpm / line.bpm - 1.0)
        young = self._filter.heard < MEMORY_TICKS
        due = young or self._ticks_since_news >= _NEWS_TICKS
        if off_sec > _NEWS_SEC or (due and (off_sec > _NEWS_SEC / 5 or off_tempo > _NEWS_TEMPO)):
            self.time = bend(self.time, line, self._now)
            self._ticks_since_news = 0

    def _line(self) -> Timeline:
        bpm = 60.0 / (TICKS_PER_BEAT * self._filter.period_sec)
        return Timeline(bpm, self._position_ticks / TICKS_PER_BEAT, self._filter.at_sec)
