"""Odd metres, other pulses, slow and fast tempi: the same rules everywhere."""

from __future__ import annotations

from itertools import pairwise

import pytest
from sessions import line, play, setup, tune

from jam.charts.model import RoadMap
from jam.core.setup import Turns
from jam.events import Play
from jam.transport.metre import Metre

EIGHT_BARS = "Dm7 G7 Cmaj7 A7 Dm7 G7 Cmaj7 C6"
METRES = {
    "3/4": Metre(3, 4),
    "3/4 in one": Metre(3, 4, 3.0),
    "6/8": Metre(6, 8, 1.5),
    "12/8": Metre(12, 8, 1.5),
    "2/2": Metre(2, 2, 2.0),
    "5/4": Metre(5, 4),
    "7/8": Metre(7, 8, 0.5),
}


@pytest.mark.parametrize("name", METRES)
@pytest.mark.parametrize("bpm", [60.0, 132.0, 280.0])
def test_fours_in_any_metre(name: str, bpm: float) -> None:
    """Turns lie on bar lines, replies keep their window, beats and bars are counted right, and
    nothing is late or stuck."""
    metre = METRES[name]
    bar, pulse, sec = metre.bar_beats, metre.pulse_beats, 60.0 / bpm
    chart = tune(EIGHT_BARS, metre=metre, tempo_bpm=bpm)
    made = setup(chart=chart, with_band=True, road_map=RoadMap(1, "none", None, "none"))
    shift = bar * sec
    inputs = [type(m)(m.t + shift, m.port, m.data) for m in line(2 * bar, 4 * bar - 1.0, bpm)]
    run = play(made, inputs, until=shift + 8 * bar * sec + 0.01)
    assert run.turns()[:3] == [(0.0, "player"), (4 * bar, "companion"), (8 * bar, "player")]
    pickup = pulse * (2 if bpm > 200 else 1)
    places = [n["beat"] for n in run.spoken()]
    assert len(places) >= 3
    assert min(places) >= 4 * bar - pickup - 1e-6
    assert min(places) <= 5.5 * bar
    assert max(n["beat"] + n["beats"] for n in run.spoken()) <= 8 * bar + pulse + 1e-6
    told = run.of("beat")
    assert [b["beat"] - a["beat"] for a, b in pairwise(told)] == [1.0] * (len(told) - 1)
    for record in told:
        number = int((record["beat"] + 1e-9) // bar) + 1
        assert record["bar"] == number
        assert record["beat_in_bar"] == int(record["beat"] - (number - 1) * bar + 1e-9) + 1
    assert run.refused == 0
    plays = [(now, c) for now, c in run.commands if isinstance(c, Play)]
    assert all(now <= note.t + 1e-9 for now, note in plays)


@pytest.mark.parametrize("bpm", [30.0, 40.0])
def test_slow_tempi_are_handed_over_in_time(bpm: float) -> None:
    """At thirty to the minute every note still leaves its horizon ahead, or when it was planned."""
    made = setup(chart=tune(tempo_bpm=bpm), turns=Turns("solo"), with_band=True)
    run = play(made, until=30.0)
    planned = {record["at"] for record in run.of("reply")}
    handed = [(now, c) for now, c in run.commands if isinstance(c, Play)]
    assert all(c.t - now >= 0.5 - 1e-9 or now in planned or now == 0.0 for now, c in handed)


def test_six_eight_is_not_swung() -> None:
    """The eighths of 6/8 sound as they are written (common practice)."""
    chart = tune(EIGHT_BARS, metre=METRES["6/8"], tempo_bpm=90.0)
    run = play(setup(chart=chart, with_click=True), until=6.0)
    clicks = [round(t / (60.0 / 90.0), 3) for t, _, _ in run.sounded("click")]
    assert clicks[:4] == [0.0, 1.5, 3.0, 4.5]
