"""Harte chord labels (``Bb:min7``, ``G:7(b9)``, ``C:maj/3``, ``N``) read into chords.

Syntax: Harte, Sandler, Abdallah & Gómez 2005 (ISMIR): root, colon, shorthand, degrees in
parentheses (``*`` leaves one out), slash and bass degree. A label is a set of intervals; the
family is the one with the most chord tones among them. ``X`` (unknown) is read as no chord.
"""

from __future__ import annotations

import re
from functools import lru_cache

from jam.harmony.chord import NO_CHORD, Chord, make_chord
from jam.harmony.families import family_of
from jam.harmony.pitch import (
    COMMON_NAMES,
    LETTERS,
    SymbolError,
    accidental_value,
    name_on_letter,
    pitch_class,
)

_MAJOR_SCALE = (0, 2, 4, 5, 7, 9, 11)
_SHORTHANDS: dict[str, frozenset[int]] = {
    name: frozenset(intervals)
    for name, intervals in {
        "": (0,),
        "1": (0,),
        "5": (0, 7),
        "maj": (0, 4, 7),
        "min": (0, 3, 7),
        "dim": (0, 3, 6),
        "aug": (0, 4, 8),
        "sus2": (0, 2, 7),
        "sus4": (0, 5, 7),
        "maj6": (0, 4, 7, 9),
        "min6": (0, 3, 7, 9),
        "maj7": (0, 4, 7, 11),
        "min7": (0, 3, 7, 10),
        "7": (0, 4, 7, 10),
        "minmaj7": (0, 3, 7, 11),
        "hdim7": (0, 3, 6, 10),
        "dim7": (0, 3, 6, 9),
        "maj9": (0, 4, 7, 11, 2),
        "min9": (0, 3, 7, 10, 2),
        "9": (0, 4, 7, 10, 2),
        "min11": (0, 3, 7, 10, 2, 5),
        "11": (0, 4, 7, 10, 2, 5),
        "maj11": (0, 4, 7, 11, 2, 5),
        "13": (0, 4, 7, 10, 2, 5, 9),
        "min13": (0, 3, 7, 10, 2, 5, 9),
        "maj13": (0, 4, 7, 11, 2, 9),
    }.items()
}
_LABEL = re.compile(
    r"(?P<root>[A-G][b#]*)(?::(?P<shorthand>[a-z]*\d{0,2})(?:\((?P<degrees>[^()]*)\))?)?"
    r"(?:/(?P<bass>[b#]*\d{1,2}))?"
)
_DEGREE = re.compile(r"(?P<out>\*?)(?P<sign>[b#]*)(?P<number>1[0-3]|[1-9])")


def _semitones(degree: str) -> int:
    """Return the pitch-class distance of a degree of the major scale: "b7" is 10, "9" is 2."""
    match = _DEGREE.fullmatch(degree)
    if match is None:
        raise ValueError(degree)
    return (_MAJOR_SCALE[(int(match["number"]) - 1) % 7] + accidental_value(match["sign"])) % 12


@lru_cache(maxsize=4096)
def parse_harte(label: str) -> Chord:
    """Read a Harte label. Raises SymbolError when it is none, or of no family that we know."""
    stripped = label.strip()
    if stripped in ("N", "X"):
        return NO_CHORD
    match = _LABEL.fullmatch(stripped)
    if match is None:
        raise SymbolError(label, "C:maj", "chord label")
    root = match["root"]
    try:
        intervals = _intervals(match)
        family, written = family_of(intervals)
        return make_chord(_readable(root), family, written, _bass_name(root, match["bass"]))
    except ValueError as error:
        raise SymbolError(label, f"{root}:maj", "chord label") from error


def _intervals(match: re.Match[str]) -> frozenset[int]:
    """Return the intervals of a label, in semitones above the root."""
    shorthand = "maj" if match["shorthand"] is None else match["shorthand"]
    if shorthand not in _SHORTHANDS:
        raise ValueError(shorthand)
    intervals = set(_SHORTHANDS[shorthand])
    for degree in (match["degrees"] or "").replace(" ", "").split(","):
        if degree.startswith("*"):
            intervals.discard(_semitones(degree))
        elif degree:
            intervals.add(_semitones(degree))
    if {4, 5, 10} <= intervals:
        # Jazz practice drops the natural 11 of a 13, and the third of an 11 (common practice).
        intervals.discard(5 if 9 in intervals else 4)
    return frozenset(intervals)


def _readable(name: str) -> str:
    """Return a note name with at most two signs of one kind."""
    signs = accidental_value(name[1:])
    simple = name[0] + ("#" * signs if signs > 0 else "b" * -signs)
    if abs(signs) <= 2:
        return simple
    raise ValueError(name)


def _bass_name(root: str, degree: str | None) -> str:
    if not degree:
        return ""
    target = (pitch_class(_readable(root)) + _semitones(degree)) % 12
    number = int(degree.lstrip("b#"))
    name = name_on_letter(LETTERS.index(root[0]) + number - 1, target)
    return name if len(name) <= 3 else COMMON_NAMES[target]
