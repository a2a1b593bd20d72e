"""Quantising made lines whose true places are known."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from jam.listening.grid import to_grid
from jam.listening.phrase import LineNote

SWUNG = [(0, 0.5)] * 6 + [(0,), (0.5,), (0, 1 / 3, 2 / 3), ()]
STRAIGHT = [(0, 0.5)] * 6 + [(0,), (0.5,), ()]
TRIPLETS = [(0, 1 / 3, 2 / 3)] * 4 + [(0, 0.5)] * 3 + [(0,)]
SIXTEENTHS = [(0, 0.25, 0.5, 0.75)] * 4 + [(0, 0.5, 0.75), (0, 0.25, 0.5), (0, 0.5), (0,)]


def made_line(beats, bpm, ratio, lag_sec, scatter_sec, rng, length=0.85, drift_sec=0.0):
    """Return notes played with human scatter at the places of ``beats``, and those places.

    Off-beat eighths are swung by ``ratio`` against the band's beat; downbeats lie ``lag_sec`` late
    on average, the last ones ``drift_sec`` later than the first.
    """
    beat_sec = 60.0 / bpm
    places, heard = [], []
    for beat, pattern in enumerate(beats):
        for place in pattern:
            swung = place == 0.5 and len(pattern) <= 2
            lag = (lag_sec + drift_sec * (beat / len(beats) - 0.5)) / beat_sec
            late = lag * (0.2 if swung else 1.0 - 0.3 * (place > 0))
            where = ratio / (1 + ratio) if swung else place
            places.append(beat + place)
            heard.append(beat + where + late + rng.normal(0.0, scatter_sec) / beat_sec)
    heard = np.maximum.accumulate(np.array(heard) + 1e-6 * np.arange(len(heard)))
    ends = [*(min(nxt, h + 1.0) for h, nxt in pairwise(heard)), heard[-1] + 0.5]
    notes = [
        LineNote(h * beat_sec, h * beat_sec + d * beat_sec, 60, 80, float(h), float(d))
        for h, end in zip(heard, ends, strict=True)
        for d in [max(0.05, length * (end - h))]
    ]
    return notes, places


def recovered(kind, bpm, ratio, lag_sec, lines=12, drift_sec=0.0):
    """Return the share of notes found at their true places in seeded lines of 16 beats."""
    rng = np.random.default_rng(7)
    right = total = 0
    for _ in range(lines):
        beats = [kind[i] for i in rng.integers(len(kind), size=16)]
        notes, places = made_line(beats, bpm, ratio, lag_sec, 0.020, rng, drift_sec=drift_sec)
        found = {placed.heard.heard_beat: placed.beat for placed in to_grid(notes).notes}
        for note, place in zip(notes, places, strict=True):
            total += 1
            right += abs(found.get(note.heard_beat, -9.0) - place) < 1e-6
    return right / total


@pytest.mark.parametrize(
    ("kind", "bpm", "ratio", "lag_sec", "share"),
    [
        (SWUNG, 80, 1.9, 0.040, 0.99),
        (SWUNG, 120, 1.7, 0.035, 0.98),
        (SWUNG, 160, 1.5, 0.030, 0.97),
        (SWUNG, 220, 1.3, 0.015, 0.95),
        (SWUNG, 280, 1.15, 0.010, 0.92),
        (STRAIGHT, 80, 1.0, 0.0, 0.99),
        (STRAIGHT, 160, 1.0, 0.030, 0.99),
        (STRAIGHT, 280, 1.0, -0.010, 0.96),
        (TRIPLETS, 80, 1.9, 0.040, 0.98),
        (TRIPLETS, 160, 1.5, 0.030, 0.97),
        (TRIPLETS, 200, 1.35, 0.020, 0.90),
        (SIXTEENTHS, 80, 1.0, 0.030, 0.98),
        (SIXTEENTHS, 120, 1.0, 0.030, 0.96),
    ],
)
def test_places_are_recovered_from_human_scatter(kind, bpm, ratio, lag_sec, share):
    """With 20 ms of scatter nearly all notes go back to where they were written."""
    assert recovered(kind, bpm, ratio, lag_sec) >= share


@pytest.mark.parametrize(
    ("kind", "bpm", "ratio", "lag_sec", "drift_sec", "share"),
    [
        (SWUNG, 60, 2.5, 0.080, 0.0, 0.99),
        (SWUNG, 120, 2.5, 0.080, 0.0, 0.98),
        (SWUNG, 200, 1.3, 0.080, 0.0, 0.97),
        (SWUNG, 280, 1.15, 0.0, 0.060, 0.92),
        (TRIPLETS, 120, 1.6, 0.080, 0.0, 0.97),
        (TRIPLETS, 200, 1.35, 0.020, 0.060, 0.92),
        (SIXTEENTHS, 60, 1.0, 0.080, 0.060, 0.98),
        (SIXTEENTHS, 120, 1.0, 0.080, 0.0, 0.97),
    ],
)
def test_places_are_recovered_from_far_behind_and_from_drift(
    kind, bpm, ratio, lag_sec, drift_sec, share
):
    """A line 80 ms behind the beat, or drifting by 60 ms, goes back to where it was written."""
    assert recovered(kind, bpm, ratio, lag_sec, drift_sec=drift_sec) >= share


@pytest.mark.parametrize("bpm", [100, 160, 220])
@pytest.mark.parametrize("ratio", [1.0, 1.3, 2.0, 2.4])
def test_swing_ratio_is_recovered_from_scatter(bpm, ratio):
    """Ratios up to 2.4:1 are read off lines with 10 ms of scatter to a tenth; beyond, they are
    dotted eighths and sixteenths."""
    rng = np.random.default_rng(1)
    told = [
        to_grid(made_line([(0, 0.5)] * 16, bpm, ratio, 0.0, 0.010, rng)[0]).swing_ratio
        for _ in range(9)
    ]
    assert float(np.median(told)) == pytest.approx(ratio, rel=0.1)


def test_lag_is_recovered():
    """How late the downbeats lie is told to 12 ms."""
    rng = np.random.default_rng(2)
    for lag_sec in (-0.02, 0.0, 0.03, 0.07):
        notes, _ = made_line(SWUNG[:8] * 2, 140, 1.5, lag_sec, 0.010, rng)
        assert to_grid(notes).lag_beats * 60 / 140 == pytest.approx(lag_sec, abs=0.012)


def test_places_move_with_the_notes():
    """Playing the same a few beats later, at the same tempo, moves every place by as much."""
    notes, _ = made_line(SIXTEENTHS * 2, 100, 1.0, 0.02, 0.02, np.random.default_rng(5))
    later = [replace(note, heard_beat=note.heard_beat + 7.0) for note in notes]
    places = [placed.beat for placed in to_grid(notes).notes]
    assert [placed.beat - 7.0 for placed in to_grid(later).notes] == pytest.approx(places)


@pytest.mark.parametrize(("count", "span"), [(3, 0.0), (9, 0.3), (40, 3.0), (120, 4.0)])
def test_too_many_notes_are_thinned_not_refused(count, span):
    """However crowded, there is a grid, and its places rise."""
    onsets = np.sort(np.random.default_rng(0).uniform(0.0, span, size=count))
    notes = [
        LineNote(h * 0.5, h * 0.5 + 0.1, 60 + i % 7, 80, float(h), 0.2)
        for i, h in enumerate(onsets)
    ]
    placed = to_grid(notes).notes
    assert placed
    assert all(a.beat < b.beat for a, b in pairwise(placed))


def test_onsets_rise_strictly_and_lengths_do_not_overlap():
    """Even for a line without any plan, no two notes share a place or overlap on the grid."""
    rng = np.random.default_rng(3)
    for _ in range(20):
        onsets = np.sort(rng.uniform(0.0, 12.0, size=40))
        notes = [LineNote(h * 0.4, h * 0.4 + 0.1, 60, 80, float(h), 0.25) for h in onsets]
        placed = to_grid(notes).notes
        assert len(placed) >= 15
        for note, following in pairwise(placed):
            assert note.beats > 0
            assert note.beat + note.beats <= following.beat + 1e-9


def test_notes_at_one_instant_have_a_grid():
    """Notes struck at the very same time, in any number and anywhere, do no harm."""
    rng = np.random.default_rng(8)
    for _ in range(60):
        beats = np.sort(np.round(rng.uniform(0.0, 8.0, size=20) * 4) / 4)
        notes = [
            LineNote(b * 0.3, b * 0.3 + 0.2, int(p), 80, float(b), 0.6)
            for b, p in zip(beats, rng.integers(50, 80, size=20), strict=True)
        ]
        placed = to_grid(notes).notes
        assert all(0.0 <= note.sounding <= 1.0 for note in placed)
        assert all(a.beat < b.beat for a, b in pairwise(placed))


def test_swing_ratio_is_the_median_beat_upbeat_ratio():
    """A line swung exactly 2:1 on the beat has ratio 2 (definition: Benadon 2006)."""
    notes, _ = made_line([(0, 0.5)] * 8, 140, 2.0, 0.0, 0.0, np.random.default_rng(0))
    grid = to_grid(notes)
    assert grid.swing_ratio == pytest.approx(2.0, abs=0.01)
    assert grid.triplets == 0.0
    assert [p.beat for p in grid.notes] == [i / 2 for i in range(16)]


def test_three_even_notes_are_a_triplet_among_swung_eighths():
    """The third of three even notes at 0.67 is a triplet place, that of two is the off-beat."""
    beats = [(0, 0.5), (0, 1 / 3, 2 / 3), (0, 0.5), (0, 0.5)]
    notes, places = made_line(beats, 140, 2.0, 0.0, 0.0, np.random.default_rng(0))
    grid = to_grid(notes)
    assert [p.beat for p in grid.notes] == pytest.approx(places)
    assert grid.triplets == 0.25


def test_grace_note_is_absorbed():
    """A note over in 40 ms before the next onset takes no place of its own."""
    notes, _ = made_line([(0, 0.5)] * 4, 120, 1.5, 0.0, 0.0, np.random.default_rng(0))
    grace = LineNote(notes[2].t - 0.04, notes[2].t, 59, 80, notes[2].heard_beat - 0.08, 0.08)
    assert [p.heard.pitch for p in to_grid([*notes[:2], grace, *notes[2:]]).notes] == [60] * 8


def test_short_notes_before_rests_are_whole_eighths_and_long_ones_reach_the_next():
    """A clipped off-beat before a rest is an eighth; a note held almost to the next reaches it."""
    notes = [
        LineNote(0.0, 0.9, 60, 80, 0.0, 1.8),
        LineNote(1.0, 1.2, 62, 80, 2.0, 0.4),
        LineNote(1.3, 1.35, 64, 80, 2.6, 0.1),
        LineNote(3.0, 3.2, 65, 80, 6.0, 0.4),
    ]
    assert [(p.beat, p.beats) for p in to_grid(notes).notes] == [
        (0.0, 2.0), (2.0, 0.5), (2.5, 0.5), (6.0, 0.5),
    ]  # fmt: skip


def test_nothing_gives_an_empty_grid_and_one_note_stays():
    """No notes give no grid; a single note always keeps a place."""
    assert to_grid([]).notes == ()
    for heard in (0.0, 0.12, 0.33, 0.5, 0.8, 0.97):
        (placed,) = to_grid([LineNote(heard, heard + 0.2, 60, 80, heard, 0.2)]).notes
        assert abs(placed.beat - heard) < 0.3
