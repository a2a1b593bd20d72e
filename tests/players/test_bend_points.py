"""Bends: the moments of the wheel, counted from whatever zero."""

from __future__ import annotations

import numpy as np
import pytest

from jam.log import rounded
from jam.players.bends import bend_points

ORIGIN_SEC = 53_217.084_512_337
"""Where the machine's clock stood when a session began, say."""


@pytest.mark.parametrize("bend", ["scoop", "fall"])
def test_the_machine_and_the_log_turn_the_wheel_at_the_same_moments(bend):
    """Notes at whole millionths, as the log keeps them: from the machine's seconds the wheel's
    moments come back as the very millionths that a replay finds from the session's."""
    rng = np.random.default_rng(4)
    for _ in range(500):
        t, end = (rounded(float(sec)) for sec in np.cumsum(rng.uniform(0.05, 20.0, 2)))
        end = rounded(t + min(end - t, 1.5))
        played = [t + sec for sec, _ in bend_points(bend, end - t)]
        machine = t + ORIGIN_SEC
        heard = [machine + sec for sec, _ in bend_points(bend, end + ORIGIN_SEC - machine)]
        assert [rounded(sec - ORIGIN_SEC) for sec in heard] == [rounded(sec) for sec in played]
