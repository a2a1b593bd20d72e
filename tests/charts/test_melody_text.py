"""The melody line: lengths, octaves, holds, rests, triplets and pickups."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jam.charts.melody_text import read_melody
from jam.charts.typed import Typed
from jam.errors import InputError


def read(text: str, bar_beats: float = 4.0) -> list[tuple[float, float, int | None]]:
    melody = read_melody(Typed(text, "try.yaml", 1, "melody"), bar_beats)
    return [(round(n.beat, 6), round(n.beats, 6), n.pitch) for n in melody.notes]


def test_lengths_and_octaves_last() -> None:
    """A length holds for all that follows, a note without a number stays in its octave."""
    assert read("1/4: C4 D E5 F | C4 B3 C B") == [
        (0, 1, 60),
        (1, 1, 62),
        (2, 1, 76),
        (3, 1, 77),
        (4, 1, 60),
        (5, 1, 59),
        (6, 1, 48),
        (7, 1, 59),
    ]


def test_names_are_scientific_pitch() -> None:
    """C4 is MIDI 60 and A4 is 69 (ISO 16 pitch names, MIDI note numbers); accidentals bend them."""
    assert [p for _, _, p in read("1/4: C4 A4 Bb4 F#4 | Cb5 B#3 Ebb4 F##4")] == [
        60,
        69,
        70,
        66,
        71,
        60,
        62,
        67,
    ]


def test_holds_rests_and_ties() -> None:
    """_ holds over bar lines, - rests, and either alone fills its bar."""
    assert read("1/8: - C4 _ _ D _ - E | _ | _ F _ G _ _ _ _ | -") == [
        (0.5, 1.5, 60),
        (2.0, 1.0, 62),
        (3.5, 5.0, 64),
        (8.5, 1.0, 65),
        (9.5, 2.5, 67),
    ]


def test_triplets_and_dots_add_up() -> None:
    """Three of a triplet fill a beat exactly; a dot adds half."""
    line = read("1/8t: C4 D E 1/8.: F 1/16: G 1/4t: A B C5 | 1/1: C4")
    assert line[:3] == [(0, 0.333333, 60), (0.333333, 0.333333, 62), (0.666667, 0.333333, 64)]
    assert line[3:5] == [(1, 0.75, 65), (1.75, 0.25, 67)]
    assert line[-2:] == [(3.333333, 0.666667, 72), (4, 4, 60)]


def test_pickup_lies_before_the_downbeat() -> None:
    """A pickup ends where the section begins and is not counted as a bar."""
    typed = Typed("pickup 1/8: G4 A B |\n1/2.: C5", "try.yaml", 1, "melody")
    melody = read_melody(typed, 3.0)
    assert melody.bars == 1
    assert [(n.beat, n.beats) for n in melody.notes] == [
        (-1.5, 0.5),
        (-1, 0.5),
        (-0.5, 0.5),
        (0, 3),
    ]


def test_a_hold_at_the_beginning_waits_for_its_note() -> None:
    """A line may begin with a hold: its pitch is left open."""
    assert read("1/2: _ C4") == [(0, 2, None), (2, 2, 60)]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("C4", "`C4` has no length"),
        ("1/3: C4", "`1/3:` is no length"),
        ("1/4: c4", "`c4` is no note"),
        ("1/4: H4", "`H4` is no note"),
        ("1/4: C D E F", "`C` has no octave"),
        ("1/4: C9 D E F", "outside the piano"),
        ("1/4: C4 D E", "bar 1 of the melody lasts 3 beats"),
        ("1/4: C4 D E F | 1/8t: C D E F G A B", "bar 2 of the melody lasts 2 1/3 beats"),
        ("1/4: C4 - _ F", "`_` holds a rest"),
        ("pickup 1/1: C4 | C", "the pickup lasts 4 beats"),
        ("pickup | 1/1: C4", "the pickup lasts 0 beats"),
        ("pickup 1/4: X4 | 1/1: C4", "the pickup: `X4`"),
        ("", "there are no notes"),
    ],
)
def test_mistakes_name_the_bar(text: str, words: str) -> None:
    """A word that cannot be read, or a bar that does not add up, is named with its bar."""
    with pytest.raises(InputError, match=r"try\.yaml") as caught:
        read(text)
    assert words in str(caught.value)


@given(st.text(alphabet="ABCG#b45_-/|:.t18 \npickup", max_size=60))
def test_any_text_is_read_or_refused(text: str) -> None:
    """No text makes anything but a melody whose bars are full, or an InputError."""
    try:
        melody = read_melody(Typed(text, "try.yaml", 1, "melody"), 4.0)
    except InputError:
        return
    assert all(note.beats > 0 for note in melody.notes)
    assert all(note.beat + note.beats <= melody.bars * 4 + 1e-6 for note in melody.notes)
