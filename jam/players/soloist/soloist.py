"""The soloist: one question in, one reply out.

Rhythm first, then pitches: lines that keep every hard rule are drawn, more of them while the effort
granted lasts, and the one that answers best is kept. Effort is counted in expansions (slots times
pitches), never in time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import ceil

import numpy as np

from jam.players.soloist.breath import within_breath
from jam.players.soloist.choosing import (
    ACCEPTABLE,
    GOOD_ENOUGH,
    Tried,
    Worth,
    pattern,
    quotes,
)
from jam.players.soloist.costs import Pricing, curve_of
from jam.players.soloist.figuring import with_figures
from jam.players.soloist.form import PLAIN, Form, draw_form, phrases_of
from jam.players.soloist.landings import Landing, landings
from jam.players.soloist.lattice import Futures
from jam.players.soloist.notes import notes_of, spans_of
from jam.players.soloist.phrasing import Frame
from jam.players.soloist.places import places
from jam.players.soloist.plain import plain_line
from jam.players.soloist.register import centres_of
from jam.players.soloist.request import Prefix, Reply, Request
from jam.players.soloist.rhythm import plan_rhythm
from jam.players.soloist.setting import set_idea
from jam.players.soloist.slots import TICKS, Slot, to_ticks
from jam.players.soloist.statement import Statement
from jam.players.soloist.tails import before_of, landed, loosened, start_of

RHYTHMS, LINES, MOST_ROUNDS = 4, 2, 2
"""So many rhythms are planned; in the first round so many lines are drawn through the best of them,
and if none is good enough, in the next one through the second best."""

TAILS = 2
"""A second tail is drawn in case the first is somebody's own phrase."""

_TAIL = 77


def answer(request: Request) -> Reply:
    """Return the best reply found within the effort granted; one is always found.

    The notes keep the hard rules H1 to H5 against ``request.changes``. Without any effort it is the
    plain line that can always be had at once.
    """
    pricing = Pricing(request)
    if request.effort <= 0:
        return _reply(request, Tried(PLAIN, *plain_line(request, pricing)), 0)
    worth, frame, phrases = Worth(request), Frame.of(request), phrases_of(request)
    tries: list[Tried] = []
    best: Tried | None = None
    spent = 0
    rng = np.random.default_rng(request.seed)
    for number, (form, bare) in enumerate(_rhythms(request, worth, frame, phrases, rng)):
        placed = set_idea(request, bare, pricing.tables, form.manner.register, rng)
        slots = with_figures(placed, request, rng)
        cost = len(slots) * len(pricing.pitches)
        spent += cost
        lines = LINES if spent <= request.effort else 1
        found = _lines(request, pricing, form, slots, frame.landings, lines, rng)
        tries += [worth.judged(tried) for tried in found]
        best = worth.best(tries)
        last = number + 1 >= MOST_ROUNDS or spent + cost > request.effort
        if best is not None and best.cost <= (ACCEPTABLE if last else GOOD_ENOUGH):
            break
    if best is None:
        best = Tried(PLAIN, *plain_line(request, pricing))
    return _reply(request, best, spent)


def _rhythms(
    request: Request,
    worth: Worth,
    frame: Frame,
    phrases: Sequence[Statement],
    rng: np.random.Generator,
) -> list[tuple[Form, list[Slot]]]:
    """Return a few forms with their slots, the most promising first."""
    plans: list[tuple[int, int, Form, list[Slot]]] = []
    for number in range(RHYTHMS):
        form = draw_form(request, rng, phrases)
        slots = plan_rhythm(request, form, rng, frame)
        plans.append((worth.of_rhythm(form, slots), number, form, slots))
    return [(form, slots) for _, _, form, slots in sorted(plans, key=lambda plan: plan[:2])]


def answer_anew(request: Request, reply: Reply, prefix: Prefix) -> Reply:
    """Return ``reply`` with a new tail from ``prefix.from_beat`` on, over ``request.changes``.

    The rhythm that was planned is kept where it still serves; a note is added where the change
    that arrived would else be passed by.
    """
    begin = ceil(prefix.from_beat * TICKS - 1e-6)
    kept = [s for s in reply.slots if isinstance(s, Slot) and s.tick >= begin]
    rng = np.random.default_rng((*request.seed, _TAIL))
    marks = landings(request)
    slots = landed(kept, request, begin, prefix, marks)
    if prefix.breath_beat is not None:
        slots = within_breath(slots, request, to_ticks(prefix.breath_beat), marks)
    if not slots:
        return replace(reply, notes=(), slots=(), spans=())
    pricing = Pricing(request)
    eased = replace(prefix, pending=prefix.pending[-1:])
    bare = replace(prefix, pending=())
    for cut, before in (
        (False, prefix),
        (True, prefix),
        (False, eased),
        (True, eased),
        (True, bare),
    ):
        attempt = loosened(slots) if cut else slots
        found = _tail(request, pricing, attempt, before, marks, rng)
        if found is not None:
            return replace(
                _reply(request, found, len(attempt) * len(pricing.pitches)), idea=reply.idea
            )
    return replace(reply, notes=(), slots=(), spans=())


def _lines(
    request: Request,
    pricing: Pricing,
    form: Form,
    slots: list[Slot],
    marks: Sequence[Landing],
    count: int,
    rng: np.random.Generator,
) -> list[Tried]:
    """Return ``count`` lines through ``slots``, none where the hard rules leave no way."""
    where = places(request, slots, marks=marks)
    centres = centres_of(request, form.manner, slots, rng)
    curves = curve_of(request.style, slots, form.manner.lift)
    priced = pricing.price(slots, where, centres, curves, ends=form.manner.ends)
    futures = Futures(priced.steps, priced.costs)
    if not futures.feasible:
        return []
    return [Tried(form, slots, where, futures.draw(rng)) for _ in range(count)]


def _tail(
    request: Request,
    pricing: Pricing,
    slots: Sequence[Slot],
    prefix: Prefix,
    marks: Sequence[Landing],
    rng: np.random.Generator,
) -> Tried | None:
    where = places(request, slots, prefix.held, marks)
    centres = centres_of(request, PLAIN.manner, slots, rng)
    curves = curve_of(request.style, slots)
    start = start_of(prefix, pricing.low, pricing.high)
    before = before_of(prefix) if start is not None else None
    settled = ceil(prefix.from_beat * TICKS) + TICKS // 2
    priced = pricing.price(slots, where, centres, curves, before, settled=settled)
    futures = Futures(priced.steps, priced.costs, start)
    if not futures.feasible:
        return None
    for _ in range(TAILS):
        tried = Tried(PLAIN, list(slots), where, futures.draw(rng))
        if not quotes(request, tried):
            break
    return tried


def _reply(request: Request, best: Tried, spent: int) -> Reply:
    notes = notes_of(request, best.slots, best.where, best.points)
    spans = spans_of(best.slots, best.where)
    return Reply(notes, tuple(best.slots), spent, best.form.idea, spans)


__all__ = ["answer", "answer_anew", "pattern"]
