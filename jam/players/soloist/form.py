"""The small form of a reply: what is said of the player's idea, in how many goes, in what manner.

A reply opens its phrases with statements of an idea and leaves them again: one saying or two, a
third at most, never twice quite the same. Which idea, and what is done with it, is drawn by the
style's weights, by where in the chorus the reply stands, and by what was said before.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from jam.listening.phrase import Cell, GridNote, PhraseDescription
from jam.players.soloist import moves
from jam.players.soloist.chances import pick, pick_by
from jam.players.soloist.manner import PLAIN_MANNER, Manner, at_tempo, manner_of
from jam.players.soloist.request import Request
from jam.players.soloist.statement import Statement, stated
from jam.players.soloist.stock import stock_phrase

_LONGEST = 20
_LONG = 7
_BY_PHRASE = 0.85
"""How often the call is taken up as it began, and not by its most telling cell."""

_AGAIN = (0.35, 0.45, 0.2)
"""How often an idea is said once, twice and three times in a row."""

_VARIED = 0.5
"""How often it is changed a little when it is said again."""

_COMES_BACK = 0.75
"""How often the second phrase of a reply begins with the idea again."""

_LIKELY_CELLS = (0.6, 0.25, 0.15)
_KNOWN_AGAIN = 5
_STEPS = (-5, -4, -2, -1, 1, 2, 3, 5)
_LIKELY_STEPS = (0.09, 0.12, 0.22, 0.12, 0.12, 0.16, 0.1, 0.07)
"""Where a sequence goes, in semitones: steps and thirds, and by the cycle."""

_BARER = 0.75
"""With fewer notes wanted than this share of the idea's, some of them are left out."""

_PHRASES = 3
_FEWEST = 5
_ROLLS = 0.25
"""A style with a larger share of triplets than this puts ideas into triplets."""

_REST = 2.0
_LEAST = 3
_MARGIN = 4


@dataclass(frozen=True)
class Form:
    """``openings`` are the statements that begin each phrase; ``phase`` the tick within the bar
    where the idea began (None: anywhere); ``idea`` says in words what was taken up."""

    openings: tuple[tuple[Statement, ...], ...]
    manner: Manner
    phase: int | None
    idea: str


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
    openings = []
    for number, idea in enumerate(ideas[:3]):
        first = _first_saying(request, _within_range(request, idea), manner, rng)
        openings.append((first, *_sayings(request, first, rng, more=number == 0)))
    while len(openings) < _PHRASES and rng.random() < _COMES_BACK:
        openings.append((_again(request, openings[0][0], rng),))
    phase = openings[0][0].phase
    return Form(tuple(openings), manner, phase, words + manner.words)


def _without_idea(request: Request, manner: Manner, rng: np.random.Generator) -> Form:
    stock = stock_phrase(request, rng)
    if stock is None:
        return Form((), manner, None, "nothing to take up: a line of its own")
    said, name = stock
    again = moves.vary(moves.sequence(said, 0), rng)
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
    heard = request.memory.heard
    if heard and not request.own and rng.random() < 0.5 * request.style.idea.quote:
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


def _within_range(request: Request, said: Statement) -> Statement:
    if said.start is None:
        return said
    low, high = request.style.instrument.low, request.style.instrument.high
    pitch = said.start
    while pitch > high - _MARGIN:
        pitch -= 12
    while pitch < low + _MARGIN:
        pitch += 12
    return replace(said, start=pitch)


# --- what is done with it -------------------------------------------------------------------


