"""Ornaments are told by shape and speed, and leave the places of the main notes alone."""

from __future__ import annotations

from itertools import pairwise

import pytest

from jam.listening.grid import to_grid
from jam.listening.ornaments import main_notes
from jam.listening.phrase import LineNote

FIGURES = {
    # Seconds from where the main note belongs, and semitones from it (definitions: common
    # practice; speeds of keyboard and wind players from memory).
    "grace": [(-0.045, -1), (0.0, 0)],
    "slide": [(-0.105, -3), (-0.07, -2), (-0.035, -1), (0.0, 0)],
    "mordent": [(0.0, 0), (0.05, 2), (0.10, 0)],
    "turn": [(0.0, 2), (0.055, 0), (0.11, -1), (0.165, 0)],
    "trill": [(0.065 * i, 2 * (i % 2)) for i in range(10)],
}


def decorated(name, bpm):
    """Return notes at beats 0, 1/2, 1 (decorated, held two beats) and 3, without scatter."""
    beat_sec = 60.0 / bpm
    strokes = [(0.0, 60), (0.5 * beat_sec, 62)]
    strokes += [(beat_sec + t, 64 + p) for t, p in FIGURES.get(name, [(0.0, 0)])]
    strokes += [(3 * beat_sec, 67), (4 * beat_sec, 0)]
    return [
        LineNote(t, end, p, 80, t / beat_sec, (end - t) / beat_sec)
        for (t, p), (end, _) in pairwise(strokes)
    ]


@pytest.mark.parametrize("bpm", [60, 100, 140])
@pytest.mark.parametrize("name", ["", *FIGURES])
def test_ornament_is_tagged_on_its_main_note(name, bpm):
    """The main note keeps its place and pitch, its neighbours theirs, and the tag says what it is.

    What the ornament adds is told by its pitches, the main pitch left out.
    """
    placed = to_grid(decorated(name, bpm)).notes
    assert [note.beat for note in placed] == [0.0, 0.5, 1.0, 3.0]
    assert [note.heard.pitch for note in placed] == [60, 62, 64, 67]
    assert [note.ornament for note in placed] == ["", "", name, ""]
    added = [64 + p for _, p in FIGURES.get(name, []) if p]
    assert placed[2].ornament_pitches == tuple(dict.fromkeys(added))


@pytest.mark.parametrize(
    "semitones", [(0, 2, 4, 5, 7), (0, 2, 0, 2, 0, 2), (0, 2, 0, 5, 3), (2, 0, -1, 0, 4)]
)
def test_sixteenths_at_a_medium_tempo_are_no_ornament(semitones):
    """At 120 bpm a sixteenth lasts 125 ms: to and fro or round a note, it is a note of its own."""
    notes = [
        LineNote(0.125 * i, 0.125 * (i + 1), 60 + p, 80, 0.25 * i, 0.25)
        for i, p in enumerate(semitones)
    ]
    mains = main_notes(notes, 0.5)
    assert [main.heard for main in mains] == notes
    assert not any(main.ornament for main in mains)


def test_nothing_has_no_ornament():
    """No notes have no main notes, and a single one is its own."""
    assert main_notes([], 0.5) == []
    (only,) = main_notes([LineNote(0.0, 0.02, 60, 80, 0.0, 0.04)], 0.5)
    assert (only.heard.pitch, only.ornament) == (60, "")
