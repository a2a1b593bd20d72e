"""The small form of a reply: what is said of the player's idea, in how many goes, in what manner.

A reply opens its phrases with statements of an idea and leaves them again: one or two sayings, a
third at most, never twice quite the same. Which idea, and what is done with it, is drawn by the
style's weights, by where in the chorus the reply stands, and by what was said before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from jam.listening.phrase import Cell, GridNote, PhraseDescription
from jam.players.soloist import moves
from jam.players.soloist.moves import Statement
from jam.players.soloist.request import Request

_KNOWN_AGAIN = 5
import os
_FIRM = int(os.environ.get('FI','30'))
_PHRASE_SHARE = float(os.environ.get('PS','0.7'))
_LONGEST = int(os.environ.get('LO','16'))
_MIRROR=float(os.environ.get('MI','0.5'))
_RH=float(os.environ.get('RH','1.5'))
_RE=float(os.environ.get('RE','0.5'))
_PLACES = (0.55, 0.25, 0.2)
_AGAIN = (0.3, 0.5, 0.2)
"""How often an idea is said once, twice and three times in a row."""

_BUILT = 0.7
"""Where in a chorus the story stands highest."""


@dataclass(frozen=True)
class Manner:
    """How a reply is played beside its notes.

    ``density`` is a factor on the style's notes a beat, ``register`` a shift in semitones,
    ``later_beats`` how long it waits, ``lift`` (-1 to 1) how much tension it takes on; ``ends`` is
    how it should stop: "closed" (at rest), "open" or None.
    """

    density: float = 1.0
    register: float = 0.0
    later_beats: float = 0.0
    lift: float = 0.0
    ends: str | None = None


@dataclass(frozen=True)
class Form:
    """``openings`` are the statements that begin each phrase; ``phase`` the tick within the bar
    where the idea began (None: anywhere); ``idea`` says in words what was taken up."""

    openings: tuple[tuple[Statement, ...], ...]
    manner: Manner
    phase: int | None
    idea: str


PLAIN = Form((), Manner(), None, "a plain line through the guide tones")


def draw_form(request: Request, rng: np.random.Generator) -> Form:
    """Draw the form of one candidate reply."""
    manner = _manner(request, rng)
    call = request.call
    if call is None or not call.cells:
        return Form((), manner, None, "nothing to take up: a line of its own")
    phrases = _phrases(call)
    if rng.random() < _PHRASE_SHARE and len(phrases[0]) >= 4:
        return _by_phrases(request, phrases, manner, rng)
    cell = _cell(call.cells, rng)
    first = replace(moves.stated(cell, firm=_FIRM, lates=tuple(n.late_beats for n in call.notes[cell.first:cell.first+len(cell)])), start=call.notes[cell.first].pitch)
    first = replace(first, start=_start(request, first.start))
    first = _first_saying(request, first, rng)
    count = int(rng.choice(3, p=_AGAIN))
    said = [first, *(_again(request, first, rng) for _ in range(count))]
    openings = [tuple(said)]
    if rng.random() < 0.8:
        openings.append((_again(request, first, rng),))
    return Form(tuple(openings), manner, first.phase % 12, f"a cell of {len(cell)} notes")


def _by_phrases(
    request: Request, phrases: list[list[GridNote]], manner: Manner, rng: np.random.Generator
) -> Form:
    openings = []
    for number, notes in enumerate(phrases[:2]):
        said = moves.from_phrase(notes[:_LONGEST], request.bars, _FIRM)
        said = replace(said, start=_start(request, notes[0].pitch))
        said = _first_saying(request, said, rng)
        keep = int(rng.integers(5, 9))
        said = replace(said, intervals=tuple(i if n < keep else None for n, i in enumerate(said.intervals)))
        rest = [said]
        if len(said.onsets) <= 8:
            rest.append(_again(request, said, rng))
        openings.append(tuple(rest))
    phase = openings[0][0].phase % 12
    return Form(tuple(openings), manner, phase, f"the first {len(phrases[0])} notes of the call")


def _phrases(call: PhraseDescription) -> list[list[GridNote]]:
    """Return the call cut at its rests of a beat and a half and more."""
    found = [[call.notes[0]]]
    for note in call.notes[1:]:
        if note.beat - found[-1][-1].beat > 2.0:
            found.append([])
        found[-1].append(note)
    return [p for p in found if len(p) >= 3] or [list(call.notes)]


def _start(request: Request, pitch: int | None) -> int | None:
    if pitch is None:
        return None
    low, high = request.style.instrument.low, request.style.instrument.high
    while pitch > high - 4:
        pitch -= 12
    while pitch < low + 4:
        pitch += 12
    return pitch


def _first_saying(request: Request, first: Statement, rng: np.random.Generator) -> Statement:
    weights = request.style.idea.moves
    literal = request.style.idea.literal
    long = len(first.onsets) > 7
    shares = {
        "restate": (0.2 + literal) * weights["restate"] * (_RE if long else 2.0),
        "same_rhythm": weights["same_rhythm"] * (_RH if long else 0.35),
        "fragment": weights["fragment"] * (0.8 if long else 0.1),
        "invert": weights["invert"] * 0.3 * (1.2 - literal),
    }
    names = list(shares)
    p = np.array([shares[name] for name in names]) + 1e-9
    name = names[int(rng.choice(len(names), p=p / p.sum()))]
    if name == "same_rhythm":
        return moves.same_rhythm(first)
    if name == "fragment":
        return moves.head(first, int(rng.integers(4, 7)))
    if name == "invert":
        return moves.invert(first)
    return first


def _again(request: Request, first: Statement, rng: np.random.Generator) -> Statement:
    """Return another saying of the idea: moved, and a little changed."""
    offset = int(rng.choice([-5, -4, -2, -1, 1, 2, 3, 5], p=[.08, .12, .22, .12, .12, .16, .1, .08]))
    said = moves.sequence(first, offset, real=rng.random() < 0.2)
    return moves.vary(said, rng) if rng.random() < 0.7 else said


def _cell(cells: Sequence[Cell], rng: np.random.Generator) -> Cell:
    longer = [cell for cell in cells if len(cell) >= _KNOWN_AGAIN]
    ordered = [*longer, *(cell for cell in cells if len(cell) < _KNOWN_AGAIN)][:3]
    shares = np.array(_PLACES[: len(ordered)])
    return ordered[int(rng.choice(len(ordered), p=shares / shares.sum()))]


def _manner(request: Request, rng: np.random.Generator) -> Manner:
    style, story = request.style, request.story
    height = 1.0 - abs(story.place - _BUILT) / _BUILT if story.place < _BUILT else 1.0 - (story.place - _BUILT) / (1.0 - _BUILT)
    growth = style.growth * (height - 0.5)
    mirror = (request.call.density / style.rhythm.density) ** _MIRROR if request.call else 1.0
    return Manner(mirror * 2.0 ** (0.5 * growth), 5.0 * growth, 0.0, growth)
