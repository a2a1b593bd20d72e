"""Another chord arrives than the one planned for: what has sounded stays, the rest is new."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from soloist_asking import STYLES, in_bars, plain_request, random_call
from soloist_rules import EPS
from soloist_tails import arrivals, cut, tail_breaches

from jam.players.soloist.request import Prefix
from jam.players.soloist.soloist import answer, answer_anew
from jam.transport.metre import Bars


@pytest.mark.slow
@settings(
    max_examples=500,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
@given(arrivals())
def test_a_new_tail_keeps_the_rules(arrival):
    """In 500 random cases the tail begins no earlier than it may, takes the step that an approach
    note before it waits for, and keeps H1 to H5 against the chords that arrived; it is silent only
    where nothing was planned any more."""
    case = cut(arrival)
    reply = answer_anew(case.request, case.reply, case.prefix)
    assert tail_breaches(case, reply.notes) == []


def test_the_same_question_gets_the_same_tail():
    """A tail is as deterministic as a reply."""
    request = plain_request(call=random_call(np.random.default_rng(1), -0.5, Bars()))
    reply = answer(request)
    asked = replace(request, changes=in_bars("Dm7|Db7|C6|C6|F7|Bb7", start=0.0))
    prefix = Prefix(4.0, tuple(n.pitch for n in reply.notes if n.beat < 4.0))
    assert answer_anew(asked, reply, prefix) == answer_anew(asked, reply, prefix)


@pytest.mark.slow
def test_the_planned_rhythm_is_kept_where_it_serves():
    """Nearly every onset of a new tail is one that was planned, and nearly every planned onset is
    still there: only the pitches follow the new chords."""
    shared: Counter[str] = Counter()
    for seed in range(40):
        style = STYLES[sorted(STYLES)[seed % len(STYLES)]]
        call = random_call(np.random.default_rng(seed), -0.5, Bars())
        request = plain_request(style=style, call=call, seed=(seed,), effort=1)
        reply = answer(request)
        asked = replace(request, changes=in_bars("Dm7|Ab7|Dbmaj7|E7|Am7|D7", start=0.0))
        sounded = [n for n in reply.notes if n.beat < 4.0]
        prefix = Prefix(4.0, tuple(n.pitch for n in sounded))
        new = {n.beat for n in answer_anew(asked, reply, prefix).notes}
        planned = {n.beat for n in reply.notes if n.beat > 4.0 - EPS}
        shared["both"] += len(new & planned)
        shared["new"] += len(new)
        shared["planned"] += len(planned)
    assert shared["both"] > 0.9 * shared["new"]
    assert shared["both"] > 0.9 * shared["planned"]


def test_a_tail_before_anything_has_sounded():
    """A reply that has not begun is planned anew as a whole, on its own rhythm."""
    request = plain_request(seed=(4,))
    reply = answer(request)
    asked = replace(request, changes=in_bars("Bbm7|Eb7|Abmaj7|F7|Bbm7|Eb7", start=-4.0))
    anew = answer_anew(asked, reply, Prefix(request.window.earliest, ()))
    assert {n.beat for n in anew.notes} >= {n.beat for n in reply.notes}
    assert [n.pitch for n in anew.notes] != [n.pitch for n in reply.notes]


def test_a_tail_after_the_last_note_is_empty():
    """Past the window's end there is nothing to play."""
    request = plain_request(seed=(4,))
    reply = answer(request)
    assert answer_anew(request, reply, Prefix(17.5, (60,))).notes == ()
