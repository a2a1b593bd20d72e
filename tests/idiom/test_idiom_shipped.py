"""The idiom that ships, against published figures of human soloists; it holds no notes.

Figures: 208 solos in swing feel of the Weimar Jazz Database (Pfleiderer, Frieler, Abeßer, Zaddach,
Burkhart (eds.) 2017, "Inside the Jazzomat"; ODbL 1.0), as in `tests.bench.soloist_reference`.
"""

from __future__ import annotations

import json
from collections import Counter

import numpy as np
import pytest

from jam.idiom.counts import Counts
from jam.idiom.model import Idiom
from jam.idiom.text import read_counts
from jam.session.idioms import find_idiom
from tests.bench.soloist_reference import DEGREES, SPREAD

IDIOM: Idiom = find_idiom("mainstream").value
COUNTS: Counts = read_counts(IDIOM.text, "mainstream.json")
CONTEXTS = Counter[tuple[int, ...]]()
for (*context, _), times in COUNTS.steps.items():
    CONTEXTS[tuple(context)] += times


def implied() -> np.ndarray:
    """Return the share of each interval (%) where contexts come as often as they were counted."""
    shares = sum(times * IDIOM.steps[context] for context, times in CONTEXTS.items())
    return np.asarray(100.0 * shares / CONTEXTS.total())


def inside(name: str, value: float) -> bool:
    low, _, high = SPREAD[name]
    return low <= value <= high


@pytest.mark.parametrize("interval", range(-11, 12))
def test_intervals_are_as_common_as_with_people(interval: int) -> None:
    """Each interval's share lies between the 5th and 95th percentile of the published soloists."""
    value = implied()[interval + 12]
    assert inside(f"interval {interval:+d}", value), value


def test_steps_thirds_and_leaps_are_as_common_as_with_people() -> None:
    """So do the groups, and how often it goes up and down."""
    shares = dict(zip(range(-12, 13), implied(), strict=True))
    groups = {
        "interval repeat %": [0],
        "interval step (1-2) %": [-2, -1, 1, 2],
        "interval third (3-4) %": [-4, -3, 3, 4],
        "interval larger %": [i for i in shares if abs(i) > 4],
        "interval up %": range(1, 13),
        "interval down %": range(-12, 0),
    }
    for name, members in groups.items():
        assert inside(name, sum(shares[i] for i in members)), name


def test_degrees_arrived_at_are_as_common_as_with_people() -> None:
    """Each degree's share lies within a third of the published pooled one, or 1.5 % of it."""
    arrived = np.zeros(12)
    for context, times in CONTEXTS.items():
        for way, share in enumerate(IDIOM.steps[context]):
            arrived[(context[4] + way - 12) % 12] += times * share
    arrived *= 100 / arrived.sum()
    for degree, (value, known) in enumerate(zip(arrived, DEGREES["all"], strict=True)):
        assert value == pytest.approx(known, rel=0.33, abs=1.5), degree


def test_last_notes_are_as_common_as_with_people() -> None:
    """Root, third, fifth, seventh and ninth end phrases as often as with the published soloists."""
    ends = Counter[int]()
    for (_, degree), times in COUNTS.last.items():
        ends[degree] += times
    groups = {"root": [0], "3rd (b3, 3)": [3, 4], "5th": [7], "7th (b7, 7)": [10, 11], "9th": [2]}
    for name, degrees in groups.items():
        share = 100 * sum(ends[d] for d in degrees) / ends.total()
        assert inside(f"last note {name} %", share), (name, share)


def test_beats_are_as_full_as_with_people() -> None:
    """Empty beats and beats of one to four notes inside phrases lie within the published rows."""
    sizes = Counter[int]()
    for (*_, pattern), times in COUNTS.beats.items():
        sizes[len(COUNTS.patterns[pattern])] += times
    for size in range(5):
        share = 100 * sizes[size] / sizes.total()
        assert inside(f"beats inside a phrase with {size} notes %", share), (size, share)


def test_swing_is_that_of_soloists() -> None:
    """The median ratio lies between the published quartiles of the tempi it holds for."""
    # 25th percentile of 80-119, 120-159, 200-239 and 240-279 bpm; 75th likewise.
    for row, low, high in zip(IDIOM.swing, (0.94, 1.05, 1.0, 1.0), (1.92, 1.79, 1.65, 1.46),
                              strict=True):  # fmt: skip
        assert low <= row[10] <= high


def test_it_is_small_and_holds_no_notes() -> None:
    """Under a megabyte: headings, counts by class, quantiles and hashes; no list of notes."""
    assert len(IDIOM.text) < 1_000_000
    told = json.loads(IDIOM.text)
    assert set(told) == {
        *("kind", "format", "name", "about", "licence", "sources", "notes", "phrases", "drift"),
        *("patterns", "steps", "bare", "first", "last", "beats", "opening", "closing"),
        *("spreads", "windows"),
    }
    for field in ("steps", "bare", "first", "last", "beats", "opening", "closing"):
        assert told[field] == sorted(told[field]), f"{field} are in an order that tells no tale"
    hashes = sorted(IDIOM.windows)
    packed = [window.to_bytes(8, "big") for window in hashes]
    assert len(hashes) > 10_000
    # Evenly spread bytes, as of a hash: nothing is written in them.
    assert np.bincount(list(b"".join(packed)), minlength=256).min() > 0.7 * len(packed) * 8 / 256


def test_it_carries_its_licence_and_source() -> None:
    """A derived database: ODbL 1.0, and the database it was derived from is cited."""
    assert IDIOM.licence == "ODbL-1.0"
    cited = " ".join(IDIOM.sources)
    for word in ("Weimar Jazz Database", "Pfleiderer", "Frieler", "Abesser", "Zaddach", "Burkhart"):
        assert word in cited
    assert "2017" in cited
