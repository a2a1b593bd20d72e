"""Which places of a beat can the notes in it have, and how usual is that?

A beat is divided in two (0, 1/2), three, four or, for five notes and more, six or eight parts; a
pattern is a choice of those places. Its cost is in units of minus log likelihood: the rarer, the
dearer, so that two notes are the swung eighths unless they lie far from them. Patterns whose
parts would be too short to play at the tempo cost more.

Costs are the author's, tuned on made lines and checked on human solos (Weimar Jazz Database,
Pfleiderer et al. 2017). Places are in beats from the beat's own start.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

MOST_NOTES = 8
HURRIED_SEC = 0.075
"""Parts of a beat shorter than this are hardly played as written."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """Places of a beat that is divided into ``parts``; ``cost`` is how unusual it is."""

    places: tuple[float, ...]
    parts: int
    cost: float

    def cost_at(self, beat_sec: float) -> float:
        """Return the cost when a beat lasts ``beat_sec``: parts too short to play cost more."""
        if self.parts == 2:
            return self.cost
        hurry = HURRIED_SEC * self.parts / beat_sec
        return self.cost + max(0.0, 4.0 * (hurry - 1.0)) + (0.0 if hurry > 0.6 else -0.5)


_COSTS: dict[tuple[int, tuple[int, ...]], float] = {
    (2, (0,)): 0.2, (2, (1,)): 0.5, (2, (0, 1)): 0.0,
    (3, (0, 1, 2)): 1.0, (3, (1, 2)): 3.0, (3, (0, 1)): 4.0, (3, (0, 2)): 4.5,
    (3, (1,)): 4.5, (3, (2,)): 5.0,
    (4, (0, 1, 2, 3)): 0.5, (4, (0, 2, 3)): 2.0, (4, (0, 1, 2)): 2.2, (4, (1, 2, 3)): 2.5,
    (4, (0, 1, 3)): 3.0, (4, (2, 3)): 2.5, (4, (0, 3)): 3.0, (4, (0, 1)): 3.0,
    (4, (1, 2)): 3.5, (4, (1, 3)): 4.0, (4, (3,)): 4.0, (4, (1,)): 4.5,
}  # fmt: skip
"""(parts, which of them have a note) -> cost."""


def _patterns() -> dict[int, tuple[Pattern, ...]]:
    costs = dict(_COSTS)
    for parts in (6, 8):
        for count in range(5, parts + 1):
            for chosen in combinations(range(parts), count):
                costs[parts, chosen] = 2.0 + (parts - count)
    table: dict[int, list[Pattern]] = {}
    for (parts, chosen), cost in costs.items():
        places = tuple(place / parts for place in chosen)
        table.setdefault(len(chosen), []).append(Pattern(places, parts, cost))
    return {count: tuple(sorted(found, key=lambda p: p.cost)) for count, found in table.items()}


PATTERNS = _patterns()
"""All patterns of a beat by their number of notes, 1 to `MOST_NOTES`."""


@dataclass(frozen=True, slots=True)
class Step:
    """A beat with notes: its number, the indices of its notes, and their pattern."""

    beat: int
    notes: tuple[int, ...]
    pattern: Pattern
