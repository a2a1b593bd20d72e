"""In what manner a reply is played, beside its notes: how full, how high, how soon, how it ends."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from jam.players.soloist.request import Request

Ending = Literal["closed", "open"]

_BUILT = 0.7
"""Where in a chorus the story stands highest."""

_MIRRORED = 0.8
"""How far a reply takes up how full the call was."""


@dataclass(frozen=True)
class Manner:
    """``density`` is a factor on the style's notes a beat, ``register`` a shift in semitones,
    ``later_beats`` how long it waits, ``lift`` (-1 to 1) how much tension it takes on; ``ends`` is
    how it should stop: at rest, open, or (None) as it comes."""

    density: float = 1.0
    register: float = 0.0
    later_beats: float = 0.0
    lift: float = 0.0
    ends: Ending | None = None


PLAIN_MANNER = Manner()


def manner_of(request: Request, rng: np.random.Generator) -> Manner:
    """Draw the manner: by the call (taken up, or turned round), by the place in the chorus."""
    style, call = request.style, request.call
    growth = style.growth * (2.0 * _height(request.story.place) - 1.0)
    if request.story.closes:
        growth -= 0.3 * style.growth
    full = 2.0 ** (0.4 * growth)
    contrary = call is not None and rng.random() < style.idea.contrast * 0.5
    if call is not None and call.density > 0.0:
        heard = call.density / style.rhythm.density
        full *= heard ** (-0.5 if contrary else _MIRRORED)
    waits = rng.random() < 0.4 * style.idea.moves["leave_space"]
    return Manner(
        float(np.clip(full, 0.4, 2.2)),
        4.0 * growth + (float(rng.choice((-7.0, 7.0))) if contrary else 0.0),
        float(rng.uniform(0.5, 2.0)) if waits and not request.prompt else 0.0,
        growth,
        _ending(request, rng),
    )


def _height(place: float) -> float:
    """Return how high the story stands at a place of the chorus, 0 to 1."""
    return place / _BUILT if place < _BUILT else (1.0 - place) / (1.0 - _BUILT)


def _ending(request: Request, rng: np.random.Generator) -> Ending | None:
    """An open call is closed, a closed one opened; the last word of a chorus comes to rest."""
    if request.story.closes:
        return "closed"
    if request.call is None or request.own or rng.random() > request.style.idea.moves["answer"]:
        return None
    return "closed" if request.call.open_ending else "open"
