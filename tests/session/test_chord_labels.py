"""Symbols and labels of chords in files of changes."""

import pytest

from jam.harmony.symbols import SymbolError, parse_chord
from jam.session.chord_labels import chord_of


@pytest.mark.parametrize(
    ("label", "symbol"),
    # Shorthands and bass degrees: Harte, Sandler, Abdallah & Gómez 2005, ISMIR.
    [
        ("C:maj7", "Cmaj7"),
        ("Bb:min7", "Bbm7"),
        ("F#:hdim7", "F#m7b5"),
        ("Eb:maj6", "Eb6"),
        ("D:7", "D7"),
        ("C:maj/3", "C/E"),
        ("C/3", "C/E"),
        ("Ab:dim7", "Abdim7"),
        ("N", "N.C."),
        ("Ab/C", "Ab/C"),
        ("F#m7b5", "F#m7b5"),
    ],
)
def test_labels_and_symbols_name_the_same_chords(label: str, symbol: str) -> None:
    """A label of an annotated recording is the chord that a musician's symbol names."""
    assert chord_of(label).same_as(parse_chord(symbol))


@pytest.mark.parametrize("text", ["H7", "C:majjj", "Cmaj77", "", "12"])
def test_what_names_no_chord_is_refused(text: str) -> None:
    """Neither a symbol nor a label: the error keeps the text and offers a spelling."""
    with pytest.raises(SymbolError) as caught:
        chord_of(text)
    assert caught.value.text == text
