"""The small form of a reply: what is said of the player's idea, in how many goes, in what manner.

A reply opens its phrases with statements of an idea and leaves them again: one saying or two, a
third at most, never twice quite the same. Which idea, and what is done with it, is drawn by the
style's weights, by where in the chorus the reply stands, and by what was said before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from jam.listening.phrase import Cell, GridNote, PhraseDescription
from jam.players.soloist import moves
from jam.players.soloist.chances import pick_by
from jam.players.soloist.manner import PLAIN_MANNER, Manner, manner_of
from jam.players.soloist.request import Request
from jam.players.soloist.saying import COMES_BACK, answered, first_saying, said_after, said_again
from jam.players.soloist.statement import Statement, stated
from jam.players.soloist.stock import stock_phrase
from jam.styles.names import USUAL_MOVES

_LONGEST = 20
_AFTER_SPACE = ", after leaving you space"
_BY_PHRASE = 0.85
"""How often the call is taken up as it began, and not by its most telling cell."""

_LIKELY_CELLS = (0.6, 0.25, 0.15)
_KNOWN_AGAIN = 5
_PHRASES = 3
_REST = 2.0
_LEAST = 3


@dataclass(frozen=True)
class Form:
    """``openings`` are the statements that begin each phrase; ``phase`` the tick within the bar
    where the idea is to begin (None: anywhere); ``idea`` says in words what was taken up.
    ``answer`` ends the last phrase: the head of the question, for the reply's own end."""

    openings: tuple[tuple[Statement, ...], ...]
    manner: Manner
    phase: int | None
    idea: str
    answer: Statement | None = None


PLAIN = Form((), PLAIN_MANNER, None, "a plain line through the guide tones")


def draw_form(
    request: Request, rng: np.random.Generator, phrases: Sequence[Statement] | None = None
) -> Form:
    """Draw the form of one candidate reply.

    ``phrases`` (see `phrases_of`) saves cutting up the call again for each candidate.
    """
    manner = manner_of(request, rng)
    call = request.call
    if call is None or not call.cells:
        return _without_idea(request, manner, rng)
    ideas, words = _ideas(request, call, phrases or phrases_of(request), rng)
    openings: list[tuple[Statement, ...]] = []
    for number, idea in enumerate(ideas[:3]):
        first = first_saying(request, idea, manner, rng)
        if first is not None:
            openings.append((first, *said_after(request, first, rng, more=number == 0)))
    answer = answered(request, ideas[-1], manner, rng)
    if not openings:
        words = words if answer is not None else "nothing of yours: a line of its own"
        return Form((), manner, None, words + manner.words, answer)
    while len(openings) < _PHRASES and rng.random() < COMES_BACK:
        again = said_again(request, openings[0][0], rng)
        openings.append((again,) if again is not None else ())
    if manner.later_beats:
        first, *others = openings[0]
        openings[0] = (replace(first, note=first.note + _AFTER_SPACE), *others)
    phase = openings[0][0].phase
    return Form(tuple(openings), manner, phase, words + manner.words, answer)


def _without_idea(request: Request, manner: Manner, rng: np.random.Generator) -> Form:
    stock = stock_phrase(request, rng)
    if stock is None:
        return Form((), manner, None, "nothing to take up: a line of its own")
    said, name = stock
    again = moves.vary(replace(said, tonal=True, note=f"{said.note}, again"), rng)
    return Form(((said,), (again,)), manner, said.phase, f"the stock phrase '{name}'")


# --- which idea ---------------------------------------------------------------------------


def phrases_of(request: Request) -> list[Statement]:
    """Return the phrases of the call as statements, as far as they are taken up."""
    if request.call is None:
        return []
    return [stated(notes[:_LONGEST], request.bars) for notes in _phrases(request.call)]


def _ideas(
    request: Request,
    call: PhraseDescription,
    phrases: Sequence[Statement],
    rng: np.random.Generator,
) -> tuple[list[Statement], str]:
    """Return what is taken up, phrase by phrase, and say so."""
    whose = "its own last phrase" if request.own else "the call"
    heard, style = request.memory.heard, request.style.idea
    likely = 0.5 * style.quote * style.moves["quote"] / USUAL_MOVES["quote"]
    if heard and not request.own and rng.random() < likely:
        ago = int(rng.integers(1, min(len(heard), 6) + 1))
        earlier = heard[-ago]
        if earlier.cells:
            cell = _cell(earlier.cells, rng)
            said = moves.quote(_of_cell(request, earlier, cell), ago)
            return [said], f"a cell of {len(cell)} notes from {ago} calls ago"
    if rng.random() < _BY_PHRASE:
        return list(phrases), f"the first {len(phrases[0])} notes of {whose}"
    cell = _cell(call.cells, rng)
    place = "the start" if cell.first == 0 else f"note {cell.first + 1}"
    words = f"a cell of {len(cell)} notes from {place} of {whose}"
    return [_of_cell(request, call, cell)], words


def _of_cell(request: Request, call: PhraseDescription, cell: Cell) -> Statement:
    return stated(call.notes[cell.first : cell.first + len(cell)], request.bars)


def _cell(cells: Sequence[Cell], rng: np.random.Generator) -> Cell:
    """Draw one of the most characteristic cells, those long enough to be known again first."""
    longer = [cell for cell in cells if len(cell) >= _KNOWN_AGAIN]
    ordered = [*longer, *(cell for cell in cells if len(cell) < _KNOWN_AGAIN)]
    return pick_by(ordered[: len(_LIKELY_CELLS)], _LIKELY_CELLS[: len(ordered)], rng)


def _phrases(call: PhraseDescription) -> list[Sequence[GridNote]]:
    """Return the call cut at its rests, each part of three notes or more."""
    found: list[list[GridNote]] = [[call.notes[0]]]
    for note in call.notes[1:]:
        if note.beat - found[-1][-1].beat > _REST:
            found.append([])
        found[-1].append(note)
    return [part for part in found if len(part) >= _LEAST] or [call.notes]
