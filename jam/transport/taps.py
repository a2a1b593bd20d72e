"""Following a person who taps the pulse.

The first taps count in: with a count-in of four the fifth tap is the first downbeat, beat 0. Two
taps give the tempo. Afterwards each tap belongs to the nearest pulse; the tempo is the trimmed
mean of the last intervals, the phase moves half of the way to each tap, so that the next pulse is
foretold before it is tapped. A count-off in halves, then quarters (1 - 2 - 1 2 3 4) is understood.

Mistakes of the hand: a second tap within two fifths of an interval is a bounce, and is ignored;
a gap of two intervals is two pulses; a tap far from every pulse is ignored unless the next one
stands by it. Taps that stop are coasted on.

The phase gain of a half lies in the range of human tapping (phase correction 0.3 to 0.9, from
memory of Repp 2005, Psychonomic Bulletin & Review 12(6)); with the length of the mean it was
tried on the beats of 40 solos of the Weimar Jazz Database.
"""

from __future__ import annotations

from collections import deque
from math import floor
from statistics import fmean

from jam.transport.bend import bend
from jam.transport.follower import Heard, Jump, Source, Tap
from jam.transport.timeline import TempoMap, Timeline

PHASE_GAIN = 0.5
INTERVALS_KEPT = 8
BOUNCE = 0.4
"""Share of an interval within which a second tap is a bounce of the hand."""

FAR = 0.3
"""Share of an interval beyond which a tap belongs to no pulse."""

DRIFT, DRIFT_TAPS = 0.04, 3
"""So many taps off by this share of an interval on the same side: the tempo is moving, and only
their intervals count."""

SHORTEST_SEC, LONGEST_SEC = 0.12, 3.0
"""Intervals a person taps (about 0.1 to 1.8 s: Repp 2005, from memory), with room for ballads."""

SILENT_PULSES = 2.5
"""So many intervals without a tap: the follower coasts."""

_HALVES = (0.42, 0.6)
_COUNT_OFF = 4
_SAME_PULSE = 1e-6


