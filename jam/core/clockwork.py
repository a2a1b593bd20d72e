"""The clock of a session: the follower of its source, and the marks that fall due by it.

A mark is every quarter of a beat; the core decides at marks, in order. The first mark is
- the beginning of the count-in for the internal clock,
- the first beat known beforehand, or second 0 if that comes later,
- the next one after the tap or tick that made the tempo known, for taps and MIDI clock,
- the place that a jump leads to.

The tempo of taps and of MIDI clock can be *held*: from then on time goes on at the present tempo,
whatever comes. A hold that is asked for before the tempo can be trusted waits for that: for the
first downbeat after a count-off, for four beats of MIDI clock.
"""

from __future__ import annotations

from math import ceil, inf

from jam.core.setup import Setup
from jam.events import ClockContinue, ClockStart, ClockStop, ClockTick, Message, SongPosition
from jam.transport.bend import bend
from jam.transport.follower import Follower, Heard, Jump, Source, Tap
from jam.transport.internal import InternalClock
from jam.transport.known_beats import KnownBeats
from jam.transport.midi_clock import MidiClockFollower
from jam.transport.taps import TapFollower
from jam.transport.timeline import BeatTime, TempoMap, Timeline

MARKS = 4
"""Marks in a beat."""

_FROM_OUTSIDE = ("taps", "midi")
_HOLD_FROM = {"taps": 0.0, "midi": 4.0}
"""The beat from which on the tempo of a source can be trusted."""

_CLOCK_MESSAGES = (ClockTick, ClockStart, ClockContinue, ClockStop, SongPosition)


