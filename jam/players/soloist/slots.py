"""Slots: the rhythm of a reply, before it has pitches.

Places are counted in ticks of a twelfth of a beat, which hold eighths, triplets and sixteenths
exactly.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from jam.harmony.chord import Chord

TICKS = 12
"""Ticks in a beat."""


def pulse_ticks(pulse_beats: float) -> int:
    """Return the ticks between two places that count as on the beat: a beat, or the dotted
    quarter where that is the pulse."""
    return TICKS + TICKS // 2 if pulse_beats == 1.5 else TICKS


def to_ticks(beat: float) -> int:
    """Return the nearest tick."""
    return round(beat * TICKS)


_CLOSEST = TICKS // 4

RUNS, LANDINGS, CLOSES, FIGURES = 100, 10_000, 20_000, 30_000
"""Where the groups of slots begin that fill a phrase, meet a change, close a phrase, and are
figures; statements of an idea have the numbers below."""


def folded(pitch: int, low: int, high: int) -> int:
    """Return the pitch moved by octaves into a range that has one of each class."""
    while pitch < low:
        pitch += 12
    while pitch > high:
        pitch -= 12
    return pitch


@dataclass(frozen=True, slots=True)
class Slot:
    """Room for one note: ``tick`` and ``ticks`` are its onset and length.

    ``move`` names what it belongs to, ``group`` tells one statement or figure from the next and
    ``place`` counts within it. ``wanted`` is the interval in semitones from the slot before that a
    statement asks for, with ``firm`` as the cost of each semitone off (the first is nearly free in
    a ``tonal`` one); ``wanted_class`` is a pitch class that a figure asks for and ``direction`` the
    way it moves; ``wanted_pitch`` a pitch to begin on. ``implied`` is the chord that a span is
    judged against; ``late`` is how far off the grid the player had it, in beats, where that is
    taken over; ``why`` are words for the log.
    """

    tick: int
    ticks: int
    move: str
    group: int
    place: int = 0
    wanted: int | None = None
    firm: int = 0
    tonal: bool = False
    wanted_class: int | None = None
    direction: int = 0
    wanted_pitch: int | None = None
    implied: Chord | None = None
    late: float | None = None
    why: str = ""

    def lasting(self, ticks: int) -> Slot:
        """Return the slot with another length; quicker than `dataclasses.replace`."""
        if ticks == self.ticks:
            return self
        return Slot(
            self.tick, ticks, self.move, self.group, self.place, self.wanted, self.firm, self.tonal,
            self.wanted_class, self.direction, self.wanted_pitch, self.implied, self.late, self.why,
        )  # fmt: skip

    @property
    def beat(self) -> float:
        """Return its onset in beats."""
        return self.tick / TICKS

    @property
    def beats(self) -> float:
        """Return its length in beats."""
        return self.ticks / TICKS

    @property
    def end(self) -> int:
        """Return the tick at which it ends."""
        return self.tick + self.ticks


def in_line(slots: Iterable[Slot]) -> list[Slot]:
    """Return the slots in order, one at a time: none runs into the next.

    Slots of different groups lie a sixteenth apart at least (an off-beat and the last note of a
    triplet do not); of two that are closer the one with the firmer wish stays.
    """
    ordered: list[Slot] = []
    for slot in sorted(slots, key=lambda s: (s.tick, -s.firm)):
        if ordered and slot.tick - ordered[-1].tick < (
            _CLOSEST if slot.group != ordered[-1].group else 1
        ):
            if slot.firm <= ordered[-1].firm:
                continue
            ordered.pop()
        if ordered and ordered[-1].end > slot.tick:
            ordered[-1] = ordered[-1].lasting(slot.tick - ordered[-1].tick)
        ordered.append(slot)
    return ordered


def stretches(slots: Sequence[Slot], gap_ticks: int) -> list[tuple[int, int]]:
    """Return ``(first, last)`` indices of the runs without a rest of ``gap_ticks`` or more."""
    runs: list[tuple[int, int]] = []
    first = 0
    for index in range(1, len(slots) + 1):
        if index == len(slots) or slots[index].tick - slots[index - 1].end >= gap_ticks:
            runs.append((first, index - 1))
            first = index
    return runs
