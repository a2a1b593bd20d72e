"""Early and late: for which bar a cue counts, and what it then does."""

from __future__ import annotations

import pytest
from sessions import chord, cue, line, play, setup, tune

from jam.charts.loader import load_chart
from jam.charts.model import RoadMap
from jam.core.cue_places import late_beats, take_beat, trade_beat
from jam.core.form import Form
from jam.core.setup import TurnKind, Turns
from jam.transport.metre import Metre

P, C = "player", "companion"
EIGHT = tune("Dm7 G7 Cmaj7 Cmaj7 Fm7 Bb7 Ebmaj7 Ebmaj7")
HEADED = tune(road_map=RoadMap(0, "companion", 2, "companion"))


def form(chart: object = EIGHT) -> Form:
    """Return the form of a chart of two sections of four bars, or of no chart."""
    return Form(setup(chart=chart))


@pytest.mark.parametrize(
    ("asked", "begins"),
    [
        (-6.0, 0.0),  # in the count-in
        (0.5, 0.0),  # late by half a beat
        (0.99, 0.0),
        (1.0, 4.0),  # a pulse after the bar line it is early for the next
        (3.99, 4.0),
        (4.7, 4.0),
        (9.5, 12.0),
        (12.3, 16.0),  # the last bar of a section is for the next section, from its first beat on
        (15.9, 16.0),
        (16.4, 16.0),
        (28.2, 32.0),  # the last bar of the chorus
        (32.2, 32.0),
    ],
)
def test_take_it_counts_for_a_bar_line(asked: float, begins: float) -> None:
    """Next bar line, or the bar just begun; the last bar of a section belongs to the next."""
    assert take_beat(form(), asked) == begins


@pytest.mark.parametrize(
    ("asked", "begins"), [(-1.0, 0.0), (0.5, 0.0), (2.0, 4.0), (12.2, 12.0), (15.2, 16.0)]
)
def test_take_it_without_a_chart_knows_bars_only(asked: float, begins: float) -> None:
    """There are no sections, and so no last bars of them."""
    assert take_beat(form(None), asked) == begins


@pytest.mark.parametrize(
    ("asked", "begins"),
    [(0.2, 16.0), (9.0, 16.0), (15.9, 16.0), (16.2, 16.0), (17.5, 20.0), (47.9, 64.0)],
)
def test_take_it_waits_for_the_head_to_end(asked: float, begins: float) -> None:
    """In a head the cue counts for what follows it, in the head out for nothing (the end)."""
    assert take_beat(form(HEADED), asked) == begins


@pytest.mark.parametrize(
    ("asked", "begins"), [(-1.0, 0.0), (0.4, 0.0), (1.2, 32.0), (31.9, 32.0), (32.9, 32.0)]
)
def test_trade_counts_for_the_top_of_a_chorus(asked: float, begins: float) -> None:
    """The next top, or the one just passed."""
    assert trade_beat(form(), asked, 4) == begins


@pytest.mark.parametrize(("asked", "begins"), [(0.4, 0.0), (4.4, 16.0), (16.9, 16.0), (18.0, 32.0)])
def test_trade_without_a_chart_counts_for_a_seam(asked: float, begins: float) -> None:
    """Seams of as many bars as are traded."""
    assert trade_beat(form(None), asked, 4) == begins


def test_sections_of_one_name_are_told_apart() -> None:
    """In A A the last bar of the first A belongs to the second one."""
    text = (
        "title: T\nkey: C major\nmetre: 4/4\ntempo: 120\n"
        "sections:\n  A:\n    changes: |\n      C6 | F6 | C6 | G7 |\nform: A A\n"
    )
    assert take_beat(form(load_chart(text, "made.yaml")), 12.2) == 16.0


@pytest.mark.parametrize(
    ("metre", "late"),
    [(Metre(), 1.0), (Metre(3, 4, 3.0), 1.5), (Metre(12, 8, 1.5), 1.5), (Metre(2, 2, 2.0), 2.0)],
)
def test_late_is_a_pulse_and_half_a_bar_at_most(metre: Metre, late: float) -> None:
    """Where the pulse is the bar, half of it is all the time there is."""
    assert late_beats(metre) == late


# --- what is heard of it ------------------------------------------------------------------------


@pytest.mark.parametrize("asked", [8.1, 8.5, 8.9])
def test_a_late_take_it_is_answered_in_the_bar_just_begun(asked: float) -> None:
    """The companion comes in at once, in that bar, and keeps the turn for four bars of it."""
    run = play(setup(chart=EIGHT), [*line(2, 7), cue(asked / 2, "take it")], until=14.0)
    assert run.turns()[:3] == [(0.0, P), (8.0, C), (24.0, P)]
    first = run.spoken()[0]
    assert asked < first["beat"] < 12.0
    assert run.refused == 0


def test_trade_from_a_solo_begins_at_the_top() -> None:
    """From the next chorus on the two trade fours, and the setup's first player begins."""
    run = play(setup(chart=EIGHT, turns=Turns("solo")), [cue(3.0, "trade")], until=31.0)
    told = [turn for turn in run.turns() if turn[0] >= 16.0]
    assert told == [(32.0, P), (48.0, C)]
    assert not [n for n in run.spoken() if 33.0 < n["beat"] < 47.0]


def test_trade_without_a_chart_ends_a_solo_on_the_seam() -> None:
    """A reply that would go on past the seam is ended there, as the turn is."""
    inputs = [*chord(0, 60, (48, 52, 55, 59), port="band"), cue(3.0, "trade")]
    made = setup(chart=None, turns=Turns("solo", 4))
    run = play(made, inputs, until=20.0)
    assert (16.0, P) in [(round(beat), who) for beat, who in run.turns()]
    assert [n for n in run.spoken() if n["beat"] < 16.0]
    assert not [n for n in run.spoken() if 17.0 < n["beat"] < 31.0]


def test_lay_out_takes_a_trade_back_that_was_to_come() -> None:
    """What was asked last holds."""
    made = setup(chart=EIGHT, turns=Turns("solo"))
    run = play(made, [cue(3.0, "trade"), cue(5.0, "lay out")], until=30.0)
    assert run.turns() == [(0.0, C), (10.0, P)]


def test_trade_ends_a_lay_out() -> None:
    """From the top on turns are traded again."""
    made = setup(chart=EIGHT)
    run = play(made, [cue(3.0, "lay out"), cue(5.0, "trade")], until=31.0)
    assert run.turns() == [(0.0, P), (48.0, C)]


def test_last_time_keeps_a_turn_that_was_taken_before() -> None:
    """Both cues in one bar: the solo is played, then the last time comes."""
    made = setup(chart=EIGHT)
    run = play(made, [cue(1.2, "take it"), cue(1.6, "last time")], until=20.0)
    assert run.turns()[:3] == [(0.0, P), (4.0, C), (20.0, P)]


@pytest.mark.parametrize("kind", ["solo", "on cue"])
def test_take_it_overrules_a_lay_out_of_the_same_pulse(kind: TurnKind) -> None:
    """Though the turn begins on the bar line before it; the log says whose turn it is."""
    made = setup(chart=EIGHT, turns=Turns(kind))
    run = play(made, [cue(1.1, "take it"), cue(4.15, "lay out"), cue(4.3, "take it")], until=24.0)
    assert [who for _, who in run.turns()][-2:] == [P, C]
    assert 8.0 < run.turns()[-1][0] < 9.0
    assert [n for n in run.spoken() if n["beat"] > 40.0]
