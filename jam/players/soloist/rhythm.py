"""The rhythm of a reply: when its phrases begin and end, what is said in them, what fills them.

The plan satisfies, before any pitch is chosen, what the hard rules ask of time: the window of the
turn (H4), a note near enough structural changes (H1), and the breath (H5). Ticks are twelfths of a
beat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import ceil

import numpy as np

from jam.players.soloist.beats import BeatChain
from jam.players.soloist.breath import with_landings, within_breath
from jam.players.soloist.chances import pick
from jam.players.soloist.form import Form
from jam.players.soloist.laying import said_in, with_answer
from jam.players.soloist.phrasing import MIN_NOTE, Frame, Phrase, closing, phrases_in
from jam.players.soloist.request import Request
from jam.players.soloist.slots import CLOSES, RUNS, TICKS, Slot, in_line

_HALF = TICKS // 2
_QUICKEST, _RUNNING = 1 / 20, 4 / 15
"""Seconds that two notes, and five in a row, lie apart at least: hands and tongues run at fifteen
notes a second at most (sixteenths at 225 bpm; common practice)."""


def plan_rhythm(
    request: Request, form: Form, rng: np.random.Generator, frame: Frame | None = None
) -> list[Slot]:
    """Return the slots of one candidate reply, in order; at least one.

    ``frame`` saves working it out again for each candidate.
    """
    frame = frame or Frame.of(request)
    chain = BeatChain(request, form.manner.density, rng)
    slots: list[Slot] = []
    group = 0
    phrases = phrases_in(request, frame, form, rng)
    for number, phrase in enumerate(phrases):
        said = form.openings[number] if number < len(form.openings) else ()
        placed = said_in(frame, phrase, said, group, rng)
        group += len(said)
        final = number == len(phrases) - 1
        ends = form.manner.ends if final else None
        last = closing(request, frame, phrase, ends, rng, final=final)
        if final and form.answer is not None:
            placed, last = with_answer(frame, form.answer, placed, last, phrase, group)
        placed = [s for s in placed if s.tick < last.tick - MIN_NOTE]
        fill = _filled(frame, chain, phrase, placed, last.tick, RUNS * (1 + number))
        slots += [*placed, *fill, replace(last, group=CLOSES + number)]
    line = _lengthened(_playable(in_line(slots), request.bpm), rng)
    line = with_landings(line, frame.landings, rng)
    return within_breath(line, request, marks=frame.landings)


def _filled(
    frame: Frame,
    chain: BeatChain,
    phrase: Phrase,
    said: Sequence[Slot],
    last: int,
    group: int,
) -> list[Slot]:
    """Return the slots of a phrase that no statement takes, beat after beat."""
    taken = _taken(said)
    slots: list[Slot] = []
    beat = phrase.begin - phrase.begin % frame.beat
    run = 0
    chain.begin()
    while beat < last:
        inside = [slot.tick - beat for slot in said if beat <= slot.tick < beat + frame.beat]
        gap_from = max((end for tick, end in taken if tick < beat + frame.beat), default=0)
        gap_to = min((tick for tick, _ in taken if tick >= beat + frame.beat), default=last)
        if inside:
            chain.heard(inside)
            places = [p for p in chain.draw() if beat + p >= gap_from] if gap_to > gap_from else []
            run += 1
        else:
            places = list(chain.draw())
            chain.heard(places)
        for place in places:
            tick = beat + place
            free = phrase.begin <= tick <= last - MIN_NOTE - 1
            if free and tick >= gap_from and not any(a - 3 < tick < b for a, b in taken):
                slots.append(Slot(tick, TICKS, "run", group + run, len(slots)))
        beat += frame.beat
    if not said and phrase.begin < last and not any(s.tick == phrase.begin for s in slots):
        slots.insert(0, Slot(phrase.begin, _HALF, "run", group, 0))
    return slots


def _taken(said: Sequence[Slot]) -> list[tuple[int, int]]:
    """Return from and to of each statement: nothing else is put between its notes."""
    found: dict[int, tuple[int, int]] = {}
    for slot in said:
        begin, _ = found.get(slot.group, (slot.tick, 0))
        found[slot.group] = (begin, max(slot.end, slot.tick + MIN_NOTE))
    return list(found.values())


def _playable(slots: Sequence[Slot], bpm: float) -> list[Slot]:
    """Return the slots without those that come sooner after the others than hands can play."""
    least, least_of_all = (ceil(sec * bpm / 60.0 * TICKS - 1e-6) for sec in (_QUICKEST, _RUNNING))
    found: list[Slot] = []
    for slot in slots:
        soon = bool(found) and slot.tick - found[-1].tick < least
        soon = soon or (len(found) > 3 and slot.tick - found[-4].tick < least_of_all)
        if soon and slot.firm <= found[-1].firm:
            continue
        if soon:
            found.pop()
        found.append(slot)
    return found


def _lengthened(slots: Sequence[Slot], rng: np.random.Generator) -> list[Slot]:
    """Return the slots with the lengths that people give notes: joined, or let go before a rest."""
    found = []
    for slot, following in zip(slots, [*slots[1:], None], strict=True):
        if following is None or slot.move != "run":
            found.append(slot)
            continue
        gap = following.tick - slot.tick
        if gap <= TICKS:
            ticks = gap
        elif gap <= 2 * TICKS:
            ticks = gap if rng.random() < 0.5 else TICKS
        else:
            ticks = pick((_HALF, TICKS, TICKS + _HALF, 2 * TICKS), rng)
        found.append(slot.lasting(ticks))
    return found
