"""Times taken: by the clock on the wall, and by the processor, which leaves the neighbours out."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from time import perf_counter, thread_time

import numpy as np


@dataclass
class Times:
    """Milliseconds that pieces of work took, in order."""

    wall_ms: list[float] = field(default_factory=list)
    own_ms: list[float] = field(default_factory=list)

    @contextmanager
    def taken(self) -> Iterator[None]:
        """Time the work inside the block."""
        wall, own = perf_counter(), thread_time()
        yield
        self.own_ms.append(1000.0 * (thread_time() - own))
        self.wall_ms.append(1000.0 * (perf_counter() - wall))

    def add(self, others: Times) -> None:
        """Take over the times of ``others``."""
        self.wall_ms += others.wall_ms
        self.own_ms += others.own_ms

    def __len__(self) -> int:
        return len(self.wall_ms)

    @property
    def wall_p99_ms(self) -> float:
        """99th percentile by the clock on the wall."""
        return float(np.percentile(self.wall_ms, 99)) if self.wall_ms else 0.0

    @property
    def own_p99_ms(self) -> float:
        """99th percentile of processor time."""
        return float(np.percentile(self.own_ms, 99)) if self.own_ms else 0.0

    def __str__(self) -> str:
        if not self.wall_ms:
            return "nothing measured"
        wall, own = np.median(self.wall_ms), np.median(self.own_ms)
        return (
            f"{wall:.2f} / {self.wall_p99_ms:.2f} ms"
            f" (processor {own:.2f} / {self.own_p99_ms:.2f}, n = {len(self)})"
        )
