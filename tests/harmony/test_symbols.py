"""Chord symbols: every usual spelling is read, anything else is one error with a mend."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from jam.harmony.chord import NO_CHORD, Chord, make_chord
from jam.harmony.families import FAMILIES
from jam.harmony.symbols import SymbolError, known_suffixes, parse_chord

ROOTS = ("C", "C#", "Db", "D", "Eb", "E", "F", "F#", "Gb", "G", "Ab", "A", "Bb", "B", "Cb")

# Canonical symbol, then other spellings of the same chord (common practice).
SAME = [
    "C CM Cmaj Cma CMA Cmajor",
    "Cm C- Cmin Cmi CMI Cminor C−",
    "Dm7 D-7 Dmin7 Dmi7 DMI7 DMIN7",
    "Cmaj7 CM7 CΔ7 CΔ C∆7 C△ Cma7 CMa7 CMA7 CMAJ7 CMaj7 C7M Cj7",
    "Bm7b5 Bø7 Bø BØ7 B-7b5 Bm7-5 Bmin7(b5) Bm7♭5",
    "F#dim7 F#o7 F#°7 F#º7 F♯dim7",
    "F#dim F#o F#° F#m(b5)",
    "G7alt Galt G7(alt) G7(b9,#11,b13) G7(b9,#9,b13) G7ALT G7b9#11b13",
    "G7(b9,#11) G7b9#11 G7(#11,b9) G7(b9)(#11) G7-9+11",
    "G13sus4 G13sus",
    "G7susb9 G7sus4b9 G7b9sus G7b9sus4 G7sus(b9) Gsusb9",
    "G9sus4 G9sus G11 G7sus4(9)",
    "G7sus4 G7sus",
    "Gsus4 Gsus",
    "Gsus2",
    "C69 C6/9 C6(9) Cmaj6/9",
    "Cm69 Cm6/9 C-6/9",
    "Cm6 C-6 Cmin6",
    "EbmMaj7 Ebm(maj7) EbmM7 Eb-Δ7 EbmΔ EbminMaj7 Ebmin(maj7) Ebm/maj7 E♭m(M7)",
    "CmMaj9 CmM9 Cm(maj9)",
    "Caug C+ C(#5)",
    "C7#5 C+7 Caug7 C7+ C7(#5) C7+5 C7♯5",
    "Cmaj7#5 CM7#5 C+M7 Cmaj7+ CΔ#5 Caugmaj7 Cmaj7(#5)",
    "C7b5 C7(b5) C7-5",
    "C7#9 C7(#9) C7+9",
    "C7b9 C7(b9) C7-9",
    "C7#5#9 C7(#5,#9) C+7#9 C7#9#5",
    "C7(b9,b13) C7b9b13 C7(b13,b9)",
    "C9 C7(9) C7add9",
    "C13 C9(13)",
    "C7(13) C7add13",
    "C13b9 C13(b9) C7(b9,13)",
    "C13#11 C13(#11)",
    "Cm9 C-9",
    "Cm11 C-11",
    "Cm13",
    "Cm7(11) Cm7add11 Cm7add4",
    "Cmaj9 CM9 CΔ9 Cmaj7(9)",
    "Cmaj13 CΔ13",
    "Cmaj7#11 Cmaj7(#11) CΔ#11 CM7+11",
    "Cmaj9#11 Cmaj9(#11)",
    "Cadd9 C(add9) C2 Cadd2",
    "Cm(add9) Cmadd9 C-(add9) Cm(add2)",
    "C6 Cadd6 C(add13) Cmaj6",
    "C5",
    "Ab/C A♭/C",
    "C7/E",
    "C69/E C6/9/E",
    "Em7/A E-7/A",
    "Am7/G A-7/G",
    "Ddorian Ddor DDorian",
    "N.C. NC N.C n.c. N",
]


@pytest.mark.parametrize("row", SAME)
def test_usual_spellings_are_one_chord(row: str) -> None:
    """All spellings of a row are read as one chord, whose symbol is the first."""
    first, *others = row.split()
    assert parse_chord(first).symbol == first
    for other in others:
        assert parse_chord(other) == parse_chord(first), other


@pytest.mark.parametrize(
    ("typed", "symbol"),
    [
        ("G7(b9, b13)", "G7(b9,b13)"),
        ("G7(b9 b13)", "G7(b9,b13)"),
        ("G7 alt", "G7alt"),
        ("C maj7", "Cmaj7"),
        (" Am7 / G ", "Am7/G"),
        ("D dorian", "Ddorian"),
        ("E phryg", "Ephrygian"),
        ("F lydian", "Flydian"),
        ("G mixo", "Gmixolydian"),
        ("B locrian", "Blocrian"),
        ("Bb locrian", "Bblocrian"),
    ],
)
def test_blanks_within_a_symbol(typed: str, symbol: str) -> None:
    """Blanks do no harm where nothing is in doubt."""
    assert parse_chord(typed).symbol == symbol


def steps(chord: Chord) -> set[int]:
    """Return the chord tones in semitones above the root."""
    return {(tone - chord.root) % 12 for tone in chord.tones}


@pytest.mark.parametrize(
    ("typed", "root", "bass", "family"),
    [
        ("Cb7", 11, 11, "7"),  # the accidental belongs to the root
        ("Bb7", 10, 10, "7"),
        ("Bb", 10, 10, "maj"),
        ("C-7", 0, 0, "m7"),  # a minus is minor
        ("Dbmaj7", 1, 1, "maj7"),
        ("C6/9", 0, 0, "maj6"),  # no bass
        ("C/Bb", 0, 10, "maj"),
        ("Bbm7b5/Fb", 10, 4, "m7b5"),
        ("Ebm7", 3, 3, "m7"),
        ("Bbb7", 9, 9, "7"),
        ("F##dim7", 7, 7, "dim7"),
        ("Gsus", 7, 7, "sus4"),
        ("C/C", 0, 0, "maj"),
        ("Ado7", None, None, None),
    ],
)
def test_traps(typed: str, root: int | None, bass: int | None, family: str | None) -> None:
    """Signs, slashes and minuses bind as musicians read them."""
    if root is None:
        with pytest.raises(SymbolError):
            parse_chord(typed)
        return
    chord = parse_chord(typed)
    assert (chord.root, chord.bass, chord.family) == (root, bass, family)


@pytest.mark.parametrize(
    ("typed", "nearest"),
    [
        ("B b7", "Bb7"),
        ("H7", "B7"),
        ("dm7", "Dm7"),
        ("Cm77", "Cm7"),
        ("G7b10", "G7b13"),
        ("Cmaj7/H", "Cmaj7"),
        ("Dm7 G7", "Dm7"),
        ("Bbm7b55", "Bbm7b5"),
        ("nochord", "N.C."),
        ("Sol7", None),
        ("", None),
    ],
)
def test_unreadable_symbols_name_the_nearest(typed: str, nearest: str | None) -> None:
    """An error carries what was typed and the nearest spelling that can be read."""
    with pytest.raises(SymbolError) as caught:
        parse_chord(typed)
    assert caught.value.text == typed
    parse_chord(caught.value.nearest)
    if nearest is not None:
        assert caught.value.nearest == nearest


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.text(max_size=30))
@example("C" * 4000)
@example("C(((((((")
@example("C7(b9")
@example("\ud800")
def test_any_text_is_a_chord_or_one_error(text: str) -> None:
    """Whatever is typed is read, or raises SymbolError with a nearest spelling that reads."""
    check_reads_or_mends(text)


@settings(max_examples=80, deadline=None, derandomize=True)
@given(
    st.sampled_from(ROOTS),
    st.lists(st.sampled_from(["maj", "m", "7", "9", "b", "#", "5", "13", "(", ")", "/", "sus"])),
)
def test_near_symbols_are_chords_or_one_error(root: str, parts: list[str]) -> None:
    """Text that looks like a symbol is read and reads back, or raises SymbolError."""
    check_reads_or_mends(root + "".join(parts))


def check_reads_or_mends(text: str) -> None:
    """Read ``text``; whichever way it goes, what comes out must read again."""
    try:
        chord = parse_chord(text)
    except SymbolError as error:
        parse_chord(error.nearest)
    else:
        assert parse_chord(chord.symbol) == chord


def all_chords(root: str) -> list[Chord]:
    """Return every family on a root, with every set of up to three written tensions that fits."""
    found = [NO_CHORD]
    for family in FAMILIES.values():
        if family.kind == "none":
            continue
        named = sorted(family.tensions | family.by_name)
        for size in range(4):
            for written in combinations(named, size):
                try:
                    found.append(make_chord(root, family.name, frozenset(written)))
                except ValueError:
                    continue
    return found


@pytest.mark.parametrize("root", ROOTS)
def test_canonical_symbols_read_back(root: str) -> None:
    """The symbol of any chord is ASCII without blanks, and is read as an equal chord."""
    for chord in all_chords(root):
        assert chord.symbol.isascii()
        assert " " not in chord.symbol
        assert parse_chord(chord.symbol) == chord


def test_every_suffix_goes_with_every_root() -> None:
    """Each known suffix is read on each root, with and without a bass, at the same intervals."""
    for suffix in known_suffixes():
        in_c = parse_chord("C" + suffix)
        for root in ROOTS:
            chord = parse_chord(root + suffix)
            assert steps(chord) == steps(in_c), root + suffix
            assert chord.family == in_c.family
            slashed = parse_chord(f"{root}{suffix}/E")
            assert slashed.bass == 4
            assert parse_chord(slashed.symbol) == slashed