def _first_saying(
    request: Request, idea: Statement, manner: Manner, rng: np.random.Generator
) -> Statement:
    """Draw how the idea is first said: so that it is known again, nearly always."""
    if idea.move == "quote":
        return idea
    weights, literal = request.style.idea.moves, request.style.idea.literal
    long = len(idea) > _LONG
    if rng.random() < 0.5 * request.style.idea.contrast * weights["contrast"]:
        return moves.contrast(idea, pick((-12, -7, 7, 12), rng))
    far = 0.2 * (1.2 - literal)
    keep = int(rng.integers(4, 8))
    rolls = 3.0 * max(0.0, request.style.rhythm.triplets - _ROLLS)
    short = idea.part(0, min(len(idea), _LONG))
    ways: list[tuple[str, float, Callable[[], Statement | None]]] = [
        ("restate", 1.0 + literal, lambda: moves.restate(idea, keep if long else None)),
        ("same_rhythm", 1.0 if long else 0.35, lambda: moves.same_rhythm(idea)),
        ("fragment", 0.5 if long else 0.1, lambda: moves.fragment(idea, keep)),
        ("answer", 0.3 if manner.ends else 0.0, lambda: _answered(idea, manner)),
        ("extend", 0.0 if long else 0.4, lambda: moves.extend(idea, int(rng.integers(1, 4)))),
        ("displace", far, lambda: moves.displace(short, pick((-12, -6, 6, 12), rng))),
        ("interpolate", far, lambda: moves.interpolate(short)),
        ("invert", far, lambda: moves.invert(short)),
        ("retrograde", far, lambda: moves.retrograde(short)),
        ("augment", far, lambda: moves.augment(idea.part(0, min(len(idea), 5)))),
        ("diminish", far, lambda: moves.diminish(short)),
        ("same_pitches", far + rolls, lambda: _in_another_rhythm(short, rolls, rng)),
    ]
    fuller = _fuller(request, manner)
    shares = [share * weights[name] * fuller.get(name, 1.0) for name, share, _ in ways]
    if not any(shares):
        return moves.restate(idea, keep if long else None)
    _, _, say = pick_by(ways, shares, rng)
    said = say() or moves.restate(idea, keep if long else None)
    wanted = round(len(said) * _more(request, manner))
    return moves.thin(said, max(_FEWEST, wanted)) if wanted < _BARER * len(said) else said


def _more(request: Request, manner: Manner) -> float:
    """Return how many notes are wanted for each of the call's, 1/4 to 4."""
    call = request.call
    if call is None or not call.density:
        return 1.0
    wanted = request.style.rhythm.density * manner.density * at_tempo(request.bpm)
    return min(4.0, max(0.25, wanted / call.density))


def _fuller(request: Request, manner: Manner) -> dict[str, float]:
    """Return how much likelier some moves are, where a reply is to be fuller or barer than the
    call."""
    more = _more(request, manner) ** 2
    barer = dict.fromkeys(("augment", "fragment", "answer"), 1.0 / more)
    return {**barer, **dict.fromkeys(("diminish", "interpolate", "extend"), more)}


def _answered(idea: Statement, manner: Manner) -> Statement:
    return moves.answer(idea.part(0, min(len(idea), 10)), closed=manner.ends == "closed")


def _in_another_rhythm(idea: Statement, rolls: float, rng: np.random.Generator) -> Statement:
    if rng.random() < rolls:
        return replace(moves.same_pitches(idea, (4, 4, 4)), phase=0)
    gaps = ((6, 6), (12, 6, 6), (4, 4, 4), (6, 12, 6), (9, 3))[int(rng.integers(5))]
    return moves.same_pitches(idea, gaps)


def _sayings(
    request: Request, first: Statement, rng: np.random.Generator, *, more: bool
) -> list[Statement]:
    """Return what is said of the idea right after it: of a long one only its head."""
    if len(first) > _LONG + 1:
        head = moves.fragment(first, int(rng.integers(4, 7)))
        return [_again(request, head, rng)] if rng.random() < _COMES_BACK else []
    riff = more and rng.random() < request.style.rhythm.riffs
    count = 2 if riff else pick_by((0, 1, 2), _AGAIN, rng)
    if riff:
        return [replace(first, note="the same riff", tonal=True) for _ in range(count)]
    return [_again(request, first, rng) for _ in range(count if more else min(count, 1))]


def _again(request: Request, first: Statement, rng: np.random.Generator) -> Statement:
    """Return the idea said again: moved, as a rule changed a little, sometimes a part of it."""
    weights = request.style.idea.moves
    named = ("sequence", "real_sequence", "fragment", "displace")
    shares = [weights[n] * s + 1e-6 for n, s in zip(named, (1.0, 0.6, 0.3, 0.2), strict=True)]
    name = pick_by(named, shares, rng)
    step = pick_by(_STEPS, _LIKELY_STEPS, rng)
    said = moves.sequence(first.part(0, min(len(first), 10)), step, real=name == "real_sequence")
    if name == "fragment":
        said = replace(moves.fragment(said, 4, tail=rng.random() < 0.5), tonal=True)
    elif name == "displace":
        said = moves.displace(said, pick((-6, 6), rng))
    return moves.vary(said, rng) if rng.random() < _VARIED else said
