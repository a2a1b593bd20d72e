"""Repeated patterns: SIATEC on sets of points, and repeated runs of a line."""

from __future__ import annotations

import numpy as np
import pytest

from jam.listening.repeats import (
    Run,
    maximal_patterns,
    repeated_runs,
    siatec,
    translates,
)

# Six points (onset, pitch) of a public test set for the algorithms of Meredith, Lemström and
# Wiggins 2002; the results below were computed by an independent implementation.
SIX = ((0, 60), (1, 38), (1, 62), (2, 39), (2, 63), (4, 59))


def test_maximal_translatable_patterns_of_the_worked_example():
    """MTP(0, 24) and MTP(1, 1) are those of the worked example."""
    patterns = maximal_patterns(SIX)
    assert patterns[0, 24] == ((1, 38), (2, 39))
    assert patterns[1, 1] == ((1, 38), (1, 62))


@pytest.mark.parametrize(
    ("pattern", "others"),
    [
        (((1, 38), (1, 62)), {((2, 39), (2, 63))}),
        (((1, 62), (2, 63)), {((1, 38), (2, 39))}),
        (((0, 60), (1, 62)), set()),
        (((0, 60), (1, 62), (2, 63)), set()),
    ],
)
def test_translational_equivalence_classes_of_the_worked_example(pattern, others):
    """A TEC holds the pattern itself first and exactly the translates of the worked example."""
    first, *rest = translates(pattern, SIX)
    assert first == pattern
    assert set(rest) == others


def test_siatec_lists_every_maximal_pattern_once_with_its_translators():
    """Each class is listed once, and its translators are those of its TEC."""
    classes = siatec(SIX)
    assert sum(len(tec.pattern) == 2 for tec in classes) == 2
    for tec in classes:
        moved = {tuple((o + v[0], p + v[1]) for o, p in tec.pattern) for v in tec.translators}
        assert moved == set(translates(tec.pattern, SIX))
    patterns = maximal_patterns(SIX).values()
    shapes = {tuple((o - p[0][0], h - p[0][1]) for o, h in p) for p in patterns}
    assert len(classes) == len(shapes)


def test_patterns_move_with_the_points():
    """Shifting all points shifts every pattern and changes no vector (a law of translation)."""
    moved = [(onset + 5, pitch - 7) for onset, pitch in SIX]
    there = {
        vector: tuple((o + 5, p - 7) for o, p in pattern)
        for vector, pattern in maximal_patterns(SIX).items()
    }
    assert maximal_patterns(moved) == there


def test_a_sequence_is_one_run_that_overlaps_itself():
    """Four notes said three times, each a step lower, are a run of eight said again."""
    figure = (67, 71, 69, 66)
    pitches = [pitch - 2 * time for time in range(3) for pitch in figure]
    runs = repeated_runs(range(0, 72, 6), pitches)
    assert Run(first=0, again=4, count=8, moved=-2) in runs
    assert Run(first=0, again=8, count=4, moved=-4) in runs


def test_runs_are_the_patterns_of_neighbouring_notes():
    """Every run lies in the maximal pattern of its vector, and none can be made longer."""
    rng = np.random.default_rng(4)
    onsets = np.cumsum(rng.choice([6, 12], size=40)).tolist()
    pitches = (60 + np.cumsum(rng.choice([-2, -1, 1, 2], size=40))).tolist()
    points = list(zip(onsets, pitches, strict=True))
    patterns = maximal_patterns(points)
    runs = repeated_runs(onsets, pitches)
    assert runs
    for run in runs:
        vector = (onsets[run.again] - onsets[run.first], run.moved)
        end, again_end = run.first + run.count, run.again + run.count
        assert set(patterns[vector]) >= set(points[run.first : end])
        for before, after in ((run.first - 1, run.again - 1), (end, again_end)):
            if before >= 0 and after < len(points):
                assert vector != (
                    onsets[after] - onsets[before], pitches[after] - pitches[before],
                )  # fmt: skip


def test_too_few_notes_repeat_nothing():
    """Three notes or fewer hold no run of three that is said again."""
    assert repeated_runs([0, 6, 12], [60, 62, 60]) == []
    assert repeated_runs([], []) == []