class Clockwork:
    """Hears the source of time and tells which mark comes next, and when."""

    def __init__(self, setup: Setup) -> None:
        self._setup = setup
        self._stopped = False
        self._follower: Follower | None = None
        self._mark: int | None = None
        self.holding = setup.hold_tempo and setup.clock in _FROM_OUTSIDE
        self._held: TempoMap | None = None
        self._tempo_bpm = setup.tempo_bpm
        self._counts_anew = False
        if setup.clock != "internal":
            self._follower = _follower(setup)
        elif setup.autostart:
            self._count_in(0.0)
        if self._follower is not None and self.time is not None and self._mark is None:
            self._mark = _mark_from(self.time.beat(max(0.0, _first_sec(setup))))

    # --- what is known -------------------------------------------------------------------

    @property
    def time(self) -> BeatTime | None:
        """Return the present map of beats to seconds, None before there is one."""
        if self._held is not None:
            return self._held
        return None if self._follower is None else self._follower.time

    @property
    def waiting(self) -> bool:
        """Return whether nothing has been started yet."""
        return self._mark is None

    @property
    def running(self) -> bool:
        """Return whether time goes on: marks fall due."""
        follower = self._follower
        return follower is not None and follower.running and not self._stopped

    @property
    def source(self) -> Source | None:
        """Return where the beat comes from, None before the start."""
        return None if self._follower is None else self._follower.source

    @property
    def locked(self) -> bool:
        """Return whether tempo and phase are known."""
        return self._follower is not None and self._follower.locked

    def beat(self, sec: float) -> float:
        """Return the beat at second ``sec``, 0 while no tempo is known."""
        return 0.0 if self.time is None else self.time.beat(sec)

    # --- marks ---------------------------------------------------------------------------

    @property
    def mark_beat(self) -> float:
        """Return the beat of the next mark."""
        assert self._mark is not None
        return self._mark / MARKS

    @property
    def mark_sec(self) -> float:
        """Return the second at which the next mark falls, inf while time stands still."""
        if self._mark is None or self.time is None or not self.running:
            return inf
        return self.time.sec(self._mark / MARKS)

    def next_mark(self) -> None:
        """Go on to the mark after the one that has been dealt with."""
        assert self._mark is not None
        if self.holding and self._held is None:
            self._hold_if_sure(self.mark_sec)
        self._mark += 1

    # --- what moves it -------------------------------------------------------------------

    def settle(self, now: float) -> None:
        """Let time pass up to second ``now``, so that a silent source is noticed."""
        if self._follower is not None:
            self._follower.settle(now)

    def hear(self, message: Message | Tap) -> Jump | None:
        """Take a clock message or a tap; return the jump it made, if any."""
        if self._follower is None or not isinstance(message, (*_CLOCK_MESSAGES, Tap)):
            return None
        if isinstance(message, Tap) and self._held is not None:
            return None
        return self._hear(message)

    def _hear(self, event: Heard) -> Jump | None:
        assert self._follower is not None
        jump = self._follower.hear(event)
        if jump is None and self.time is not None and (self._mark is None or self._counts_anew):
            first, self._counts_anew = self._mark is None, False
            self._mark = _mark_from(self.time.beat(event.t))
            jump = None if first else Jump(event.t, self._mark / MARKS, "counted off anew")
            self._stopped = False
        elif jump is not None:
            self._stopped = self._counts_anew = False
            self._mark = _mark_from(jump.beat)
            if self._held is not None:
                line = Timeline(self._held.stretches[-1].bpm, jump.beat, jump.t)
                self._held = TempoMap((line,))
        return jump

    def start(self, t: float) -> Jump | None:
        """Take a start at second ``t``; a clock that runs already runs on.

        The companion's own clock counts in, and so do taps, at the tempo last known. MIDI clock
        is joined on its next tick. Beats that were given are followed again from where they have
        got to. Return the jump that a second start makes.
        """
        if self.running:
            return None
        if isinstance(self._follower, MidiClockFollower):
            return self._hear(ClockStart(t))
        first, self._stopped, self._counts_anew = self._mark is None, False, False
        if self._setup.clock in ("internal", "taps"):
            self._count_in(t)
        elif self.time is not None:
            self._mark = _mark_from(self.time.beat(t))
        if first or self._mark is None:
            return None
        return Jump(t, self._mark / MARKS, "start")

    def stop(self) -> None:
        """Let no mark fall due until the next start, or until taps count off anew."""
        self._stopped = True
        if isinstance(self._follower, TapFollower):
            self._tempo_bpm = self._present_bpm()
            self._held = None
            self._follower = _follower(self._setup)
            self._counts_anew = self._mark is not None

    def lose_source(self) -> None:
        """Coast: the port that carried the clock is gone."""
        if isinstance(self._follower, MidiClockFollower):
            self._follower.lose()

    # --- hold and follow -----------------------------------------------------------------

    def hold(self, t: float) -> None:
        """Keep the tempo of second ``t``, or the first one that can be trusted."""
        if self._setup.clock in _FROM_OUTSIDE and not self.holding:
            self.holding = True
            self._hold_if_sure(t)

    def follow(self, t: float) -> None:
        """Follow the source again from second ``t`` on."""
        held, self._held, self.holding = self._held, None, False
        if held is not None and isinstance(self._follower, TapFollower | MidiClockFollower):
            self._follower.take_up(held, t)

    def _hold_if_sure(self, t: float) -> None:
        time = self.time
        if not isinstance(time, TempoMap) or not (self.running and self.locked):
            return
        beat = time.beat(t)
        if beat >= _HOLD_FROM[self._setup.clock] - 1e-6:
            self._held = bend(time, Timeline(time.stretches[-1].bpm, beat, t), t)

    # --- counting in ---------------------------------------------------------------------

    def _present_bpm(self) -> float:
        time = self.time
        return time.stretches[-1].bpm if isinstance(time, TempoMap) else self._tempo_bpm

    def _count_in(self, t: float) -> None:
        setup = self._setup
        road_map = setup.road_map or (setup.chart.road_map if setup.chart else None)
        bars = road_map.count_in_bars if road_map else 2
        metre = setup.chart.metre if setup.chart else setup.metre
        beats = bars * metre.bar_beats
        if setup.clock == "taps":
            taps = _taps(setup)
            taps.take_up(TempoMap((Timeline(self._present_bpm(), -beats, t),)), t)
            self._follower = taps
        else:
            self._follower = InternalClock(setup.tempo_bpm, t, beats)
        self._mark = _mark_from(-beats)


def _follower(setup: Setup) -> Follower:
    """Return the follower of a clock from outside.

    Beat 0 is the first downbeat: the first ``1`` of beats that were given.
    """
    if setup.clock == "taps":
        return _taps(setup)
    if setup.clock == "midi":
        return MidiClockFollower()
    first = setup.first_downbeat
    points = [(float(i - first), beat.sec) for i, beat in enumerate(setup.given_beats)]
    return KnownBeats(points, "given" if setup.clock == "given" else "file")


def _taps(setup: Setup) -> TapFollower:
    metre = setup.chart.metre if setup.chart else setup.metre
    return TapFollower(setup.tap_beats or metre.pulse_beats)


def _first_sec(setup: Setup) -> float:
    return setup.given_beats[0].sec if setup.given_beats else 0.0


def _mark_from(beat: float) -> int:
    """Return the first mark that is not before ``beat``."""
    return ceil(beat * MARKS - 1e-6)
