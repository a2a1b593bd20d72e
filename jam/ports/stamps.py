"""From the stamps of a MIDI library to machine seconds. Pure.

A library tells of each message how long after the one before it came (its *delta*). That is
better than the moment at which we read it, which is late whenever we were busy, yet deltas cannot
be summed blindly: the first is 0 or nonsense, those of messages that the library left out are
missing, some are counted twice, and its clock may drift against ours. But a message is always
bounded: it came before it was read, and after the reading before, which found nothing more. So
the sum of deltas is held by an anchor that moves only as far as these bounds force it.

Where the deltas are not to be trusted at all (macOS), arrival is the stamp.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, isfinite


class Stamps:
    """Dates the messages of one input. ``trust`` False takes arrival for all of them."""

    def __init__(self, *, trust: bool = True) -> None:
        self._trust = trust
        self._sum_sec = 0.0
        self._anchor: float | None = None
        self._last = -inf

    def date(self, deltas: Sequence[float], since: float, now: float) -> list[float]:
        """Return when messages happened that were read together, in order.

        ``deltas`` are the library's, in seconds; ``since`` is a moment at which none of them was
        there yet, ``now`` the moment of reading, both in machine seconds. No date is before
        ``since`` (if that is known) or after ``now``, and none before the one before it.
        """
        if not deltas:
            return []
        if not self._trust:
            return [now] * len(deltas)
        sums = self._sums(deltas)
        anchor = self._anchor_for(sums, since, now)
        earliest = max(since, self._last)
        dates = [min(max(anchor + total, earliest), now) for total in sums]
        self._last = dates[-1]
        return dates

    def _sums(self, deltas: Sequence[float]) -> list[float]:
        if self._anchor is None:
            deltas = [0.0, *deltas[1:]]
        sums = []
        for delta in deltas:
            self._sum_sec += delta if isfinite(delta) and delta > 0.0 else 0.0
            sums.append(self._sum_sec)
        return sums

    def _anchor_for(self, sums: Sequence[float], since: float, now: float) -> float:
        """Return the machine second of the library's zero, moved as little as the bounds ask."""
        latest = now - sums[-1]
        anchor = latest if self._anchor is None else min(self._anchor, latest)
        if since > -inf:
            anchor = max(anchor, since - sums[0])
        self._anchor = anchor
        return anchor
