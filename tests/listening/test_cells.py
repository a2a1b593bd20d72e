"""Boundary strengths and characteristic cells."""

from __future__ import annotations

import numpy as np
import pytest

from jam.listening.cells import boundary_strengths, cells_of
from jam.listening.phrase import GridNote
from jam.transport.metre import Bars


def notes_of(*triples):
    """Return grid notes from (beat, beats, pitch)."""
    return [GridNote(beat, beats, pitch, 80, "1", True) for beat, beats, pitch in triples]


def test_boundary_strengths_of_the_worked_example():
    """Strengths are those computed by hand from the published formula.

    Source: formula of Cambouropoulos 2001 (LBDM), weights pitch .25, onset .50, rest .25; twelve
    eighths, the sixth sounding one and a half beats before the second half begins at beat 6.
    """
    pitches = (60, 62, 64, 65, 67, 64, 72, 71, 69, 67, 65, 64)
    onsets = (0, 0.5, 1, 1.5, 2, 2.5, 6, 6.5, 7, 7.5, 8, 8.5)
    lengths = [0.5] * 12
    lengths[5] = 1.5
    strengths = boundary_strengths(notes_of(*zip(onsets, lengths, pitches, strict=True)))
    assert strengths == pytest.approx(
        (0, 0.017, 0.017, 0.027, 0.086, 1.0, 0.064, 0.017, 0, 0.017, 0.008), abs=0.0006
    )


def phrase_with_a_motif():
    """Return a phrase that states a dotted four-note figure twice, a third apart, then runs."""
    motif = [(0.0, 0.75, 0), (0.75, 0.25, 3), (1.0, 0.5, 2), (1.5, 0.5, -2)]
    figure = [(b, n, 67 + p) for b, n, p in motif] + [(b + 4, n, 63 + p) for b, n, p in motif]
    run = [(8 + 0.5 * i, 0.5, 65 - 2 * i) for i in range(8)]
    return notes_of(*figure, *run)


def test_repeated_motif_is_the_first_cell():
    """A short figure with a rhythm of its own, stated twice, characterises the phrase."""
    best = cells_of(phrase_with_a_motif(), Bars())[0]
    assert (best.first, len(best)) == (0, 4)
    assert best.intervals == (3, -1, -4)
    assert best.onsets == (0.0, 0.75, 1.0, 1.5)
    assert best.beat_in_bar == 0.0


C_SCALE = (60, 62, 64, 65, 67, 69, 71, 72, 74, 76, 77, 79)


@pytest.mark.parametrize(
    ("statements", "moved", "tonal"),
    [
        (((67, 70, 69, 65), (67, 70, 69, 65)), (0,), False),
        (((67, 70, 69, 65), (64, 67, 66, 62)), (-3,), False),
        (((64, 67, 65, 62), (65, 69, 67, 64), (67, 71, 69, 65)), (1, 3), True),
    ],
)
def test_what_is_said_again_characterises_the_phrase(statements, moved, tonal):
    """A figure in even eighths restated, sequenced exactly or along the scale is the first cell.

    It is told how often it is said, how far away, and whether only its scale steps stay the same.
    """
    lead = (60, 64, 60, 59)
    pitches = [*lead, *(pitch for statement in statements for pitch in statement), 72, 60]
    best = cells_of(notes_of(*((0.5 * i, 0.5, p) for i, p in enumerate(pitches))), Bars())[0]
    assert (best.first, len(best)) == (4, 4)
    assert (best.times, best.moved, best.tonal) == (len(statements), moved, tonal)


def test_runs_and_repeated_notes_are_no_figures():
    """A scale or chromatic run contains itself a step on, but says nothing again."""
    for pitches in (C_SCALE, range(60, 72), [60] * 6 + list(range(61, 67))):
        cells = cells_of(notes_of(*((0.5 * i, 0.5, p) for i, p in enumerate(pitches))), Bars())
        assert all(cell.times == 1 for cell in cells)


def test_random_phrases_keep_their_cells_when_moved():
    """Transposition and whole bars of time change no cell of any phrase (a law)."""
    rng = np.random.default_rng(6)
    for _ in range(20):
        beats = np.cumsum(rng.choice([0.25, 0.5, 1.0], size=24)).tolist()
        pitches = (65 + np.cumsum(rng.choice([-3, -2, -1, 1, 2, 4], size=24))).tolist()
        phrase = notes_of(*((b, 0.25, p) for b, p in zip(beats, pitches, strict=True)))
        moved = notes_of(*((b + 12, 0.25, p - 5) for b, p in zip(beats, pitches, strict=True)))
        assert cells_of(phrase, Bars()) == cells_of(moved, Bars())


def test_cells_are_whole_and_ranked():
    """Cells have 3 to 7 notes, no rest inside, no two alike, and there are at most eight."""
    cells = cells_of(phrase_with_a_motif(), Bars())
    assert 4 <= len(cells) <= 8
    assert all(3 <= len(cell) <= 7 for cell in cells)
    for cell in cells:
        steps = [b - a for a, b in zip(cell.onsets, cell.onsets[1:], strict=False)]
        assert all(step - length < 1.0 for step, length in zip(steps, cell.lengths, strict=False))
    assert len({(cell.intervals, cell.onsets) for cell in cells}) == len(cells)
    assert cells[0].salience == max(cell.salience for cell in cells)


def test_cells_move_with_the_phrase():
    """Transposing a phrase and moving it by whole bars changes no cell's shape or rank."""
    phrase = phrase_with_a_motif()
    moved = [GridNote(n.beat + 8, n.beats, n.pitch + 5, 80, "1", True) for n in phrase]
    assert cells_of(phrase, Bars()) == cells_of(moved, Bars())


@pytest.mark.parametrize("count", [0, 1, 2])
def test_too_few_notes_have_no_cell(count):
    """Less than three notes are no cell."""
    assert cells_of(phrase_with_a_motif()[:count], Bars()) == ()


def test_one_repeated_pitch_has_no_cell():
    """A cell needs at least one interval that moves."""
    assert cells_of(notes_of(*((0.5 * i, 0.5, 60) for i in range(6))), Bars()) == ()
