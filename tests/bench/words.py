"""How figures are told: at once, with the state of the machine beside them."""

from __future__ import annotations

import os
import sys


def say(text: str = "") -> None:
    """Print a line at once."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def load() -> str:
    """Return the load average of the last minute and the number of cores."""
    if not hasattr(os, "getloadavg"):
        return f"load unknown, {os.cpu_count()} cores"
    return f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores"
