"""Chords in files of changes: the symbols of musicians, or the labels of annotated recordings.

A colon tells a label (``Bb:min7``, Harte et al. 2005) from a symbol (``Bbm7``), for no symbol
holds one; ``N`` and labels without a colon (``C/3``) are tried where no symbol fits.
"""

from __future__ import annotations

from contextlib import suppress

from jam.harmony.chord import Chord
from jam.harmony.harte import parse_harte
from jam.harmony.symbols import SymbolError, parse_chord


def chord_of(text: str) -> Chord:
    """Return the chord that ``text`` names; raises SymbolError with the nearest spelling."""
    if ":" in text:
        return parse_harte(text.strip())
    try:
        return parse_chord(text)
    except SymbolError:
        with suppress(SymbolError):
            return parse_harte(text.strip())
        raise
