"""How much searching a live step is granted: as much as the machine has time for.

Effort is counted, not timed, so that a log can be performed again. Only what is granted follows
the clock, from one plan to the next: less after a plan that took longer than `LONG_MS`, a little
more after a quick one. What was granted is in the log.
"""

from __future__ import annotations

LEAST, FIRST, MOST = 1_500, 5_000, 20_000
"""Expansions: enough for a first legal line; what to begin with; what a render grants."""

LONG_MS = 16.0
QUICK_MS = 8.0
_LESS, _MORE = 0.6, 1.15


class EffortGrant:
    """The effort to grant to the next plan."""

    def __init__(self) -> None:
        self.effort = FIRST

    def took(self, plan_ms: float) -> int:
        """Take in how long a plan took, in milliseconds; return the effort for the next."""
        if plan_ms > LONG_MS:
            self.effort = max(LEAST, int(self.effort * _LESS))
        elif plan_ms < QUICK_MS:
            self.effort = min(MOST, int(self.effort * _MORE))
        return self.effort
