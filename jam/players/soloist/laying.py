"""Where in a phrase the statements of an idea are laid, and the answer at the end of a reply.

Ticks are twelfths of a beat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from jam.players.soloist import moves
from jam.players.soloist.chances import pick_by
from jam.players.soloist.phrasing import Frame, Phrase
from jam.players.soloist.slots import TICKS, Slot
from jam.players.soloist.statement import Statement

_HALF = TICKS // 2
_LEAST_BEFORE = 4
"""So many notes of the first saying stay before the question is answered."""


def said_in(
    frame: Frame,
    phrase: Phrase,
    statements: Sequence[Statement],
    group: int,
    rng: np.random.Generator,
) -> list[Slot]:
    """Return the slots of the statements at the start of a phrase, one after another."""
    slots: list[Slot] = []
    tick = phrase.begin
    for number, statement in enumerate(statements):
        if number and (tick + statement.onsets[-1] > phrase.end or tick > phrase.end - TICKS):
            break
        said = _where_said(frame, tick, statement)
        slots += [s for s in said.at(tick, group + number) if s.tick <= phrase.end]
        after = statements[number + 1] if number + 1 < len(statements) else None
        tick = _next_place(frame, tick, statement, after, rng)
    return slots


def with_answer(
    frame: Frame, answer: Statement, placed: list[Slot], last: Slot, phrase: Phrase, group: int
) -> tuple[list[Slot], Slot]:
    """Return what is said with the head of the question before the last note, if it finds room."""
    gap = answer.onsets[-1] - answer.onsets[-2] if len(answer) > 1 else TICKS
    begin = last.tick - answer.onsets[-1] - max(_HALF, min(gap, 2 * TICKS))
    begin -= (begin - answer.phase) % _HALF
    before = [slot for slot in placed if slot.end <= begin]
    if begin < phrase.begin or (placed and len(before) < min(len(placed), _LEAST_BEFORE)):
        return placed, last
    head = _where_said(frame, begin, answer)
    return [*before, *head.at(begin, group)], replace(last, move="answer", why=answer.note)


def _where_said(frame: Frame, tick: int, statement: Statement) -> Statement:
    """Return a statement with the words for where it has come to lie, if not in its place; the
    player's own timing is left where that is elsewhere in the beat."""
    later = (tick - statement.said_at + frame.bar // 2) % frame.bar - frame.bar // 2
    if statement.move == "displace":
        return replace(statement, note=moves.displaced_words(later))
    if not later % TICKS:
        return statement
    note = statement.note + moves.OFF_ITS_BEAT if statement.firm else statement.note
    return replace(statement, note=note, lates=())


def _next_place(
    frame: Frame, tick: int, said: Statement, after: Statement | None, rng: np.random.Generator
) -> int:
    """The next statement follows at once, or after as long as the chords take to change; a
    displaced one after whole beats and what it is displaced by."""
    least = tick + said.onsets[-1] + max(_HALF, min(said.lengths[-1], TICKS))
    soon = -(-least // _HALF) * _HALF
    same = tick + -(-(least - tick) // TICKS) * TICKS
    if after is not None and after.move == "displace":
        moved = (after.phase - said.phase) % TICKS
        return same - TICKS + moved if same - TICKS + moved >= least else same + moved
    changes = [mark.first_tick for mark in frame.landings]
    anchor = max((change for change in changes if change <= tick + TICKS), default=tick)
    by_chord = next((c + tick - anchor for c in changes if c + tick - anchor >= least), same)
    if by_chord - least > frame.bar:
        by_chord = same
    return pick_by((soon, same, by_chord), (0.25, 0.45, 0.3), rng)
