"""Chord tones against music21 and pychord, on the symbols that both read and agree on.

Only pitch classes are compared. Each row is checked to agree between the two libraries first, so
that a changed library shows itself here and not as a fault of ours.
"""

from __future__ import annotations

import pytest
from music21 import harmony
from pychord import Chord as PychordChord
from pychord.utils import note_to_val

from jam.harmony.symbols import parse_chord

AGREED = (
    *("C", "Cm", "C7", "Cmaj7", "CM7", "Cm7", "C6", "Cm6", "CmM7", "Cm7b5", "Cdim", "Cdim7"),
    *("Caug", "C7#5", "C7b5", "Csus4", "Csus", "Csus2", "C7sus4", "C9", "C11", "Cm9", "Cm11"),
    *("C13", "C7b9", "C7#9", "C7#11", "C7b13", "Cmaj7#11", "Cadd9", "C5", "Cm7/G"),
    "F#m7b5",
)
# Rows that pychord alone reads in full (music21 10.5 leaves the b9 of C13b9 out).
PYCHORD_ALONE = ("C13b9", "C9sus4", "Cmaj9", "C69")
# Jazz practice drops the natural 11 that both libraries keep under a 13, and the 3rd that they
# keep under an 11 (common practice: the two rub a minor ninth).
DROPPED = {"C13": {5}, "C13b9": {5}, "C11": {4}}


def by_music21(symbol: str) -> set[int]:
    """Return the pitch classes that music21 hears in a symbol."""
    return {pitch.pitchClass for pitch in harmony.ChordSymbol(symbol).pitches}


def by_pychord(symbol: str) -> set[int]:
    """Return the pitch classes that pychord hears in a symbol."""
    return {note_to_val(name) % 12 for name in PychordChord(symbol).components()}


@pytest.mark.parametrize("symbol", AGREED)
def test_named_notes_agree_with_both_libraries(symbol: str) -> None:
    """Chord tones and written tensions are the notes that music21 and pychord name."""
    theirs = by_music21(symbol)
    assert by_pychord(symbol) == theirs
    chord = parse_chord(symbol)
    assert chord.tones | chord.written == theirs - DROPPED.get(symbol, set())


@pytest.mark.parametrize("symbol", [*AGREED, *PYCHORD_ALONE])
def test_named_notes_agree_on_every_root(symbol: str) -> None:
    """The same holds on all roots for pychord, which reads flats as musicians write them."""
    root_length = 2 if symbol[1:2] == "#" else 1
    suffix = symbol[root_length:].replace("/G", "")
    dropped = DROPPED.get(symbol, set())
    for root in ("Db", "D", "Eb", "E", "F", "F#", "Gb", "G", "Ab", "A", "Bb", "B"):
        chord = parse_chord(root + suffix)
        theirs = {
            pitch_class
            for pitch_class in by_pychord(root + suffix)
            if (pitch_class - chord.root) % 12 not in dropped
        }
        assert chord.tones | chord.written == theirs, root + suffix
