"""Every reply of rendered sessions keeps the hard rules and takes up its call.

The sessions are cut from a wider grid (`rendered`): every tune, every style, every way of taking
turns. The rules are this project's own; their independent reading is in `rules`, `window` and
`integrity`.
"""

from __future__ import annotations

import numpy as np
import pytest

from . import cells
from .rendered import answered, grid, play, styles, tunes
from .report import Audit, audit

LEAST_REPLIES = 60
CELLS_SHARED = 0.7


@pytest.fixture(scope="module")
def audits(tmp_path_factory: pytest.TempPathFactory) -> list[Audit]:
    """Play and audit every eleventh scene of two rounds, which walks over all there is."""
    folder = tmp_path_factory.mktemp("sessions")
    scenes = [*grid(1)[::11], *grid(2)[2::11]]
    return [audit(play(scene, folder).folder, {}) for scene in scenes]


def test_enough_is_heard(audits: list[Audit]) -> None:
    """The sessions hold every tune, every style, every way of taking turns, and as many replies
    as a rate needs."""
    headers = [report.session.header for report in audits]
    turns = [header["setup"]["turns"] for header in headers]
    assert {header["chart"] for header in headers} == set(tunes())
    assert {report.style for report in audits} == set(styles())
    assert {turn["kind"] for turn in turns} == {"trade", "chorus", "free", "solo"}
    assert {turn["bars"] for turn in turns if turn["kind"] == "trade"} == {2, 4, 8}
    assert sum(len(report.replies) for report in audits) >= LEAST_REPLIES


def test_no_hard_rule_is_broken(audits: list[Audit]) -> None:
    """H1 to H5 hold in every reply, and every log is sound in itself."""
    broken = [
        f"{report.folder.name}: {finding}" for report in audits for finding in report.findings
    ]
    assert not broken, "\n".join(broken)


def test_replies_take_up_their_calls(audits: list[Audit]) -> None:
    """A reply shares a cell with its call in seven of ten, and more often than with other calls."""
    pairs = answered(audits)
    shared = cells.rates(pairs)["cell"]
    chance = cells.rates(cells.strangers(pairs, np.random.default_rng(1)))["cell"]
    assert shared >= CELLS_SHARED
    assert shared > chance


def test_the_log_claims_what_is_heard(audits: list[Audit]) -> None:
    """No role, chord or degree in the log contradicts what the audit hears."""
    serious = [
        f"{report.folder.name}: {claim}"
        for report in audits
        for claim in report.claims
        if claim.serious
    ]
    assert not serious, "\n".join(serious)
