"""In what manner a reply is played, beside its notes: how full, how high, how soon, how it ends."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from jam.players.soloist.request import Request

Ending = Literal["closed", "open"]

_ANSWERED = 0.6
"""How often an ending answers that of the call, where a style gives `answer` all its weight."""

_APART = 9.0
"""How far off the middle, in semitones, the opposite of a call lies."""

_BUILT = 0.7
"""Where in a chorus the story stands highest."""

_AT_TEMPO = ((60, 90, 120, 160, 200, 240), (1.7, 1.45, 1.2, 1.0, 0.9, 0.85))
"""People play more notes a beat the slower it goes: a factor by tempo, 1 at 160 bpm, after the
notes a beat by tempo in solos of the Weimar Jazz Database (Pfleiderer et al. 2017; ODbL 1.0)."""


@dataclass(frozen=True)
class Manner:
    """``density`` is a factor on the style's notes a beat, ``register`` a shift in semitones,
    ``later_beats`` how long it waits, ``lift`` (-1 to 1) how much tension it takes on; ``ends`` is
    how it should stop: at rest, open, or (None) as it comes; ``contrary`` says that it does the
    opposite of the call."""

    density: float = 1.0
    register: float = 0.0
    later_beats: float = 0.0
    lift: float = 0.0
    ends: Ending | None = None
    contrary: bool = False

    @property
    def words(self) -> str:
        """Return what is to be said of it beside the idea, empty for nothing."""
        said = [
            "after a breath" if self.later_beats else "",
            "the opposite of yours" if self.contrary else "",
            {"closed": "brought to rest", "open": "left open"}.get(self.ends or "", ""),
        ]
        return "".join(f", {words}" for words in said if words)


PLAIN_MANNER = Manner()


def manner_of(request: Request, rng: np.random.Generator) -> Manner:
    """Draw the manner: by the call (taken up, or turned round), by the place in the chorus."""
    style, call = request.style, request.call
    growth = style.growth * (2.0 * _height(request.story.place) - 1.0)
    if request.story.closes:
        growth = max(-1.0, growth - 0.3 * style.growth)
    contrary = call is not None and rng.random() < style.idea.contrast * 0.5
    full = 2.0 ** (0.4 * growth)
    if call is not None and call.density > 0.0:
        heard = call.density / (style.rhythm.density * at_tempo(request.bpm))
        full *= heard ** (-0.5 if contrary else style.rhythm.mirror)
    waits = rng.random() < 0.4 * style.idea.moves["leave_space"]
    return Manner(
        min(2.2, max(0.4, full)),
        min(12.0, max(-12.0, 4.0 * growth + (_away_from(request) if contrary else 0.0))),
        float(rng.uniform(0.5, 2.0)) if waits and not request.prompt else 0.0,
        growth,
        _ending(request, rng),
        contrary,
    )


def _away_from(request: Request) -> float:
    """Return how far to go, in semitones, to be in another register than the call."""
    call, instrument = request.call, request.style.instrument
    if call is None:
        return 0.0
    high = call.low + call.high > instrument.low + instrument.high
    return -_APART if high else _APART


@lru_cache(maxsize=256)
def at_tempo(bpm: float) -> float:
    """Return how many times more notes a beat there are at ``bpm`` than at 160 bpm."""
    return float(np.interp(bpm, *_AT_TEMPO))


def _height(place: float) -> float:
    """Return how high the story stands at a place of the chorus, 0 to 1."""
    return place / _BUILT if place < _BUILT else (1.0 - place) / (1.0 - _BUILT)


def _ending(request: Request, rng: np.random.Generator) -> Ending | None:
    """An open call is closed, a closed one opened; the last word of a chorus comes to rest."""
    if request.story.closes:
        return "closed"
    likely = _ANSWERED * request.style.idea.moves["answer"]
    if request.call is None or request.own or rng.random() >= likely:
        return None
    return "closed" if request.call.open_ending else "open"
