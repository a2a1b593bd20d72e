"""How figures are told: percentiles, and the state of the machine beside them."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

import numpy as np


def say(text: str = "") -> None:
    """Print a line at once."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def spread(values: Sequence[float], unit: str = "ms") -> str:
    """Return median, 99th percentile and maximum in words, with how many there are."""
    if not values:
        return "nothing measured"
    median, high = np.percentile(values, [50, 99])
    return f"{median:.2f} / {high:.2f} / {max(values):.2f} {unit} (n = {len(values)})"


def load() -> str:
    """Return the load average of the last minute and the number of cores."""
    if not hasattr(os, "getloadavg"):
        return f"load unknown, {os.cpu_count()} cores"
    return f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores"
