"""The measuring tools of the soloist can be trusted: they see what is there, and can fail."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate, pairwise
from math import isnan

import numpy as np
import pytest

from jam.transport.swing import swing_beat
from tests.bench.soloist_alikeness import INDEL, INTERVAL, distance, rank
from tests.bench.soloist_features import features_of, is_timing
from tests.bench.soloist_ground import of_chart
from tests.bench.soloist_likecall import heard_before, longest_shared, parrots
from tests.bench.soloist_likeness import verdict
from tests.bench.soloist_lines import (
    TICKS,
    Harmony,
    Line,
    kind_of,
    on_grid,
    phrase_numbers,
    role_of,
)
from tests.bench.soloist_reference import SPREAD
from tests.bench.soloist_statistics import statistics_of, swing_ratios
from tests.bench.soloist_surprise import in_key, mistaken, played

# Section on melodic similarity of the check values: A = D E F G E C D and its variants.
TUNE = (62, 64, 65, 67, 64, 60, 62)


def line(
    pitches: Sequence[int],
    ticks: Sequence[int] | None = None,
    symbols: Sequence[str] = ("Cmaj7",),
    *,
    swing: float = 1.0,
    bpm: float = 160.0,
) -> Line:
    """Return a line of eighths, or on ``ticks``; a chord to the bar."""
    places = tuple(ticks) if ticks is not None else tuple(6 * k for k in range(len(pitches)))
    heard = tuple(swing_beat(t / TICKS, swing) for t in places)
    gaps = np.diff([*heard, heard[-1] + 0.5])
    lengths = tuple(float(0.9 * gap) for gap in gaps)
    return Line(
        "made", bpm, places, heard, lengths, tuple(pitches), phrase_numbers(places, lengths),
        Harmony(tuple(4.0 * k for k in range(len(symbols))), tuple(symbols)),
    )  # fmt: skip


def steps(pitches: Sequence[int], gap: int = 6) -> list[tuple[int, int]]:
    return [(b - a, gap) for a, b in pairwise(pitches)]


@pytest.mark.parametrize(
    ("ticks", "ratio"),
    [
        ((0, 6, 12, 18, 24, 36), 1.0),
        ((6, 12, 18, 24, 30, 36), 1.5),
        ((0, 4, 8, 12, 16, 20, 24), 1.3),
        ((0, 3, 6, 9, 12, 18, 24), 1.0),
        ((6, 18, 30, 42), 1.3),
    ],
)
def test_the_grid_finds_what_was_played(ticks: tuple[int, ...], ratio: float) -> None:
    """Late and a little scattered, a line comes back onto the places it was made on."""
    rng = np.random.default_rng(5)
    heard = [swing_beat(t / TICKS, ratio) + 0.05 + rng.normal(0, 0.01) for t in ticks]
    assert on_grid(heard, 160.0) == list(ticks)


def test_an_early_downbeat_is_on_the_beat() -> None:
    """A note a hair before the beat belongs to it, if nothing else is there."""
    assert on_grid([0.95, 2.0, 3.02], 160.0) == [12, 24, 36]


@pytest.mark.parametrize(
    ("symbol", "kind", "roles"),
    [
        # c chord tone, t tension, a altered, o other, by semitone above the root: the reading of
        # the published figures on human solos.
        ("Cmaj7", "major", "cotocotcotoc"),
        ("C7", "dominant", "catacotcatco"),
        ("C7sus4", "dominant", "cataoctcatco"),
        ("Cm7", "minor", "cotcotocotco"),
        ("Cm6", "minor", "cotcotococoo"),
        ("Cm7b5", "half-diminished", "cotcotcotoco"),
        ("Cdim7", "diminished", "cotcotcotcot"),
    ],
)
def test_roles(symbol: str, kind: str, roles: str) -> None:
    """Each semitone above a chord has the role of the published reading."""
    short = {"chord": "c", "tension": "t", "altered": "a", "other": "o"}
    found = "".join(short[role_of(symbol, 60 + k)] for k in range(12))
    assert (kind_of(symbol), found) == (kind, roles)


def test_every_statistic_has_a_reference() -> None:
    """The table of people's figures and the statistics name the same things, in order of size."""
    found = statistics_of([line(TUNE * 4)])
    assert found.keys() == SPREAD.keys()
    assert all(low <= middle <= high for low, middle, high in SPREAD.values())


