"""Laws of the bridge between beats and seconds."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jam.transport.timeline import TempoMap, Timeline

# SMF tempo in microseconds per quarter note against bpm: 60,000,000 / bpm (SMF 1.0, set tempo).
BEAT_SEC = [(30, 2.0), (60, 1.0), (90, 0.666667), (120, 0.5), (150, 0.4), (180, 0.333333)]

steps = st.tuples(st.floats(0.05, 8.0), st.floats(0.1, 8.0))


@st.composite
def rising_points(draw: st.DrawFn) -> list[tuple[float, float]]:
    beat, sec = draw(st.floats(-20, 20)), draw(st.floats(-20, 20))
    points = [(beat, sec)]
    for beats, secs in draw(st.lists(steps, min_size=1, max_size=12)):
        points.append((points[-1][0] + beats, points[-1][1] + secs))
    return points


@pytest.mark.parametrize(("bpm", "beat_sec"), BEAT_SEC)
def test_a_beat_lasts_sixty_over_bpm(bpm: float, beat_sec: float) -> None:
    """One quarter note lasts what the standard's tempo table says, count-in included."""
    line = Timeline(bpm, origin_beats=4.0, origin_sec=10.0)
    assert line.sec(5.0) - line.sec(4.0) == pytest.approx(beat_sec, abs=1e-6)
    assert line.sec(-1.0) == pytest.approx(10.0 - 5 * beat_sec, abs=1e-5)


@given(rising_points(), st.floats(-100, 200))
def test_both_ways_are_inverse(points: list[tuple[float, float]], beat: float) -> None:
    """Going to seconds and back gives the same beat, inside the map and far outside."""
    tempo_map = TempoMap.through(points)
    assert tempo_map.beat(tempo_map.sec(beat)) == pytest.approx(beat, abs=1e-6)


@given(rising_points())
def test_a_map_passes_through_its_points(points: list[tuple[float, float]]) -> None:
    """Every given point lies on the map, whatever lies around it."""
    tempo_map = TempoMap.through(points)
    for beat, sec in points:
        assert tempo_map.sec(beat) == pytest.approx(sec, abs=1e-6)


@given(rising_points(), st.floats(-50, 100), st.floats(0.001, 10))
def test_later_is_later(points: list[tuple[float, float]], beat: float, more: float) -> None:
    """A later beat falls at a later second."""
    tempo_map = TempoMap.through(points)
    assert tempo_map.sec(beat + more) > tempo_map.sec(beat)


def test_the_tempo_of_a_stretch_holds_from_its_origin() -> None:
    """A change is in force at its own beat, the first tempo before the first origin."""
    tempo_map = TempoMap.through([(0, 0.0), (4, 2.0), (8, 6.0)])
    assert tempo_map.bpm_at(-3) == 120
    assert tempo_map.bpm_at(3.999) == 120
    assert tempo_map.bpm_at(4) == 60
    assert tempo_map.bpm_at(1000) == 60


@pytest.mark.parametrize(
    "points", [[], [(0, 0)], [(0, 0), (1, 0.0), (2, -1.0)], [(0, 0), (1, 1.0), (1, 2.0)]]
)
def test_maps_that_cannot_be_are_refused(points: list[tuple[float, float]]) -> None:
    """Fewer than two points, or points that do not rise, make no map."""
    with pytest.raises(ValueError, match="points"):
        TempoMap.through(points)
