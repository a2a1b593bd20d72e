"""Note names as people type them: ``C4``, ``Bb3``, ``F#5`` or a MIDI number.

C4 is middle C, MIDI number 60 (common practice; some makers call it C3).
"""

from __future__ import annotations

import re

_LETTERS = {"c": 0, "d": 2, "e": 4, "f": 5, "g": 7, "a": 9, "b": 11}
_SIGNS = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}


def pitch_of(text: str) -> int:
    """Return the MIDI pitch that ``text`` names; raises ValueError with a plain word."""
    text = text.strip()
    if text.isascii() and text.isdigit() and int(text) <= 127:
        return int(text)
    match = re.fullmatch(r"([A-Ga-g])([#♯b♭]?)(-?[0-9])", text)
    if match:
        letter, sign, octave = match.groups()
        pitch = 12 * (int(octave) + 1) + _LETTERS[letter.lower()] + _SIGNS[sign]
        if 0 <= pitch <= 127:
            return pitch
    raise ValueError(
        f"{text!r} is no note: write C4 (middle C), Bb3 or a MIDI number from 0 to 127"
    )
