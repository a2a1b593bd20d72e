"""What goes wrong in one of the musicians must not end the session.

A musician's work is run here; if it fails, its result is left out, the log is told once of each
kind of failure, and the rest goes on. What fails hangs on the inputs alone, so a session that is
performed again fails in the same places.
"""

from __future__ import annotations

from collections.abc import Callable

from jam import log
from jam.core.moment import Moment, Out


class Guard:
    """Runs work that may fail; remembers which failures the log has been told of."""

    def __init__(self) -> None:
        self._told: set[tuple[str, str]] = set()

    def run(self, who: str, work: Callable[[], object], m: Moment, out: Out) -> bool:
        """Do ``work`` of ``who`` (in words, for the log); return whether it went well."""
        try:
            work()
        except Exception as error:  # of any kind: what it was is told, and the music goes on
            kind = type(error).__name__
            if (who, kind) not in self._told:
                self._told.add((who, kind))
                out.records.append(_failed(who, f"{kind}: {error}", m))
            return False
        return True


def _failed(who: str, why: str, m: Moment) -> log.Record:
    what = f"{who} failed and is left out here; the rest plays on ({why})"
    return log.fault(m.now, what, who=who, beat=m.beat)
