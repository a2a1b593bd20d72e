"""How figures are told: at once, with the state of the machine beside them."""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass


@dataclass(frozen=True)
class Row:
    """One line of a table; ``met`` is None where no target was set."""

    what: str
    figure: str
    target: str = ""
    met: bool | None = None

    def __str__(self) -> str:
        verdict = "" if self.met is None else "met" if self.met else "MISSED"
        return f"{self.what:<44} {self.figure:<58} {self.target:<18} {verdict}".rstrip()


def say(text: str = "") -> None:
    """Print a line at once."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def load() -> str:
    """Return the load average of the last minute and the number of cores."""
    if not hasattr(os, "getloadavg"):
        return f"load unknown, {os.cpu_count()} cores"
    return f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores"
