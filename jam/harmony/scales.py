"""Chord scales: the scale that goes with a chord in its function.

Scales are semitones above the root. For each kind of chord and function the candidates stand in
order of use; the first one that holds all chord tones and written tensions is taken, or, where the
key can tell (a chord that is neither ii, tonic, blues nor going to minor), the one that shares most
notes with the key. Candidates: Nettles & Graf 1997 and Levine 1995, as quoted by readers.
"""

from __future__ import annotations

from functools import lru_cache

from jam.harmony.chord import Chord
from jam.harmony.families import FAMILIES
from jam.harmony.functions import Function
from jam.harmony.keys import Key

SCALES: dict[str, frozenset[int]] = {
    name: frozenset(steps)
    for name, steps in {
        "ionian": (0, 2, 4, 5, 7, 9, 11),
        "dorian": (0, 2, 3, 5, 7, 9, 10),
        "phrygian": (0, 1, 3, 5, 7, 8, 10),
        "lydian": (0, 2, 4, 6, 7, 9, 11),
        "mixolydian": (0, 2, 4, 5, 7, 9, 10),
        "aeolian": (0, 2, 3, 5, 7, 8, 10),
        "locrian": (0, 1, 3, 5, 6, 8, 10),
        # Modes of melodic minor, and melodic minor itself.
        "melodic minor": (0, 2, 3, 5, 7, 9, 11),
        "dorian b2": (0, 1, 3, 5, 7, 9, 10),
        "lydian augmented": (0, 2, 4, 6, 8, 9, 11),
        "lydian dominant": (0, 2, 4, 6, 7, 9, 10),
        "mixolydian b6": (0, 2, 4, 5, 7, 8, 10),
        "locrian natural 2": (0, 2, 3, 5, 6, 8, 10),
        "altered": (0, 1, 3, 4, 6, 8, 10),
        # Modes of harmonic minor.
        "harmonic minor": (0, 2, 3, 5, 7, 8, 11),
        "phrygian dominant": (0, 1, 4, 5, 7, 8, 10),
        # Symmetric scales.
        "half-whole": (0, 1, 3, 4, 6, 7, 9, 10),
        "whole-half": (0, 2, 3, 5, 6, 8, 9, 11),
        "whole tone": (0, 2, 4, 6, 8, 10),
        # Phrygian dominant with both thirds: b9, #9 and b13 over a natural fifth.
        "spanish phrygian": (0, 1, 3, 4, 5, 7, 8, 10),
    }.items()
}
"""Scales by name, in semitones above their tonic."""

_TO_MAJOR = ("mixolydian", "lydian dominant")
_ALTERED_TO_MAJOR = (
    *("mixolydian b6", "half-whole", "whole tone", "phrygian dominant", "altered"),
    "spanish phrygian",
)
_TO_MINOR = (
    *("phrygian dominant", "altered", "spanish phrygian", "half-whole", "mixolydian b6"),
    *("lydian dominant", "mixolydian", "whole tone"),
)
_SUS = ("mixolydian", "dorian b2", "phrygian", "mixolydian b6")
_MAJOR = ("ionian", "lydian", "mixolydian", "lydian augmented")
_MINOR = ("dorian", "aeolian", "phrygian", "dorian b2")
_MELODIC_MINOR = ("melodic minor", "harmonic minor")
_BY_KIND: dict[str, tuple[str, ...]] = {
    "major": _MAJOR,
    "minor": _MINOR,
    "sus": _SUS,
    "open": ("ionian", "mixolydian", "dorian"),
    "half_diminished": ("locrian", "locrian natural 2"),
    "diminished": ("whole-half",),
    "augmented": ("lydian augmented", "whole tone"),
}
_BY_FAMILY: dict[str, tuple[str, ...]] = {
    "mMaj7": _MELODIC_MINOR,
    "m6": ("dorian", "melodic minor"),
    "m7#5": ("aeolian", "phrygian"),
    **{mode: (mode,) for mode in FAMILIES if mode in SCALES},
}


def scale_of(chord: Chord, function: Function, key: Key | None = None) -> frozenset[int]:
    """Return the pitch classes of the scale that goes with ``chord`` in its function.

    On N.C. that is the key's scale, or all twelve without a key.
    """
    if chord.is_none:
        return frozenset(range(12)) if key is None else key.scale
    return _scale(chord, function, key)


@lru_cache(maxsize=4096)
def _scale(chord: Chord, function: Function, key: Key | None) -> frozenset[int]:
    row = FAMILIES[chord.family]
    named = row.tones | {(pitch_class - chord.root) % 12 for pitch_class in chord.written}
    # With the bass under the slash if any scale has it: D/C is D Mixolydian.
    for needed in (named | {(chord.bass - chord.root) % 12}, named):
        for names in _candidates(chord, function):
            fitting = [
                frozenset((chord.root + step) % 12 for step in SCALES[name])
                for name in names
                # A natural fifth rubs against an altered one.
                if needed <= SCALES[name] and (7 in needed or 7 not in SCALES[name])
            ]
            if fitting:
                return _chosen(fitting, function, key)
    return chord.strong


def _chosen(fitting: list[frozenset[int]], function: Function, key: Key | None) -> frozenset[int]:
    """Return the first scale, or the one nearest to the key where the key can tell."""
    if key is None or function in ("two", "tonic", "to_minor", "blues"):
        return fitting[0]
    in_key = key.scale
    return max(fitting, key=lambda scale: len(scale & in_key))


def _candidates(chord: Chord, function: Function) -> tuple[tuple[str, ...], ...]:
    """Return names of scales in order of use; a later group counts when none before it fits."""
    if chord.kind == "dominant" and chord.family not in _BY_FAMILY:
        return (_TO_MINOR,) if function == "to_minor" else (_TO_MAJOR, _ALTERED_TO_MAJOR)
    if function == "tonic" and chord.family in ("m", "m6"):
        return (_MELODIC_MINOR,)
    return (_BY_FAMILY.get(chord.family) or _BY_KIND[chord.kind],)
