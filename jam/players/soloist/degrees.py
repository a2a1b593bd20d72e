"""Degrees as a style writes them, and where they lie on a chord.

A plain number is the chord's own degree where the chord has it: ``3`` is the minor third over a
minor chord, ``7`` the flat seventh over a dominant. A sign fixes the distance from the root.
"""

from __future__ import annotations

from jam.harmony.chord import Chord

STEPS: dict[str, tuple[int, ...]] = {
    "1": (0,), "b2": (1,), "b9": (1,), "2": (2,), "9": (2,), "#9": (3,), "b3": (3,),
    "3": (4, 3), "4": (5,), "11": (5,), "#11": (6,), "#4": (6,), "b5": (6,), "5": (7, 6, 8),
    "#5": (8,), "b13": (8,), "b6": (8,), "6": (9,), "13": (9,), "b7": (10,), "7": (10, 11, 9),
}  # fmt: skip
"""Semitones above the root that each name may mean, the likeliest first."""

TONES = ("1", "b3", "3", "b5", "5", "#5", "6", "b7", "7")
"""Names that ask for a chord tone; the others ask for a tension."""


def on_chord(name: str, chord: Chord) -> int:
    """Return the semitones above the root that ``name`` means on ``chord``."""
    for semitones in STEPS[name]:
        if (chord.root + semitones) % 12 in chord.tones:
            return semitones
    return STEPS[name][0]
