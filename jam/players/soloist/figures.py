"""Figures of the vocabulary. (None yet.)"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from jam.harmony.changes import Change
from jam.harmony.chord import Chord
from jam.harmony.keys import Key


@dataclass(frozen=True)
class Figure:
    """A few notes over one chord: wanted pitch classes, and the way into each note."""

    name: str
    classes: tuple[int | None, ...]
    directions: tuple[int, ...]
    why: str
    implied: Chord | None = None
    repeats: bool = False


def figures_for(
    change: Change,
    following: Change | None,
    count: int,
    *,
    key: Key | None,
    blues: bool,
    off_beat_first: bool,
    vocabulary: Mapping[str, float],
    rng: np.random.Generator,
) -> Figure | None:
    """Draw one figure of ``count`` notes by the vocabulary's weights."""
    return None
