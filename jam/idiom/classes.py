"""The classes in which habits are counted: intervals, chord families, places, gaps, tempi.

Ticks are twelfths of a beat. The numbers of the classes stand in learnt files and are not to be
changed without a new format.
"""

from __future__ import annotations

from functools import lru_cache

from jam.harmony.chord import Chord

TICKS = 12
"""Ticks in a beat."""

INTERVALS = range(-12, 13)
"""Intervals of a line in semitones; wider ones count as an octave."""

CLASSES = 10
"""How many classes of interval there are."""

FAMILIES = ("major", "minor", "dominant", "half-diminished", "other")
PLACES = ("strong beat", "other beat", "off-beat eighth", "elsewhere")
GAPS = ("to 4 ticks", "5 to 8", "9 to 23", "24 and more")
TEMPI = ("below 110 bpm", "110 to 170", "170 to 230", "from 230")

_EDGES = ((-5, 1), (-3, 2), (-2, 3), (-1, 4), (0, 5), (1, 6), (2, 7), (4, 8))
_CLASS_OF = tuple(next((c for most, c in _EDGES if m <= most), 9) for m in INTERVALS)
_KINDS = {
    "major": 0, "minor": 1, "dominant": 2, "sus": 2, "half_diminished": 3, "diminished": 3,
}  # fmt: skip


def interval_class(interval: int) -> int:
    """Return the class of the interval that leads into a note.

    1: a fourth or more down, 2: a third down, 3: a whole step down, 4: a half step down, 5: the
    same note, 6 to 9: upwards likewise. 0 is kept for a note that begins a phrase.
    """
    return _CLASS_OF[max(-12, min(12, interval)) + 12]


@lru_cache(maxsize=4096)
def family_class(chord: Chord) -> int:
    """Return the family of a chord, as an index into `FAMILIES`."""
    return _KINDS.get(chord.kind, 4)


def place_class(tick_in_bar: int, bar_ticks: int, pulse_ticks: int) -> int:
    """Return where in the bar a note begins, as an index into `PLACES`.

    Strong is the first beat, and the third of four.
    """
    number, inside = divmod(tick_in_bar, pulse_ticks)
    if inside == 0:
        return 0 if number == 0 or (number == 2 and bar_ticks == 4 * pulse_ticks) else 1
    return 2 if 2 * inside == pulse_ticks else 3


def gap_class(ticks: int) -> int:
    """Return how long the time from onset to onset is, as an index into `GAPS`."""
    return 0 if ticks <= 4 else 1 if ticks <= 8 else 2 if ticks <= 23 else 3


def tempo_class(bpm: float) -> int:
    """Return how fast it goes, as an index into `TEMPI`."""
    return 0 if bpm < 110 else 1 if bpm < 170 else 2 if bpm < 230 else 3
