"""Bars and swing against arithmetic and published definitions."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jam.transport.metre import Bars, Metre
from jam.transport.swing import cymbal_ratio, swing_beat


@pytest.mark.parametrize(
    ("numerator", "denominator", "beats"),
    # Quarter notes to the bar: numerator * 4 / denominator (definition of a time signature).
    [(4, 4, 4.0), (3, 4, 3.0), (6, 8, 3.0), (12, 8, 6.0), (2, 2, 4.0), (5, 4, 5.0), (7, 8, 3.5)],
)
def test_a_bar_is_as_long_as_its_signature(numerator: int, denominator: int, beats: float) -> None:
    """The length of a bar in quarter notes follows from its time signature."""
    metre = Metre(numerator, denominator)
    assert metre.bar_beats == beats
    assert str(metre) == f"{numerator}/{denominator}"


@given(st.integers(-40, 40), st.floats(0.01, 3.9))
def test_regular_bars_count_both_ways(bar: int, into: float) -> None:
    """Four to the bar: bar n begins at 4n, in the count-in too, and contains what follows."""
    bars = Bars()
    assert bars.start(bar) == 4.0 * bar
    found, beats = bars.at(4.0 * bar + into)
    assert found == bar
    assert beats == pytest.approx(into, abs=1e-9)


@given(
    st.lists(st.sampled_from([2.0, 3.0, 3.5, 4.0, 6.0]), min_size=1, max_size=8),
    st.integers(-3, 3),
    st.integers(-6, 14),
    st.floats(0.001, 1.9),
)
def test_listed_bars_agree_with_their_starts(
    lengths: list[float], first: int, bar: int, into: float
) -> None:
    """A place found in a bar lies at that bar's start plus the beats into it."""
    starts = [0.0]
    for length in lengths:
        starts.append(starts[-1] + length)
    bars = Bars(4.0, tuple(starts), first)
    beat = bars.start(bar) + into
    assert bars.at(beat) == (bar, pytest.approx(into, abs=1e-6))
    assert bars.length(bar) == pytest.approx(bars.start(bar + 1) - bars.start(bar))


def test_a_hair_before_the_bar_line_belongs_to_it() -> None:
    """Rounding in the twelfth place does not put a downbeat into the bar before."""
    assert Bars().at(8.0 - 1e-12) == (2, 0.0)


@pytest.mark.parametrize(
    ("ratio", "place"),
    # Off-beat at r / (1 + r) of the beat, from the definition in Benadon 2006, Ethnomusicology
    # 50(1); values by arithmetic.
    [(1.0, 0.5), (1.3, 0.565), (1.5, 0.6), (2.0, 0.667), (3.0, 0.75), (3.5, 0.778)],
)
def test_the_off_beat_falls_where_the_ratio_says(ratio: float, place: float) -> None:
    """The second eighth begins at r/(1+r) of the beat; the beat itself stays."""
    assert swing_beat(7.5, ratio) == pytest.approx(7 + place, abs=5e-4)
    assert swing_beat(7.0, ratio) == 7.0
    assert swing_beat(-0.5, ratio) == pytest.approx(-1 + place, abs=5e-4)


@given(st.floats(1.0, 3.5), st.integers(-8, 8))
def test_swing_keeps_triplets_and_order(ratio: float, beat: int) -> None:
    """Written triplets stay; sixteenths stay in order inside their beat."""
    assert swing_beat(beat + 1 / 3, ratio) == beat + 1 / 3
    assert swing_beat(beat + 2 / 3, ratio) == beat + 2 / 3
    places = [swing_beat(beat + part, ratio) for part in (0.0, 0.25, 0.5, 0.75, 1.0)]
    assert places == sorted(set(places))
    assert places[-1] == pytest.approx(beat + 1)


def test_the_cymbal_straightens_as_the_tempo_rises() -> None:
    """The band's ratio never widens with tempo, stays in 1 to 3.5, and is 2:1 at 200 bpm.

    Friberg & Sundström 2002, Music Perception 19(3): up to 3.5:1 slow, 1:1 fast, short note
    about 100 ms; from 80 ms on is taken here.
    """
    ratios = [cymbal_ratio(bpm) for bpm in range(40, 361, 5)]
    assert ratios == sorted(ratios, reverse=True)
    assert min(ratios) == 1.0
    assert max(ratios) <= 3.5
    assert cymbal_ratio(200) == pytest.approx(2.0, abs=0.05)
    for bpm in range(150, 300, 10):
        assert 60 / bpm / (1 + cymbal_ratio(bpm)) >= 0.080
