"""What every accompanying player is asked, and what it answers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from jam.charts.model import Feel
from jam.events import PartNote
from jam.harmony.changes import Changes
from jam.transport.metre import Bars, Metre


@dataclass(frozen=True)
class Span:
    """The stretch to be played: ``start <= beat < end``, with all that a player may know.

    ``changes`` reach at least a bar past ``end``. ``rng`` is the player's own generator for this
    span, so that the same span is played the same way again. ``ending`` is the beat of the last
    note of the tune when it falls in this span.
    """

    start: float
    end: float
    changes: Changes
    bars: Bars
    metre: Metre
    bpm: float
    feel: Feel
    rng: np.random.Generator
    intensity: float = 0.5
    ending: float | None = None


class BandPlayer(Protocol):
    """Bass, comping, drums, click: asked span by span, in order."""

    def play(self, span: Span) -> Sequence[PartNote]:
        """Return the notes that begin in the span, in order of their beats."""
