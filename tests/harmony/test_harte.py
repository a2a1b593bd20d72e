"""Harte labels against mir_eval, the reference reader of the syntax."""

from __future__ import annotations

import mir_eval.chord
import pytest

from jam.harmony.harte import parse_harte
from jam.harmony.symbols import SymbolError, parse_chord

# Shorthands and labels as used in published chord annotations.
BODIES = (
    *("maj", "min", "dim", "aug", "maj7", "min7", "7", "hdim7", "dim7", "minmaj7", "maj6", "min6"),
    *("sus2", "sus4", "9", "maj9", "min9", "min11", "maj13", "min13", "13", "5", "sus4(b7)"),
    *("sus4(b7,9)", "aug(b7)", "aug(b7,9,#11)", "7(b9)", "7(#9)", "7(9,13)", "7(9,#11)"),
    *("7(9,b13)", "7(b9,b13)", "maj(9)", "maj6(9)", "maj7(9,#11)", "min(9)", "min7(b9)"),
    *("min7(11)", "maj9(13)", "maj6(b7)", "maj6(7)", "min(6)", "(1,b3,b5,b7)"),
)
BASSES = ("", "/3", "/b3", "/5", "/b7", "/7", "/2", "/4", "/6")
ROOTS = ("C", "C#", "Db", "Eb", "F#", "Gb", "Ab", "Bb", "B")


@pytest.mark.parametrize("body", BODIES)
def test_chord_tones_agree_with_mir_eval(body: str) -> None:
    """Root, bass and the chord tones are those of mir_eval, which leaves extensions out."""
    for root in ROOTS:
        for bass in BASSES:
            label = f"{root}:{body}{bass}"
            their_root, bitmap, their_bass = mir_eval.chord.encode(label)
            theirs = {(their_root + step) % 12 for step in range(12) if bitmap[step]}
            chord = parse_harte(label)
            assert chord.root == their_root, label
            assert (chord.bass - chord.root) % 12 == their_bass, label
            added = theirs - chord.tones - chord.tensions
            assert not added, label
            assert chord.tones <= theirs | chord.written | {chord.bass}, label


@pytest.mark.parametrize(
    ("label", "symbol"),
    [
        ("Bb:min7", "Bbm7"),
        ("G:7(b9)", "G7b9"),
        ("C:sus4(b7)", "C7sus4"),
        ("C:aug(b7)", "C7#5"),
        ("C:maj6(9)", "C69"),
        ("D:min/5", "Dm/A"),
        ("C:maj7/3", "Cmaj7/E"),
        ("F", "F"),
        ("Ab/3", "Ab/C"),
        ("G:7(b9,#9,b13)", "G7alt"),
        ("C:7(#5)", "C7b13"),  # the natural fifth stays (mir_eval)
        ("Gb:min/b3", "Gbm/Bbb"),
        ("C:maj6(7)", "Cmaj7(13)"),
        ("N", "N.C."),
        ("X", "N.C."),
    ],
)
def test_labels_become_symbols(label: str, symbol: str) -> None:
    """A label is read as the chord that its symbol names."""
    assert parse_harte(label).symbol == symbol
    assert parse_harte(label) == parse_chord(symbol)


@pytest.mark.parametrize("label", ["C:alt", "Cm7", "C:m7", "", "H:maj", "C:maj7(*5)", "C:1", "C:"])
def test_what_is_no_label_is_one_error(label: str) -> None:
    """Labels out of the grammar (the first three are mir_eval's refusals) raise SymbolError."""
    with pytest.raises(SymbolError):
        parse_harte(label)
