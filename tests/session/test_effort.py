"""The effort granted to a live step follows what plans cost, within bounds."""

from jam.session.effort import FIRST, LEAST, LONG_MS, MOST, QUICK_MS, EffortGrant


def test_slow_plans_get_less_quick_ones_more_others_the_same() -> None:
    """The direction is that of the time a plan took."""
    grant = EffortGrant()
    assert grant.effort == FIRST
    assert grant.took((LONG_MS + QUICK_MS) / 2.0) == FIRST
    less = grant.took(LONG_MS + 1.0)
    assert less < FIRST
    assert grant.took(QUICK_MS - 1.0) > less


def test_effort_stays_within_bounds() -> None:
    """However slow or quick the machine, there is enough for a first line and never more than a
    render grants."""
    slow, quick = EffortGrant(), EffortGrant()
    for _ in range(100):
        slow.took(500.0)
        quick.took(0.1)
    assert (slow.effort, quick.effort) == (LEAST, MOST)
