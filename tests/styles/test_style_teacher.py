"""The teacher's levels: strictly what each level has, over every common family of chord."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from pychord import Chord as Reference
from style_asking import replies, request, turns

from jam.events import PlannedNote
from jam.harmony.changes import Change, Changes
from jam.harmony.functions import function_of
from jam.harmony.keys import parse_key
from jam.harmony.symbols import parse_chord
from jam.players.soloist.soloist import answer
from jam.review.line_measures import measure
from jam.session.resources import find_style
from jam.styles.profile import Style

LEVELS = ("teacher", "teacher-chord-tones", "teacher-arpeggios", "teacher-approaches")

# Our symbol and pychord's for the same chord: its components are the chord tones checked against.
FAMILIES = {
    "maj7": "M7", "6": "6", "": "", "m7": "m7", "m6": "m6", "mMaj7": "mM7", "m": "m", "7": "7",
    "m7b5": "m7-5", "dim7": "dim7", "7sus4": "7sus4", "aug": "aug", "7#5": "7+5", "maj7#5": "M7+5",
}  # fmt: skip
ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
CLASSES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def style(name: str) -> Style:
    return find_style(name).value


def pitch_class(name: str) -> int:
    return (CLASSES[name[0]] + name.count("#") - name[1:].count("b")) % 12


def tones(root: str, suffix: str) -> list[int]:
    """Return the chord tones by pychord, as pitch classes from the root upwards."""
    return [pitch_class(name) for name in Reference(root + FAMILIES[suffix]).components()]


def guides(root: str, suffix: str) -> set[int]:
    """Return the second tone of the chord (3, or 4 where it is suspended) and the fourth one
    (7, or 6 in sixth chords): the guide tones of the textbooks. A diminished seventh chord has
    its 3 and its 7, a triad its 3."""
    found = tones(root, suffix)
    return {found[1], *found[3:4]}


def played(name: str) -> Iterator[tuple[PlannedNote, tuple[str, str], tuple[str, str] | None]]:
    """Yield each note of many replies over all families, with its chord and the one to come
    within a beat."""
    rng = np.random.default_rng(5)
    for seed in range(24):
        names = [
            (ROOTS[int(rng.integers(12))], list(FAMILIES)[int(rng.integers(len(FAMILIES)))])
            for _ in range(10)
        ]
        changes = Changes([Change(4.0 * n, parse_chord("".join(c))) for n, c in enumerate(names)])
        asked = replace(request(style(name), 0, seed), changes=changes, key=None)
        for note in answer(asked).notes:
            bar = int(note.beat // 4)
            soon = names[bar + 1] if 4.0 * (bar + 1) - note.beat <= 1.0 else None
            yield note, names[bar], soon


@pytest.mark.slow
@pytest.mark.parametrize(("name", "allowed"), [(LEVELS[0], guides), (LEVELS[1], tones)])
def test_the_first_levels_have_chord_notes_only(name, allowed) -> None:
    """Guide tones, then chord tones, of the chord that sounds or of the one that it anticipates."""
    for note, now, soon in played(name):
        near = set(allowed(*now)) | (set(allowed(*soon)) if soon else set())
        assert note.pitch % 12 in near, (note.beat, note.pitch, now, soon)


@pytest.mark.slow
def test_the_third_level_has_tensions_and_no_passing_notes() -> None:
    """Chord tones and available tensions; nothing that only leads somewhere."""
    roles = {note.role for note, _, _ in played(LEVELS[2])}
    assert roles == {"chord tone", "tension", "anticipation"}


@pytest.mark.slow
def test_the_fourth_level_has_approaches_that_resolve() -> None:
    """Each note that is no strong degree goes by a step, within three notes, to one that is."""
    found = replies(style(LEVELS[3]), 24)
    leading = 0
    for reply in found:
        for place, note in enumerate(reply.notes):
            if note.role in ("approach", "leaning"):
                leading += 1
                later = reply.notes[place + 1 : place + 4]
                assert any(abs(other.pitch - note.pitch) in (1, 2) for other in later)
            assert note.role not in ("blue", "free")
    assert leading > 10


@pytest.mark.slow
@pytest.mark.parametrize("name", LEVELS[2:])
def test_tensions_are_those_of_the_function(name: str) -> None:
    """On a dominant that goes to minor b9, #9 and b13, no 9 or 13; on the half-diminished ii in
    minor no natural 9 (common practice: Levine, The Jazz Theory Book)."""
    found = replies(style(name), 24, tunes=(1,))
    seen = [note for reply in found for note in reply.notes if note.role == "tension"]
    assert not [n for n in seen if n.chord == "G7" and n.degree in ("9", "13")]
    assert not [n for n in seen if n.chord == "Dm7b5" and n.degree == "9"]
    assert [n for n in seen if n.chord == "G7" and n.degree in ("b9", "#9", "b13")]


@pytest.mark.slow
@pytest.mark.parametrize("name", LEVELS[2:])
def test_tensions_of_minor_chords_stay_in_a_major_key(name: str) -> None:
    """No 9 or 13 on the iii, no 13 on the vi (common practice: available tensions are notes of the
    key's scale that are no half step above a chord tone), in any of three keys."""
    seen = set()
    for tonic, roots in (("C", "C E A F"), ("Db", "Db F Bb Gb"), ("Eb", "Eb G C Ab")):
        one, three, six, four = roots.split()
        key = parse_key(tonic)
        row = [f"{one}maj7", f"{three}m7", f"{six}m7", f"{four}maj7"] * 3
        chords = [parse_chord(symbol) for symbol in row]
        changes = Changes(
            [
                Change(4.0 * n, chord, function=function_of(chord, after, key, False))
                for n, (chord, after) in enumerate(pairwise(chords))
            ]
        )
        for seed in range(12):
            asked = replace(request(style(name), 0, seed), changes=changes, key=key)
            seen |= {
                (["iii", "vi"][note.chord == f"{six}m7"], note.degree)
                for note in answer(asked).notes
                if note.role == "tension" and note.chord in (f"{three}m7", f"{six}m7")
            }
    assert {degree for chord, degree in seen if chord == "iii"} == {"11"}
    assert {degree for chord, degree in seen if chord == "vi"} == {"9", "11"}


@pytest.mark.slow
def test_each_level_brings_more() -> None:
    """The first two have no tension at all, only the last has approach notes."""
    told = [measure(turns(replies(style(name), 24))) for name in LEVELS]
    tensions = [row["tensions"] for row in told]
    assert tensions[0] == tensions[1] == 0.0
    assert tensions[2] > 0.15
    assert told[3]["approach notes"] > 0.03
    assert [row["approach notes"] for row in told[:3]] == [0.0, 0.0, 0.0]
