"""Note names and numbers.

A pitch is a MIDI note number (60 = middle C = "C4", 69 = 440 Hz). A pitch class is 0..11 from C.
Names are ASCII: a capital letter, then ``#``, ``b``, ``##`` or ``bb``.
"""

from __future__ import annotations

import re

LETTERS = "CDEFGAB"
LETTER_CLASSES: dict[str, int] = dict(zip(LETTERS, (0, 2, 4, 5, 7, 9, 11), strict=True))
"""Pitch class of each natural note."""

NAME_PATTERN = "[A-G](?:bb|b|##|#)?"
"""A note name without octave, as a regular expression."""

COMMON_NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
"""The most usual name of each pitch class, where nothing else decides (common practice)."""

_NAME = re.compile(NAME_PATTERN)
_PITCH = re.compile(rf"({NAME_PATTERN})(-?\d{{1,2}})")


class SymbolError(ValueError):
    """A chord, key or note name that cannot be read.

    ``text`` is what was read, ``nearest`` the nearest spelling that can be read.
    """

    def __init__(self, text: str, nearest: str, what: str = "chord symbol") -> None:
        super().__init__(f"{text!r} is no {what}; the nearest is {nearest!r}")
        self.text = text
        self.nearest = nearest


def accidental_value(accidental: str) -> int:
    """Return the semitones that a run of ``#`` or ``b`` adds."""
    return accidental.count("#") - accidental.count("b")


def pitch_class(name: str) -> int:
    """Return the pitch class of a note name without octave (``"Bb"`` is 10)."""
    if not _NAME.fullmatch(name):
        raise SymbolError(name, "C", "note name")
    return (LETTER_CLASSES[name[0]] + accidental_value(name[1:])) % 12


def parse_pitch(text: str) -> int:
    """Return the MIDI number of a note name with octave (``"Bb3"`` is 58, ``"Cb4"`` is 59)."""
    match = _PITCH.fullmatch(text)
    if match:
        name, octave = match.groups()
        pitch = LETTER_CLASSES[name[0]] + accidental_value(name[1:]) + 12 * (int(octave) + 1)
        if 0 <= pitch <= 127:
            return pitch
    raise SymbolError(text, "C4", "pitch between C-1 and G9")


def with_octave(name: str, pitch: int) -> str:
    """Return ``name`` with the octave that makes it sound ``pitch``: ("Cb", 59) is "Cb4"."""
    return f"{name}{(pitch - accidental_value(name[1:])) // 12 - 1}"


def name_on_letter(letter_index: int, target_class: int) -> str:
    """Name a pitch class on a given letter (0..6 from C, wrapping), with as many signs as needed.

    The signs may be more than two; a caller that minds looks at the length.
    """
    letter = LETTERS[letter_index % 7]
    signs = (target_class - LETTER_CLASSES[letter] + 6) % 12 - 6
    return letter + ("#" * signs if signs > 0 else "b" * -signs)
