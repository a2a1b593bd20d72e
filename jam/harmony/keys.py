"""Keys and modes: tonic, signature and scale.

A key is a major or minor key, or one of the church modes. Minor keys have the scale of their
signature (natural minor); raised sixths and sevenths are the business of the chords.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import lru_cache

from jam.harmony.pitch import COMMON_NAMES, NAME_PATTERN, SymbolError, pitch_class

_MAJOR = (0, 2, 4, 5, 7, 9, 11)
# Semitones from the tonic of the major key with the same signature up to the mode's own tonic.
_MODE_STEPS = {
    "major": 0,
    "ionian": 0,
    "dorian": 2,
    "phrygian": 4,
    "lydian": 5,
    "mixolydian": 7,
    "minor": 9,
    "aeolian": 9,
    "locrian": 11,
}
_MODE_FIFTHS = {
    # Steps round the circle of fifths from the signature's own major tonic.
    "lydian": -1,
    "major": 0,
    "ionian": 0,
    "mixolydian": 1,
    "dorian": 2,
    "minor": 3,
    "aeolian": 3,
    "phrygian": 4,
    "locrian": 5,
}
_MINOR_MODES = frozenset({"minor", "dorian", "phrygian", "aeolian", "locrian"})
_WORDS = {
    "": "major",
    "maj": "major",
    "M": "major",
    "m": "minor",
    "-": "minor",
    "min": "minor",
    "mi": "minor",
    "dor": "dorian",
    "phryg": "phrygian",
    "phr": "phrygian",
    "lyd": "lydian",
    "mixo": "mixolydian",
    "mix": "mixolydian",
    "aeol": "aeolian",
    "loc": "locrian",
    **{mode: mode for mode in _MODE_STEPS},
}
_KEY = re.compile(rf"({NAME_PATTERN})\s*[-_]?\s*(.*)")
_SIGNS = str.maketrans({"♭": "b", "♯": "#"})


@dataclass(frozen=True, slots=True)
class Key:
    """``tonic`` is a pitch class, ``name`` reads "Eb major", "C minor" or "D dorian".

    ``scale`` holds the pitch classes of the signature, ``sharps`` is the signature (flats are
    negative).
    """

    tonic: int
    minor: bool
    name: str
    scale: frozenset[int] = field(init=False, repr=False, compare=False)
    sharps: int = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        tonic_name, _, mode = self.name.partition(" ")
        mode = mode or ("minor" if self.minor else "major")
        parent = (self.tonic - _MODE_STEPS[mode]) % 12
        object.__setattr__(self, "scale", frozenset((parent + step) % 12 for step in _MAJOR))
        object.__setattr__(self, "sharps", _fifths(tonic_name) - _MODE_FIFTHS[mode])

    @property
    def tonic_name(self) -> str:
        """Return the spelled tonic: "Eb"."""
        return self.name.split(" ")[0]


def _fifths(name: str) -> int:
    """Return the place of a note name on the circle of fifths, C = 0, G = 1, F = -1."""
    return "FCGDAEB".index(name[0]) - 1 + 7 * (name.count("#") - name[1:].count("b"))


@lru_cache(maxsize=512)
def parse_key(text: str) -> Key:
    """Read a key: "Eb major", "C minor", "F", "Dm", "D dorian". Raises SymbolError."""
    match = _KEY.fullmatch(text.strip().translate(_SIGNS))
    if match:
        name, word = match.groups()
        # A bare "-" is minor (the separator has eaten it).
        if not word and re.search(r"-\s*$", text):
            word = "-"
        mode = _WORDS.get(word) or _WORDS.get(word.lower())
        if mode:
            return Key(pitch_class(name), mode in _MINOR_MODES, f"{name} {mode}")
    raise SymbolError(text, _nearest(text), "key")


def _nearest(text: str) -> str:
    names = (*COMMON_NAMES, "Db", "Gb")
    if text.strip().upper() == "H":  # the German name of B, read nowhere else here
        return "B major"
    known = [f"{name} {mode}" for name in names for mode in _MODE_STEPS]
    return get_close_matches(text[:40], known, n=1, cutoff=0.0)[0]
