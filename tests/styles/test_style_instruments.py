"""Instruments by name: true lowest notes, General MIDI programs, ranges that may be narrowed."""

from __future__ import annotations

import pretty_midi
import pytest
from music21 import instrument as reference

from jam.errors import InputError
from jam.session.resources import find_style, list_styles
from jam.styles.instruments import INSTRUMENTS
from jam.styles.loader import load_style
from jam.styles.profile import Instrument

HEAD = "name: x\nabout: y\n"
THEIRS = {
    "tenor saxophone": reference.TenorSaxophone,
    "alto saxophone": reference.AltoSaxophone,
    "soprano saxophone": reference.SopranoSaxophone,
    "trumpet": reference.Trumpet,
    "trombone": reference.Trombone,
    "clarinet": reference.Clarinet,
    "flute": reference.Flute,
    "guitar": reference.Guitar,
}
HIGHEST = {
    # Sounding, common practice (orchestration textbooks, from memory): written F6 of saxophones,
    # written C6 of the trumpet, Bb4 of the tenor trombone, C7 of the flute, F6 of the vibraphone.
    "tenor saxophone": "Eb5",
    "alto saxophone": "Ab5",
    "soprano saxophone": "Eb6",
    "trumpet": "Bb5",
    "trombone": "Bb4",
    "flute": "C7",
    "vibraphone": "F6",
}


@pytest.mark.parametrize("name", THEIRS)
def test_the_lowest_note_is_that_of_the_reference(name: str) -> None:
    """music21 gives the lowest written note and the transposition; ours is as it sounds."""
    theirs = THEIRS[name]()
    shift = theirs.transposition.semitones if theirs.transposition is not None else 0
    assert INSTRUMENTS[name].low == theirs.lowestNote.midi + shift


@pytest.mark.parametrize("name", HIGHEST)
def test_the_highest_note_is_the_usual_one(name: str) -> None:
    """The top of the keys or of the bars, no notes above."""
    assert INSTRUMENTS[name].high == pretty_midi.note_name_to_number(HIGHEST[name])


@pytest.mark.parametrize("name", INSTRUMENTS)
def test_the_program_sounds_like_the_name(name: str) -> None:
    """General MIDI level 1 as pretty_midi lists it, programs counted from 1 in our files."""
    theirs = pretty_midi.program_to_instrument_name(INSTRUMENTS[name].program - 1).lower()
    assert name.split()[0] in theirs


def test_only_what_can_bend_bends() -> None:
    """Bars and hammers have one pitch each (acoustics)."""
    fixed = {name for name, able in INSTRUMENTS.items() if not able.bends}
    assert fixed == {"vibraphone", "piano"}


def test_a_name_brings_all_along_and_may_be_narrowed() -> None:
    """A plain name is the whole instrument; keys beside a name go before its own."""
    plain = load_style(HEAD + "instrument: trumpet\n", "x.yaml").instrument
    assert plain == Instrument(
        name="trumpet", low=52, high=82, breath_sec=8, program=57, bends=True
    )
    narrow = load_style(HEAD + "instrument: {name: trumpet, high: 77}\n", "x.yaml").instrument
    assert narrow == plain.model_copy(update={"high": 77})


@pytest.mark.parametrize(
    ("text", "field", "mend"),
    [
        ("instrument: trumpt\n", "instrument", "'trumpet'"),
        ("instrument: {name: tenor sax}\n", "instrument.name", "'tenor saxophone'"),
        ("instrument: {name: kazoo}\n", "instrument.name", "vibraphone"),
        ("instrument: {name: trumpet, high: 90}\n", "instrument", "from 52 (E3) to 82 (Bb5)"),
        ("instrument: {name: flute, low: 50}\n", "instrument", "from 60 (C4) to 96 (C7)"),
        ("instrument: {name: flute, high: 65}\n", "instrument", "low + 12"),
    ],
)
def test_what_no_instrument_can_is_one_error(text: str, field: str, mend: str) -> None:
    """It names the line, the key and what is possible."""
    with pytest.raises(InputError) as caught:
        load_style(HEAD + text, "x.yaml")
    assert (caught.value.line, caught.value.field) == (3, field)
    assert mend in caught.value.mend


def test_every_style_that_comes_along_names_its_instrument() -> None:
    """By a name that is known, so that its range is a true one."""
    for entry in list_styles():
        if entry.origin == "built in":
            assert find_style(entry.name).value.instrument.name in INSTRUMENTS
