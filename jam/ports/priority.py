"""Being on time among other programs: real-time priority, locked memory, exact sleeping.

All of it is asked for and may be refused; what was granted is said in words. It works on Linux;
elsewhere only what Python itself offers is set.
"""

from __future__ import annotations

import ctypes
import gc
import os
import sys

FIFO_PRIORITY = 20
"""Below what sound servers use (JACK's own threads have 10 more than its clients, common
practice), above everything that is not real-time."""

SWITCH_SEC = 0.0002
"""How long another thread of this process may hold the interpreter."""

_PR_SET_TIMERSLACK = 29
_MCL_CURRENT, _MCL_FUTURE, _MCL_ONFAULT = 1, 2, 4


def calm_interpreter() -> None:
    """Collect no garbage from here on, and let no thread hold the others up."""
    gc.collect()
    gc.freeze()
    gc.disable()
    sys.setswitchinterval(SWITCH_SEC)
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(_PR_SET_TIMERSLACK, 1, 0, 0, 0)


def raise_priority() -> str:
    """Ask for real-time priority and locked memory; return in words what was granted."""
    if sys.platform != "linux":
        return "usual priority (real-time priority is asked for on Linux only)"
    try:
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(FIFO_PRIORITY))
    except OSError:
        return (
            "usual priority: real-time was refused. On a busy machine notes may be some ms late; "
            "allow your user 'rtprio' in /etc/security/limits.conf to mend it"
        )
    locked = "memory locked" if _lock_memory() else "memory not locked"
    return f"real-time priority {FIFO_PRIORITY}, {locked}"


def _lock_memory() -> bool:
    """Keep pages in memory once they are there.

    Future ones only where there is no limit: beyond one, later allocations would fail.
    """
    import resource  # noqa: PLC0415 (not on every system)

    limit, _ = resource.getrlimit(resource.RLIMIT_MEMLOCK)
    unlimited = limit == resource.RLIM_INFINITY or os.geteuid() == 0
    flags = _MCL_CURRENT | _MCL_ONFAULT | (_MCL_FUTURE if unlimited else 0)
    return bool(ctypes.CDLL(None).mlockall(flags) == 0)
