"""The rhythm of a reply: what the hard rules ask of time holds before any pitch is chosen."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from soloist_asking import STYLES, plain_request, requests
from soloist_rules import EPS, changes_to_land_on, longest_breath_sec

from jam.players.soloist import moves
from jam.players.soloist.form import Form, draw_form
from jam.players.soloist.manner import PLAIN_MANNER
from jam.players.soloist.request import Request, Window
from jam.players.soloist.rhythm import plan_rhythm
from jam.players.soloist.slots import TICKS, Slot, in_line, stretches, to_ticks
from jam.players.soloist.statement import Statement

HALF_A_TICK = 0.5 / TICKS + EPS


def planned(request: Request) -> list[Slot]:
    """Return the slots of a candidate."""
    rng = np.random.default_rng(request.seed)
    return plan_rhythm(request, draw_form(request, rng), rng)


def saying(statement: Statement) -> Form:
    """Return the form that begins with one statement and goes on freely."""
    return Form(((statement,),), PLAIN_MANNER, statement.phase % TICKS, "a statement")


@pytest.mark.slow
@settings(
    max_examples=150,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
@given(requests())
def test_rhythm_keeps_window_landings_and_breath(request_):
    """Slots come in order, one at a time, inside the window (H4); of the structural changes between
    the first and the last of them two in three have a note across them or within a pulse after
    (H1); and no stretch without a rest is longer than the breath (H5)."""
    slots = planned(request_)
    window, pulse = request_.window, request_.pulse_beats
    assert slots
    assert all(slot.ticks > 0 for slot in slots)
    assert all(a.tick < b.tick and a.end <= b.tick for a, b in pairwise(slots))
    assert slots[0].beat >= window.earliest - HALF_A_TICK
    assert slots[-1].end / TICKS <= window.latest + HALF_A_TICK
    passed_by = [
        point.beat
        for point in changes_to_land_on(request_)
        if slots[0].beat < point.beat < slots[-1].beat
        and not any(
            slot.beat < point.beat < slot.end / TICKS
            or point.beat - HALF_A_TICK <= slot.beat <= point.beat + pulse + HALF_A_TICK
            for slot in slots
        )
    ]
    inside = [p for p in changes_to_land_on(request_) if slots[0].beat < p.beat < slots[-1].beat]
    # The breath may cost a landing; the rule asks for two of three.
    assert len(passed_by) * 3 <= len(inside)
    blown = longest_breath_sec(slots, request_.bpm)
    assert blown <= request_.style.instrument.breath_sec + 0.02


def test_few_landings_are_passed_by():
    """With breath enough no more than one structural change in four is passed by in a rest."""
    for seed in range(60):
        style = sorted(STYLES)[seed % len(STYLES)]
        long = STYLES[style].instrument.model_copy(update={"breath_sec": 60.0})
        request = plain_request(
            style=STYLES[style].model_copy(update={"instrument": long}), seed=(seed,)
        )
        slots = planned(request)
        inside = [
            to_ticks(change.beat)
            for change in changes_to_land_on(request)
            if slots[0].tick < to_ticks(change.beat) < slots[-1].tick
        ]
        silent = [
            tick
            for tick in inside
            if not any(s.tick < tick < s.end or tick <= s.tick <= tick + TICKS for s in slots)
        ]
        assert len(silent) <= len(inside) // 4


def test_the_statement_is_said_on_its_place_in_the_beat():
    """The first statement keeps the cell's onsets, and its place within the beat or, against a
    style's wish to begin elsewhere, tells that it is off it."""
    onsets = (0, 6, 12, 16, 24)
    statement = Statement(
        "restate", onsets, (6, 6, 4, 8, 12), (None, 2, 2, -1, -2), phase=6, said_at=6
    )
    seen, kept = 0, 0
    for seed in range(60):
        request = plain_request(seed=(seed,), style=STYLES["lyrical"])
        slots = plan_rhythm(request, saying(statement), np.random.default_rng(seed))
        said = [s for s in slots if s.move == "restate"]
        if len(said) < len(onsets):
            continue
        seen += 1
        off = said[0].tick % TICKS != 6
        assert all(slot.why.endswith(moves.OFF_ITS_BEAT) for slot in said) == off
        kept += not off
        assert tuple(s.tick - said[0].tick for s in said) == onsets
    assert seen >= 50
    assert kept > 0.6 * seen


