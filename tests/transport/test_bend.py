"""Laws of bending the tempo."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jam.transport.bend import bend
from jam.transport.timeline import TempoMap, Timeline

corrections = st.lists(
    st.tuples(st.floats(0.01, 3.0), st.floats(-0.5, 0.5), st.floats(0.6, 1.6)),
    min_size=1,
    max_size=30,
)


@given(corrections)
def test_the_beat_never_goes_back_and_never_jumps(
    steps: list[tuple[float, float, float]],
) -> None:
    """Whatever estimates come in, the beat sounding now stays and later ones come later."""
    now, present = 0.0, TempoMap((Timeline(120.0),))
    for wait, gap, faster in steps:
        now += wait
        here = present.beat(now)
        target = Timeline(min(300.0, max(40.0, present.bpm_at(here) * faster)), here + gap, now)
        present = bend(present, target, now)
        assert present.beat(now) == pytest.approx(here, abs=1e-6)
        places = [present.beat(now + k * 0.01) for k in range(-20, 200)]
        assert all(a < b for a, b in pairwise(places))


@pytest.mark.parametrize("gap", [-0.5, -0.2, -0.01, 0.01, 0.2, 0.5])
def test_the_estimate_is_met_within_two_beats(gap: float) -> None:
    """Half a beat of error is made good in two beats, by a third faster or a fifth slower."""
    present = TempoMap((Timeline(120.0),))
    target = Timeline(120.0, 8.0 + gap, 4.0)
    bent = bend(present, target, 4.0)
    meet = target.sec(8.0 + 2.0) + 1e-9
    assert bent.beat(meet) == pytest.approx(target.beat(meet), abs=1e-6)
    assert 0.8 - 1e-9 <= bent.bpm_at(8.0) / 120.0 <= 4 / 3 + 1e-9


def test_the_past_stays() -> None:
    """A note played two beats ago keeps its beat."""
    present = TempoMap((Timeline(100.0),))
    bent = bend(present, Timeline(140.0, 8.2, present.sec(8.0)), present.sec(8.0))
    for beat in (1.0, 5.5, 7.99):
        assert bent.sec(beat) == pytest.approx(present.sec(beat), abs=1e-9)
