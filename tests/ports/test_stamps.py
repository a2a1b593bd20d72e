"""Dates of messages: between two readings, in order, and close to the truth where it is told."""

from math import inf, nan

from hypothesis import given
from hypothesis import strategies as st

from jam.ports.stamps import Stamps

LOOK_SEC = 0.001
"""How often an input is read in these tests."""

ANY_DELTA = st.one_of(
    st.floats(0.0, 1.0), st.sampled_from([0.0, -1.0, nan, inf, 1.7e9]), st.floats(0.0, 0.002)
)
READINGS = st.lists(
    st.tuples(st.floats(0.0, 0.5), st.floats(0.0, 0.01), st.lists(ANY_DELTA, max_size=5)),
    max_size=20,
)


@given(READINGS, st.booleans())
def test_dates_lie_between_two_readings_and_never_go_back(
    readings: list[tuple[float, float, list[float]]], trust: bool
) -> None:
    """Whatever the deltas say: never after it was read, never before it can have come, in order."""
    stamps, now, last = Stamps(trust=trust), 100.0, -inf
    for pause, width, deltas in readings:
        since = now
        now += pause + width
        for date in stamps.date(deltas, since, now):
            assert max(since, last) <= date <= now
            last = date


@given(
    gaps=st.lists(st.floats(0.0, 0.3), min_size=1, max_size=60),
    drift=st.floats(-0.0005, 0.0005),
    lost=st.sets(st.integers(0, 59)),
    start=st.floats(0.0, 1e5),
)
def test_a_reader_in_time_dates_within_one_look(
    gaps: list[float], drift: float, lost: set[int], start: float
) -> None:
    """With looks every millisecond, drift and missing deltas cost no more than one look."""
    stamps, t = Stamps(), start
    for i, gap in enumerate(gaps):
        t += gap
        since = t // LOOK_SEC * LOOK_SEC
        delta = 0.0 if i in lost or i == 0 else gap * (1.0 + drift)
        (date,) = stamps.date([delta], since, since + LOOK_SEC)
        assert abs(date - t) <= LOOK_SEC * 1.01


@given(st.lists(st.floats(0.0, 0.05), min_size=1, max_size=30), st.floats(0.0, 0.5))
def test_a_stalled_reader_still_gets_the_true_gaps(gaps: list[float], late: float) -> None:
    """Read long after they came, messages keep their distances once the anchor is known."""
    stamps, t = Stamps(), 10.0
    stamps.date([0.0], t, t)
    since, true = t, []
    for gap in gaps:
        t += gap
        true.append(t)
    dates = stamps.date(gaps, since, t + late)
    assert all(abs(d - when) < 1e-9 for d, when in zip(dates, true, strict=True))


def test_the_first_messages_of_a_late_reader_end_at_their_arrival() -> None:
    """Without an anchor the last of a batch is dated as it is read, the others before it."""
    assert Stamps().date([99.0, 0.25, 0.5], -inf, 8.0) == [7.25, 7.5, 8.0]


def test_a_clock_that_runs_slow_or_fast_is_followed_for_hours() -> None:
    """Drift of 200 millionths, a message a second for three hours: still within one look."""
    for rate in (0.9998, 1.0002):
        stamps = Stamps()
        for second in range(1, 3 * 3600):
            (date,) = stamps.date([rate], second - LOOK_SEC / 2, second + LOOK_SEC / 2)
            assert abs(date - second) <= LOOK_SEC


def test_arrival_only_where_deltas_are_not_to_be_trusted() -> None:
    """Several messages of one packet with the same delta again and again are dated as read."""
    assert Stamps(trust=False).date([0.1, 0.1, 0.1], 0.0, 5.0) == [5.0, 5.0, 5.0]


def test_nothing_read_nothing_dated() -> None:
    """An empty reading has no dates and leaves the anchor as it was."""
    stamps = Stamps()
    stamps.date([0.0], 1.0, 1.0)
    assert stamps.date([], 1.0, 9.0) == []
    assert stamps.date([0.5], 1.0, 9.0) == [1.5]
