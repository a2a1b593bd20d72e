"""Keys, and the names of notes in keys and over chords."""

from __future__ import annotations

import pytest
from music21 import key as music21_key
from music21 import pitch as music21_pitch

from jam.harmony.keys import parse_key
from jam.harmony.pitch import SymbolError, parse_pitch, pitch_class
from jam.harmony.spelling import chord_tone_names, name_in_key, spell
from jam.harmony.symbols import known_suffixes, parse_chord

TONICS = ("C", "G", "D", "A", "E", "B", "F#", "C#", "F", "Bb", "Eb", "Ab", "Db", "Gb", "Cb")


@pytest.mark.parametrize(
    ("text", "name", "tonic", "minor"),
    [
        ("Eb major", "Eb major", 3, False),
        ("C minor", "C minor", 0, True),
        ("F", "F major", 5, False),
        ("Dm", "D minor", 2, True),
        ("A-", "A minor", 9, True),
        ("D dorian", "D dorian", 2, True),
        ("G mixolydian", "G mixolydian", 7, False),
        ("e".upper() + "♭", "Eb major", 3, False),
        ("F# Minor", "F# minor", 6, True),
        ("Bbmaj", "Bb major", 10, False),
    ],
)
def test_keys_are_read(text: str, name: str, tonic: int, minor: bool) -> None:
    """Usual ways to write a key are read."""
    key = parse_key(text)
    assert (key.name, key.tonic, key.minor) == (name, tonic, minor)
    assert parse_key(key.name) == key


@pytest.mark.parametrize("text", ["", "H", "C mayor", "c minor", "Cm7", "7", "X major"])
def test_what_is_no_key_is_one_error(text: str) -> None:
    """Anything else raises SymbolError with a nearest key that can be read."""
    with pytest.raises(SymbolError) as caught:
        parse_key(text)
    parse_key(caught.value.nearest)


@pytest.mark.parametrize("mode", ["major", "minor", "dorian", "phrygian", "lydian", "mixolydian"])
def test_signatures_and_scales_agree_with_music21(mode: str) -> None:
    """Signature and scale of every key and mode are those of music21."""
    for tonic in TONICS[:7] + TONICS[8:12]:
        ours = parse_key(f"{tonic} {mode}")
        theirs = music21_key.Key(tonic.replace("b", "-"), mode)
        assert ours.sharps == theirs.sharps, ours.name
        assert ours.scale == {pitch.pitchClass for pitch in theirs.pitches}, ours.name


def test_names_in_a_key_follow_its_signature() -> None:
    """In each major key the seven notes of the scale are named on seven letters."""
    for tonic in TONICS:
        key = parse_key(tonic)
        named = [name_in_key(note, key) for note in key.scale]
        assert len({name[0] for name in named}) == 7, tonic
        assert tonic in named


@pytest.mark.parametrize(
    ("note", "key", "name"),
    [
        (6, "Db", "Gb"),
        (6, "D", "F#"),
        (6, "C", "F#"),
        (10, "C", "Bb"),
        (3, "E minor", "D#"),
        (11, "C minor", "B"),
        (11, "Gb", "Cb"),
        (4, "Ab", "E"),
        (1, "D minor", "C#"),
        (10, "A dorian", "Bb"),
    ],
)
def test_chromatic_names_in_a_key(note: int, key: str, name: str) -> None:
    """Outside the scale: flats for b2 b3 b6 b7, sharps for #4 and the leading note (textbooks)."""
    assert name_in_key(note, parse_key(key)) == name


@pytest.mark.parametrize(
    ("symbol", "names"),
    [
        ("Cdim7", "C Eb Gb Bbb"),  # stacked minor thirds: music21 and pychord
        ("F#dim7", "F# A C Eb"),
        ("Bbm7b5", "Bb Db Fb Ab"),
        ("Gb7", "Gb Bb Db Fb"),
        ("F#7", "F# A# C# E"),
        ("C#m7", "C# E G# B"),
        ("Abmaj7", "Ab C Eb G"),
        ("Db6", "Db F Ab Bb"),
        ("B7#5", "B D# F## A"),
        ("G7sus4", "G C D F"),
        ("Ebm", "Eb Gb Bb"),
    ],
)
def test_chord_tones_are_spelled_by_thirds(symbol: str, names: str) -> None:
    """Chord tones stand on the letters of their degrees (Kostka & Payne: stacked thirds)."""
    assert " ".join(chord_tone_names(parse_chord(symbol))) == names


@pytest.mark.parametrize(
    ("pitch", "symbol", "name"),
    [
        (58, "Gm7", "Bb3"),
        (66, "D7", "F#4"),
        (66, "Ebm7", "Gb4"),
        (68, "G7b9", "Ab4"),
        (70, "G7#9", "A#4"),
        (61, "G7", "C#4"),
        (71, "Abm7", "Cb5"),
        (69, "Cdim7", "A4"),
        (60, "G#7", "B#3"),
        (54, "D/F#", "F#3"),
        (60, "N.C.", "C4"),
    ],
)
def test_notes_over_a_chord(pitch: int, symbol: str, name: str) -> None:
    """Over a chord the degree decides the letter, and no note needs two signs."""
    assert spell(pitch, parse_chord(symbol)) == name


def test_every_name_sounds_its_pitch() -> None:
    """Names read back as the pitch they were made of, by us and by music21."""
    for suffix in known_suffixes()[::7]:
        for root in ("C", "F#", "Gb", "Db", "B"):
            chord = parse_chord(root + suffix)
            for pitch in range(48, 72):
                assert parse_pitch(spell(pitch, chord)) == pitch, (pitch, chord.symbol)
    for tonic in TONICS:
        for pitch in (59, 60, 61, 66, 70, 71):
            name = spell(pitch, key=parse_key(tonic))
            assert parse_pitch(name) == pitch
            assert music21_pitch.Pitch(name.replace("b", "-")).midi == pitch


def test_pitches_and_pitch_classes_are_read() -> None:
    """Middle C is C4 = 60, concert A 69 (MIDI); signs are counted before the octave."""
    assert [parse_pitch(name) for name in ("C4", "A4", "Cb4", "B#3", "C-1", "G9")] == [
        *(60, 69, 59, 60, 0, 127)
    ]
    assert [pitch_class(name) for name in ("Cb", "B#", "F##", "Bbb")] == [11, 0, 7, 9]
    for wrong in ("G#9", "Cb-1", "H4", "C", "c4", ""):
        with pytest.raises(SymbolError):
            parse_pitch(wrong)
    with pytest.raises(SymbolError):
        pitch_class("H")
