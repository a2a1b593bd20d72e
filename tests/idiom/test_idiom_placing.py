"""Putting what was played on the grid, and windows of it as numbers."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from idiom_made import line_of

from jam.idiom.placing import placed, usual_lag
from jam.idiom.windows import window_hashes

PATTERNS = {"eighths": (0, 6), "triplets": (0, 4, 8), "sixteenths": (0, 3, 6, 9)}


@pytest.mark.parametrize("bpm", [60, 90, 120, 160, 200, 240, 300])
@pytest.mark.parametrize("pattern", PATTERNS)
@pytest.mark.parametrize("ratio", [1.0, 1.3, 1.6, 1.9])
@pytest.mark.parametrize("lag_ms", [-10, 0, 10, 24])
def test_made_rhythms_are_read(bpm: float, pattern: str, ratio: float, lag_ms: float) -> None:
    """Known rhythms come back whole at every tempo, swing and lag."""
    onsets = PATTERNS[pattern]
    ticks = [12 * beat + t for beat in range(16) for t in (onsets if beat % 4 < 3 else (0,))]
    swing = ratio if pattern == "eighths" else 1.0
    notes = line_of(ticks, [60] * len(ticks), bpm, ratio=swing, lag_sec=lag_ms / 1000)
    heard = [note.heard_beat for note in notes]
    assert placed(heard, bpm, usual_lag([heard], bpm)) == ticks


def test_a_lag_is_found() -> None:
    """Those who lie behind are told from those who do not, to one of the lags that are tried."""
    ticks = [12 * beat + t for beat in range(16) for t in (0, 3, 6, 9)]
    for lag in (0.0, 0.025, 0.05):
        heard = [n.heard_beat for n in line_of(ticks, [60] * 64, 120.0, lag_sec=lag)]
        assert usual_lag([heard], 120.0) == pytest.approx(lag, abs=0.013)


@given(st.lists(st.floats(0, 40), min_size=1, max_size=30), st.floats(40, 320))
def test_ticks_rise(beats: list[float], bpm: float) -> None:
    """Whatever was played, each note has a tick of its own, later than the one before."""
    ticks = placed(sorted(beats), bpm)
    assert len(ticks) == len(beats)
    assert all(a < b for a, b in pairwise(ticks))


NOTES = st.lists(st.tuples(st.integers(36, 96), st.integers(1, 30)), min_size=9, max_size=20)


@given(NOTES, st.integers(-12, 12), st.integers(-100, 100))
def test_windows_know_a_phrase_in_any_key_and_place(
    notes: list[tuple[int, int]], up: int, later: int
) -> None:
    """Transposed and moved it has the same windows; there are as many as nine notes fit in."""
    pitches = [pitch for pitch, _ in notes]
    ticks = [sum(gap for _, gap in notes[:k]) for k in range(len(notes))]
    windows = window_hashes(pitches, ticks)
    assert len(windows) == len(notes) - 8
    moved = window_hashes([p + up for p in pitches], [t + later for t in ticks])
    assert moved == windows


@given(NOTES, st.integers(0, 8), st.sampled_from(["pitch", "tick"]))
def test_windows_tell_phrases_apart(notes: list[tuple[int, int]], at: int, what: str) -> None:
    """One other interval or gap makes another window; eight notes make none."""
    pitches = [pitch for pitch, _ in notes[:9]]
    ticks = [sum(gap for _, gap in notes[:k]) for k in range(9)]
    other = list(pitches), list(ticks)
    if what == "pitch":
        other[0][at] += 1
    else:
        other[1][at:] = [t + 1 for t in ticks[at:]]
        if at == 0:
            other[1][0] = ticks[0]
    assert window_hashes(*other) != window_hashes(pitches, ticks)
    assert window_hashes(pitches[:8], ticks[:8]) == []