def test_statistics_of_a_line_made_by_hand() -> None:
    """Counts of a line that can be counted by eye."""
    found = statistics_of([line((60, 60, 62, 64, 65, 72))])
    assert found["interval repeat %"] == 20
    assert found["interval step (1-2) %"] == 60
    assert found["interval larger %"] == 20
    assert found["direction runs of 4+ intervals %"] == 100
    assert found["last note root %"] == 100
    assert found["onsets on the beat %"] == 50


def test_a_sequence_is_heard() -> None:
    """A figure said again a step higher is a sequence; a scale in one direction is not exact."""
    exact = statistics_of([line((60, 64, 62, 62, 66, 64))])
    assert exact["same, exactly %"] == 100
    assert statistics_of([line((60, 67, 61, 72, 58, 59))])["same, exactly %"] == 0


def test_swing_is_measured_as_heard() -> None:
    """The ratio that a line was made with is the ratio that is found."""
    assert swing_ratios(line(TUNE, swing=1.4)) == pytest.approx([1.4] * 3)


def test_verdicts() -> None:
    """What lies outside people's range is told, and what may be stricter is let pass."""
    assert verdict("interval repeat %", 0.1, (0.3, 3.5, 12.7)) == "OUT low"
    assert verdict("interval repeat %", 5.0, (0.3, 3.5, 12.7)) == ""
    assert verdict("last note chord tone %", 99.0, (41.4, 68.8, 86.9)) == "over (allowed)"


def test_transposed_lines_are_the_same() -> None:
    """Up three semitones: interval distance 0 (check values, section on similarity)."""
    up = [p + 3 for p in TUNE]
    assert distance(steps(TUNE), steps(up)) == 0
    assert parrots(steps(TUNE), steps(up))
    assert longest_shared(steps(TUNE), steps(up)) == len(TUNE)


def test_distances_of_the_worked_example() -> None:
    """One note changed touches two intervals; other notes under one rhythm cost the interval's
    share (check values: interval distances 2 for a changed note, 6 for the retrograde)."""
    changed = [*TUNE[:4], 63, *TUNE[5:]]
    assert distance(steps(TUNE), steps(changed)) == pytest.approx(2 * INTERVAL / 6)
    assert distance(steps(TUNE), []) == 1.0
    longer = steps([*TUNE, 60])
    assert distance(steps(TUNE), longer) == pytest.approx(INDEL / 7)
    assert rank(0.2, [0.1, 0.2, 0.5]) == 2


def test_what_was_heard_before() -> None:
    """Windows of six notes count as heard when an earlier line of the session had them."""
    other = list(accumulate((60, 1, 5, -2, 7, -3, 1)))
    assert heard_before([steps(TUNE), steps(TUNE)], rhythm=True) == 100
    assert heard_before([steps(TUNE), steps(other)], rhythm=False) == 0
    assert not parrots(steps(TUNE), steps(other))


def test_features_do_not_see_key_or_length() -> None:
    """A phrase a tone up, over chords a tone up, has the same features."""
    here = features_of(line(TUNE * 2, symbols=("Cmaj7", "Am7")))
    there = features_of(line([p + 2 for p in TUNE * 2], symbols=("Dmaj7", "Bm7")))
    assert len(here) > 100
    assert sum(map(is_timing, here)) > 10
    for name, value in here.items():
        assert isnan(value) == isnan(there[name]), name
        if not isnan(value):
            assert value == pytest.approx(there[name]), name


def test_wrong_chords_are_as_many_as_asked_for() -> None:
    """One chord in five is believed to be another, the others stand, also in another key."""
    ground = in_key(of_chart("paper-kites", 1), 2, 200.0)
    wrong = mistaken(ground, 0.2, np.random.default_rng(1))
    differ = [a.chord != b.chord for a, b in zip(wrong, ground.changes, strict=True)]
    assert 0.1 < np.mean(differ) < 0.3
    assert ground.changes[0].chord.symbol == "Fmaj7"


def test_the_audit_reads_what_was_played() -> None:
    """A session without surprises has none, one with them has some, and both have notes."""
    ground = of_chart("paper-kites", 1)
    calm = played(ground, "bop", 1, wrong=0.0, turns=2)
    assert not calm.surprises
    assert all(reply.notes for reply in calm.session.replies)
    assert played(ground, "bop", 1, wrong=0.6, turns=3).surprises
