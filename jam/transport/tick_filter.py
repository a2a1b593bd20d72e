"""How fast MIDI clock ticks come, and when the last one was due: a two-state filter.

Phase and period follow each tick with the gains of a least-squares line through the last
`MEMORY_TICKS` ticks (fewer at first: 2(2n-1)/n(n+1) and 6/n(n+1), the alpha-beta form of that
fit; textbook tracking, from memory). A single tick with 1 ms of jitter is 5 % of tempo at
120 bpm, a line over 24 ticks 0.2 % (arithmetic). Late ticks are cut to what is usual; errors that
keep their sign shorten the memory, so that a new tempo is taken up within a beat.

A gap of about k periods means ticks were lost, or come late in a bundle: it counts as k, and
ticks that then arrive on top of each other are taken off that debt. Three such gaps running are
no loss but a slower tempo.
"""

from __future__ import annotations

from collections import deque
from statistics import fmean

MEMORY_TICKS = 24
SURE_TICKS = 12
"""After so many ticks tempo and phase count as known: half a beat."""

SHORTEST_SEC, LONGEST_SEC = 60.0 / 24 / 600, 60.0 / 24 / 10
"""Periods of 600 and of 10 bpm."""

_ORDINARY_GAP = 1.5
_LOSS_GAP = 1.75
_LOSSES_OF_A_SLOWER_TEMPO = 3
_RELEARN_TICKS = 5
_USUAL_RATE = 0.1
_LEAST_USUAL_SEC = 0.0003
_CUT = 3.0
_DRIFT_KEEP = 0.8
_DRIFT_LIMIT = 8.0


class TickFilter:
    """Follows ticks; ``at_sec`` is when the last one was due, ``period_sec`` their distance.

    ``heard`` counts the ticks since the filter was made or restarted.
    """

    def __init__(self) -> None:
        self.at_sec = 0.0
        self.period_sec = 0.0
        self.heard = 0
        self._weight = 0
        self._last_sec = 0.0
        self._usual_sec = 0.001
        self._drift_sec = 0.0
        self._owed = 0
        self._since_loss = 0
        self._losses = 0
        self._recent: deque[tuple[int, float]] = deque(maxlen=_RELEARN_TICKS)

    @property
    def known(self) -> bool:
        """Return whether there is any estimate of the tempo."""
        return self.period_sec > 0.0

    @property
    def sure(self) -> bool:
        """Return whether enough ticks were heard to trust the estimate."""
        return self.known and self.heard >= SURE_TICKS

    def restart(self) -> None:
        """Forget the phase, keep the tempo as a first guess: the ticks had stopped."""
        self.heard = 0
        self._weight = 0
        self._owed = self._losses = 0
        self._drift_sec = 0.0
        self._recent.clear()

    def hear(self, t: float) -> int:
        """Take a tick at second ``t``; return how many ticks it stands for."""
        gap, self._last_sec = t - self._last_sec, t
        self.heard += 1
        if self._weight == 0:
            self.at_sec = t
            self._weight = 2 if self.known else 1
            return 1
        if not self.known:
            self.period_sec = _plausible(gap)
            self.at_sec = t
            self._weight = 2
            return 1
        ticks = self._stands_for(t, gap)
        return ticks - self._update(t, ticks) if ticks > 0 else ticks

    def _stands_for(self, t: float, gap: float) -> int:
        """Return 1, more if ticks were lost before it, 0 or less if too many were counted."""
        due = round((t - self.at_sec) / self.period_sec)
        self._since_loss += 1
        if self._since_loss > MEMORY_TICKS:
            self._owed = 0
        if self._weight >= SURE_TICKS and gap > _LOSS_GAP * self.period_sec and due > 1:
            self._since_loss = 0
            self._owed += due - 1
            self._losses += 1
            if self._losses < _LOSSES_OF_A_SLOWER_TEMPO:
                return due
            return self._slow_down(t, gap, due)
        if gap < _ORDINARY_GAP * self.period_sec:
            self._losses = 0
        if self._owed and due < 1:
            self._owed -= 1
            return 0
        return 1

    def _slow_down(self, t: float, gap: float, due: int) -> int:
        """Take the wide gaps for the new period; give back the ticks counted for the others."""
        surplus = self._owed - (due - 1)
        self._owed = self._losses = 0
        self.at_sec = t
        self.period_sec = _plausible(gap)
        self._weight = 2
        self._drift_sec = 0.0
        self._recent.clear()
        return 1 - surplus

    def _update(self, t: float, ticks: int) -> int:
        """Move the estimate; return how many ticks were counted in error, if that shows now."""
        expected = self.at_sec + ticks * self.period_sec
        error = t - expected
        self._recent.append((self._recent[-1][0] + ticks if self._recent else 0, t))
        if self._weight >= SURE_TICKS:
            usual = max(self._usual_sec, _LEAST_USUAL_SEC)
            error = max(-_CUT * usual, min(_CUT * usual, error))
            self._usual_sec += _USUAL_RATE * (abs(error) - self._usual_sec)
            self._drift_sec = _DRIFT_KEEP * self._drift_sec + error
            if abs(self._drift_sec) > _DRIFT_LIMIT * usual:
                return self._relearn()
        self._weight = min(self._weight + 1, MEMORY_TICKS)
        n = self._weight
        self.at_sec = expected + error * 2.0 * (2.0 * n - 1.0) / (n * (n + 1.0))
        self.period_sec = _plausible(self.period_sec + error / ticks * 6.0 / (n * (n + 1.0)))
        return 0

    def _relearn(self) -> int:
        """Begin again with a line through the last few ticks: the tempo is new.

        If it is slower, losses just presumed were none: return how many ticks they counted.
        """
        surplus = self._owed if self._drift_sec > 0.0 else 0
        self._owed -= surplus
        self._drift_sec = 0.0
        self._weight = len(self._recent)
        self.period_sec, self.at_sec = _line_through(self._recent)
        return surplus


def _line_through(ticks: deque[tuple[int, float]]) -> tuple[float, float]:
    """Return the least-squares period through ``(number, second)`` and when the last was due."""
    number = fmean(n for n, _ in ticks)
    second = fmean(t for _, t in ticks)
    spread = sum((n - number) ** 2 for n, _ in ticks)
    slope = sum((n - number) * (t - second) for n, t in ticks) / spread
    period = _plausible(slope)
    return period, second + (ticks[-1][0] - number) * period


def _plausible(period_sec: float) -> float:
    return max(SHORTEST_SEC, min(LONGEST_SEC, period_sec))