class TapFollower:
    """Tempo and phase from taps, each ``taps_beats`` quarter notes apart.

    ``count_in`` is the number of taps before the first downbeat.
    """

    def __init__(self, taps_beats: float = 1.0, count_in: int = _COUNT_OFF) -> None:
        self.source: Source = "taps"
        self.time: TempoMap | None = None
        self._taps_beats = taps_beats
        self._count_in = count_in
        self._pulse = -count_in
        self._at_sec = 0.0
        self._interval_sec = 0.0
        self._intervals: deque[float] = deque(maxlen=INTERVALS_KEPT)
        self._offs: deque[float] = deque(maxlen=DRIFT_TAPS)
        self._tapped: list[float] = []
        self._last_tap_sec: float | None = None
        self._stray_sec: float | None = None
        self._now = float("-inf")

    @property
    def locked(self) -> bool:
        """Return whether two taps have given a tempo."""
        return self.time is not None

    @property
    def running(self) -> bool:
        """Return whether two taps have set time going."""
        return self.time is not None

    def hear(self, event: Heard) -> Jump | None:
        """Take a tap; anything else is not for this follower."""
        if not isinstance(event, Tap):
            return None
        self._now = max(self._now, event.t)
        if self.time is None:
            self._begin(event.t)
            return None
        return self._follow(event.t)

    def settle(self, now: float) -> None:
        """Notice that the taps have stopped."""
        self._now = max(self._now, now)
        if self._last_tap_sec is not None and self.time is not None:
            silent = self._now - self._last_tap_sec
            if silent > SILENT_PULSES * self._interval_sec:
                self.source = "coast"

    def take_up(self, present: TempoMap, now: float) -> None:
        """Go on at second ``now`` from the map ``present``, as if its pulses had been tapped."""
        beat = present.beat(now)
        self._now = max(self._now, now)
        self._pulse = floor(beat / self._taps_beats + _SAME_PULSE)
        self._at_sec = present.sec(self._pulse * self._taps_beats)
        self._set_interval(60.0 * self._taps_beats / present.stretches[-1].bpm)
        self._heard(self._at_sec)
        self._tapped = [self._at_sec] * (_COUNT_OFF + 1)
        self.time = present

    def _begin(self, t: float) -> None:
        """Take the first tap, or the second, which sets time going."""
        gap = None if self._last_tap_sec is None else t - self._last_tap_sec
        if gap is not None and gap < SHORTEST_SEC:
            return
        self._last_tap_sec = t
        if gap is None or gap > LONGEST_SEC:
            self._tapped = [t]
            return
        self._tapped.append(t)
        self._pulse += 1
        self._at_sec = t
        self._set_interval(gap)
        self.time = TempoMap((self._line(),))

    def _follow(self, t: float) -> Jump | None:
        assert self._last_tap_sec is not None
        gap = t - self._last_tap_sec
        if gap < max(SHORTEST_SEC, BOUNCE * self._interval_sec):
            return None
        if len(self._tapped) <= _COUNT_OFF:
            self._tapped.append(t)
        if self._pulse < 0 and self._quarters_after_halves():
            return self._recount(t)
        pulses = max(1, round((t - self._at_sec) / self._interval_sec))
        off = t - (self._at_sec + pulses * self._interval_sec)
        if abs(off) > FAR * self._interval_sec:
            self._stray(t)
            return None
        self._heard(t)
        self._learn(gap / pulses, off / self._interval_sec)
        self._pulse += pulses
        self._at_sec = t - (1.0 - _phase_gain(len(self._intervals) + 1)) * off
        self._bend()
        return None

    def _learn(self, interval_sec: float, off: float) -> None:
        """Take an interval into the tempo; taps that keep running ahead or behind renew it."""
        self._intervals.append(interval_sec)
        self._offs.append(off)
        drifts = min(self._offs) > DRIFT or max(self._offs) < -DRIFT
        if drifts and len(self._offs) == DRIFT_TAPS:
            while len(self._intervals) > DRIFT_TAPS:
                self._intervals.popleft()
        self._interval_sec = _trimmed_mean(self._intervals)

    def _stray(self, t: float) -> None:
        """Take a tap that fits no pulse: two that fit each other carry the beat with them."""
        gap = None if self._stray_sec is None else t - self._stray_sec
        ratio = 0.0 if gap is None else gap / self._interval_sec
        if gap is None or not (BOUNCE < ratio < 1.0 / BOUNCE and gap <= LONGEST_SEC):
            self._stray_sec = t
            return
        assert self.time is not None
        self._heard(t)
        self._set_interval(gap)
        self._pulse = round(self.time.beat(t) / self._taps_beats)
        self._at_sec = t
        self._bend()

    def _quarters_after_halves(self) -> bool:
        """Return whether the fourth tap came at half the pace of the first three."""
        if len(self._tapped) != _COUNT_OFF or self._count_in != _COUNT_OFF:
            return False
        first, second, third, fourth = self._tapped
        half = (third - first) / 2.0
        even = abs(second - first - half) < FAR / 2.0 * half
        return even and _HALVES[0] * half < fourth - third < _HALVES[1] * half

    def _recount(self, t: float) -> Jump:
        """Begin the count-in anew: the third tap was its first, this one is its second."""
        quarter = t - self._tapped[2]
        self._heard(t)
        self._pulse = 1 - self._count_in
        self._at_sec = t
        self._set_interval(quarter)
        self.time = TempoMap((self._line(),))
        return Jump(t, self._pulse * self._taps_beats, "counted off in halves, then quarters")

    def _heard(self, t: float) -> None:
        self._last_tap_sec = t
        self._stray_sec = None
        self.source = "taps"

    def _set_interval(self, interval_sec: float) -> None:
        self._offs.clear()
        self._intervals.clear()
        self._intervals.append(interval_sec)
        self._interval_sec = interval_sec

    def _line(self) -> Timeline:
        bpm = 60.0 * self._taps_beats / self._interval_sec
        return Timeline(bpm, self._pulse * self._taps_beats, self._at_sec)

    def _bend(self) -> None:
        assert self.time is not None
        self.time = bend(self.time, self._line(), self._now)


def _phase_gain(taps: int) -> float:
    """Return the share of an error made good after so many taps: that of a straight line's
    least-squares fit while they are few, `PHASE_GAIN` later."""
    return max(PHASE_GAIN, 2.0 * (2.0 * taps - 1.0) / (taps * (taps + 1.0)))


def _trimmed_mean(values: deque[float]) -> float:
    """Return the mean; of six values and more without the lowest and the highest."""
    if len(values) < 6:
        return fmean(values)
    return fmean(sorted(values)[1:-1])
