"""Changes on absolute beats, with their functions."""

from __future__ import annotations

from jam.charts.changes import bar_starts, changes_of
from jam.charts.loader import load_chart
from jam.charts.model import Chart

TEXT = """
title: Try
key: C
metre: 3/4
tempo: 120
sections:
  A:
    changes: C6 | % to_coda | Dm7:2 ~Db7 | G7
  Z:
    changes: Bm7b5 | E7
road_map: {coda: Z}
"""


def made() -> Chart:
    return load_chart(TEXT, "try.yaml")


def test_beats_count_from_the_first() -> None:
    """Bars and changes are placed from the beat on which the passage begins."""
    chart = made()
    assert bar_starts(chart.chorus, 12.0) == [12.0, 15.0, 18.0, 21.0]
    changes = changes_of(chart, chart.chorus, 12.0)
    places = [(c.beat, c.chord.symbol, c.passing) for c in changes]
    assert places == [
        (12.0, "C6", False),
        (18.0, "Dm7", False),
        (20.0, "Db7", True),
        (21.0, "G7", False),
    ]


def test_a_chord_named_again_is_no_change() -> None:
    """A repeated bar makes no new change."""
    assert len(changes_of(made(), made().chorus, 0.0)) == 4


def test_functions_look_ahead() -> None:
    """A ii is known by the V after it, a passing chord between them aside; the last chord of the
    chorus leads to its top (ii-V-I: common practice)."""
    changes = changes_of(made(), made().chorus, 0.0)
    assert changes[1].function == "two"
    assert changes[3].function == "to_major"


def test_the_last_time_leads_nowhere() -> None:
    """After the last chord of the last time nothing follows; before it the coda counts."""
    chart = made()
    last = changes_of(chart, chart.last, 0.0)
    assert [c.chord.symbol for c in last] == ["C6", "Bm7b5", "E7"]
    assert last[1].function == "two"
