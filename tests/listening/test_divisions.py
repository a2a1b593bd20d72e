"""Textbook divisions of the beat, played exactly and by people, are written as they are.

Divisions: any primer of notation; a quarter-note triplet is three quarter notes in the time of two,
beginning on a beat (common practice).
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from jam.listening.grid import to_grid
from jam.listening.phrase import LineNote

THIRD = 1 / 3
EIGHTHS = ((0.0, 0.5), 1)
QUARTER = ((0.0,), 1)
REST = ((), 1)
TRIPLET = ((0.0, THIRD, 2 * THIRD), 1)
QUARTER_TRIPLET = ((0.0, 2 * THIRD, 4 * THIRD), 2)
SIXTEENTHS = ((0.0, 0.25, 0.5, 0.75), 1)
DOTTED = ((0.0, 0.75), 1)
PICKUP = ((0.75,), 1)
LINES = {
    "eighths": [EIGHTHS] * 8,
    "off-beats": [((0.5,), 1)] * 6,
    "triplets": [TRIPLET] * 6,
    "quarter-note triplets": [QUARTER_TRIPLET] * 4,
    "eighths and quarter-note triplets": [EIGHTHS, EIGHTHS, QUARTER_TRIPLET, EIGHTHS, QUARTER],
    "all triplets": [EIGHTHS, TRIPLET, QUARTER_TRIPLET, EIGHTHS, TRIPLET],
    "a triplet whose first quarter is divided": [
        EIGHTHS, ((0.0, THIRD, 2 * THIRD, 4 * THIRD), 2), QUARTER,
    ],
    "sixteenths": [SIXTEENTHS] * 6,
    "dotted": [DOTTED] * 6,
    "pickups": [PICKUP, QUARTER, REST, PICKUP, QUARTER],
    "eighths and pickups": [PICKUP, EIGHTHS, EIGHTHS, QUARTER, PICKUP, EIGHTHS],
    "mixed": [EIGHTHS, TRIPLET, EIGHTHS, QUARTER_TRIPLET, SIXTEENTHS, EIGHTHS, DOTTED, EIGHTHS],
}  # fmt: skip
SWUNG = ("eighths", "off-beats", "eighths and quarter-note triplets", "all triplets")
PITCHES = (60, 65, 62, 67, 64, 69)


def written(name: str) -> list[float]:
    """Return the places of a line, a note on the beat after it."""
    places, start = [], 0
    for cell, beats in LINES[name]:
        places += [start + place for place in cell]
        start += beats
    return [*places, float(start)]


def heard(places: list[float], bpm: float, ratio: float, late_sec: np.ndarray) -> list[LineNote]:
    """Return notes at ``places``, eighths swung by ``ratio``, each as late as is said."""
    sec = 60.0 / bpm
    beats = [int(p) + ratio / (1 + ratio) if p % 1 == 0.5 else p for p in places]
    onsets = np.maximum.accumulate(np.array(beats) + late_sec / sec)
    lengths = [0.85 * (b - a) for a, b in pairwise([*onsets, onsets[-1] + 1.0])]
    return [
        LineNote(b * sec, (b + d) * sec, PITCHES[n % 6], 80, float(b), float(d))
        for n, (b, d) in enumerate(zip(onsets, lengths, strict=True))
    ]


@pytest.mark.parametrize("bpm", [60, 100, 140, 200, 240])
@pytest.mark.parametrize("name", LINES)
def test_exact_divisions_are_exact(name: str, bpm: float) -> None:
    """Straight lines without any scatter come out as they are written."""
    places = written(name)
    notes = heard(places, bpm, 1.0, np.zeros(len(places)))
    assert [note.beat for note in to_grid(notes).notes] == pytest.approx(places)


@pytest.mark.parametrize("bpm", [60, 120, 200, 300])
@pytest.mark.parametrize("ratio", [1.2, 1.6, 2.0, 2.5])
@pytest.mark.parametrize("name", SWUNG)
def test_swung_eighths_are_no_other_division(name: str, ratio: float, bpm: float) -> None:
    """Swung eighths come out as eighths, the triplets beside them as triplets; among triplets at
    2.5 to 1 nobody could tell."""
    if ratio > 2.0 and "triplets" in name:
        ratio = 1.9
    places = written(name)
    notes = heard(places, bpm, ratio, np.zeros(len(places)))
    assert [note.beat for note in to_grid(notes).notes] == pytest.approx(places)


@pytest.mark.parametrize("bpm", [80, 120, 160, 200])
def test_people_are_read(bpm: float) -> None:
    """With 15 ms of scatter 95 of 100 notes of all lines, straight or swung, go to their places."""
    rng = np.random.default_rng(4)
    right, total = 0, 0
    for name in LINES:
        for ratio in (1.0, 1.5) if name in SWUNG else (1.0,):
            places = written(name)
            for _ in range(4):
                notes = heard(places, bpm, ratio, rng.normal(0.0, 0.015, len(places)))
                found = {note.heard: note.beat for note in to_grid(notes).notes}
                total += len(places)
                right += sum(
                    abs(found.get(n, -9.0) - p) < 1e-6 for n, p in zip(notes, places, strict=True)
                )
    assert right / total >= 0.95


def test_a_hard_swung_ballad_has_no_sixteenths() -> None:
    """Off-beats at 2.5 to 1, 60 ms behind the beat at 70 bpm, are eighths."""
    places = written("eighths")
    notes = heard(places, 70, 2.5, np.full(len(places), 0.060))
    assert [note.beat for note in to_grid(notes).notes] == pytest.approx(places)


def test_a_triplet_over_two_beats_counts_as_triplets() -> None:
    """Both beats of a quarter-note triplet are told as divided in three; its notes last 2/3."""
    places = [0.0, 2 * THIRD, 4 * THIRD, 2.0, 3.0]
    grid = to_grid(heard(places, 120, 1.0, np.zeros(5)))
    assert grid.triplets == 0.5
    assert [note.beats for note in grid.notes[:3]] == pytest.approx([2 * THIRD] * 3)
