"""What was counted in a body of playing: all that an idiom is made of and that is written down.

Keys of the counters are numbers of classes (see `jam.idiom.classes`), values how often.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

Key = tuple[int, ...]


@dataclass(frozen=True)
class Counts:
    """Counts of one body of playing.

    ``steps``: (family, place, gap, class, degree, interval + 12); ``bare``: (gap, class, interval
    + 12), notes without a chord too; ``first``: (family, place, degree); ``last``: (family,
    degree); ``beats``: (tempo, pattern before that, pattern before, pattern), ``opening`` and
    ``closing``: (tempo, pattern), patterns as indices into ``patterns``. The lists of ``spreads``
    are measured values by name and class, kept as quantiles.
    """

    notes: int = 0
    phrases: int = 0
    steps: Counter[Key] = field(default_factory=Counter)
    bare: Counter[Key] = field(default_factory=Counter)
    first: Counter[Key] = field(default_factory=Counter)
    last: Counter[Key] = field(default_factory=Counter)
    patterns: tuple[Key, ...] = ((),)
    beats: Counter[Key] = field(default_factory=Counter)
    opening: Counter[Key] = field(default_factory=Counter)
    closing: Counter[Key] = field(default_factory=Counter)
    spreads: dict[str, list[list[float]]] = field(default_factory=dict)
    drift: float = 0.0
    windows: frozenset[int] = frozenset()


SPREADS = {
    "phrase_beats": 4, "rest_beats": 4, "sounding": 4, "swing": 4, "early_late": 16,
}  # fmt: skip
"""Names of the measured spreads, with the number of classes of each."""
