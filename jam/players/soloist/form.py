"""The small form of a reply: what is said of the player's idea, in how many goes, in what manner.

A reply opens its phrases with statements of an idea and leaves them again: one or two sayings, a
third at most, never twice quite the same. Which idea, and what is done with it, is drawn by the
style's weights, by where in the chorus the reply stands, and by what was said before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from jam.listening.phrase import Cell, PhraseDescription
from jam.players.soloist import moves
from jam.players.soloist.moves import Statement
from jam.players.soloist.request import Request

_KNOWN_AGAIN = 5
_FIRM = 30
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
    cell = _cell(call.cells, rng)
    first = replace(moves.restated(cell), firm=_FIRM)
    count = 1 + int(rng.choice(3, p=_AGAIN))
    said = [first] + [moves.moved(first, "sequence") for _ in range(count - 1)]
    return Form((tuple(said),), manner, first.phase % 12, f"a cell of {len(cell)} notes")


def _cell(cells: Sequence[Cell], rng: np.random.Generator) -> Cell:
    longer = [cell for cell in cells if len(cell) >= _KNOWN_AGAIN]
    ordered = [*longer, *(cell for cell in cells if len(cell) < _KNOWN_AGAIN)][:3]
    shares = np.array(_PLACES[: len(ordered)])
    return ordered[int(rng.choice(len(ordered), p=shares / shares.sum()))]


def _manner(request: Request, rng: np.random.Generator) -> Manner:
    style, story = request.style, request.story
    height = 1.0 - abs(story.place - _BUILT) / _BUILT if story.place < _BUILT else 1.0 - (story.place - _BUILT) / (1.0 - _BUILT)
    growth = style.growth * (height - 0.5)
    return Manner(2.0 ** (0.5 * growth), 5.0 * growth, 0.0, growth)