def test_nothing_is_put_between_the_notes_of_a_statement():
    """A statement with a rest of two beats inside keeps it."""
    statement = Statement("restate", (0, 6, 30, 36), (6, 6, 6, 6), (None, 2, 2, -1))
    for seed in range(30):
        slots = plan_rhythm(
            plain_request(seed=(seed,)), saying(statement), np.random.default_rng(seed)
        )
        said = [i for i, s in enumerate(slots) if s.group == 0]
        if len(said) == 4:
            between = slots[said[0] : said[-1] + 1]
            assert {s.move for s in between} <= {"restate", "landing"}


def test_an_eager_reply_begins_where_it_was_asked_to():
    """With ``prompt`` the first note is on the window's start (what is answered is eager)."""
    for seed in range(20):
        request = plain_request(seed=(seed,), prompt=True)
        assert planned(request)[0].tick == to_ticks(request.window.start)


@pytest.mark.parametrize(
    "phase",
    [
        0,
        2,
        4,
        6,
        8,
        10,
    ],
)
def test_nothing_sounds_past_the_window(phase):
    """A statement whose long last note comes just before the close is cut off at the window's
    end like any other (H4)."""
    statement = Statement(
        "recipe",
        (0, 6, 18, 24, 36, 42),
        (6, 12, 6, 12, 6, 24),
        (None, 2, 2, -1, -2, 1),
        phase=phase,
    )
    for seed in range(40):
        request = plain_request(window=Window(0.0, 4.0, -1.0, 5.0), seed=(seed,))
        slots = plan_rhythm(request, saying(statement), np.random.default_rng(seed))
        assert slots[-1].end / TICKS <= 5.0


def test_another_seed_another_rhythm():
    """One seed gives one rhythm; among ten seeds at least eight rhythms differ."""
    rhythms = [
        tuple((s.tick, s.ticks) for s in planned(plain_request(seed=(seed,)))) for seed in range(10)
    ]
    again = [
        tuple((s.tick, s.ticks) for s in planned(plain_request(seed=(seed,)))) for seed in range(10)
    ]
    assert rhythms == again
    assert len(set(rhythms)) >= 8


@pytest.mark.parametrize("style", sorted(STYLES))
def test_short_windows_have_a_note(style):
    """A turn of a beat and a half, what is left when the player spills over, still has a note."""
    for seed in range(20):
        request = plain_request(style=STYLES[style], seed=(seed,))
        window = replace(request.window, start=2.5, end=4.0, earliest=2.5, latest=5.0)
        slots = planned(replace(request, window=window))
        assert slots
        assert slots[0].beat >= 2.5
        assert slots[-1].end / TICKS <= 5.0


# --- slots -------------------------------------------------------------------------------


def test_slots_in_line_do_not_overlap():
    """Slots given in any order come out in order; one that runs into the next is cut there."""
    slots = in_line([Slot(12, 12, "run", 1), Slot(0, 30, "run", 1), Slot(6, 3, "run", 1)])
    assert [(s.tick, s.ticks) for s in slots] == [(0, 6), (6, 3), (12, 12)]


def test_of_two_slots_on_one_tick_the_firmer_stays():
    """A statement's note takes the place of a run's note on the same tick."""
    run, said = Slot(24, 6, "run", 9), Slot(24, 12, "restate", 0, firm=60)
    assert in_line([run, said]) == in_line([said, run]) == [said]


@pytest.mark.parametrize("divisions", [1, 2, 3, 4, 6, 12])
def test_ticks_hold_every_division_of_the_beat(divisions):
    """Eighths, triplets and sixteenths fall on whole ticks."""
    for number in range(4 * divisions):
        assert abs(to_ticks(number / divisions) - 12 * number / divisions) < 1e-9


def test_stretches_end_at_rests_long_enough():
    """A rest of the gap or more ends a stretch, a shorter one does not."""
    slots = [Slot(0, 6, "run", 1), Slot(6, 6, "run", 1), Slot(17, 6, "run", 1), Slot(29, 6, "", 1)]
    assert stretches(slots, 6) == [(0, 2), (3, 3)]
    assert stretches(slots, 5) == [(0, 1), (2, 2), (3, 3)]
    assert stretches(slots, 7) == [(0, 3)]
    assert stretches([], 6) == []
