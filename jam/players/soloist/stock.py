"""A style's stock phrases, for when there is no idea to answer."""

from __future__ import annotations

import itertools

import numpy as np

from jam.harmony.chord import Chord
from jam.players.soloist.chord_tables import sounding
from jam.players.soloist.degrees import on_chord
from jam.players.soloist.request import Request
from jam.players.soloist.slots import TICKS, to_ticks
from jam.players.soloist.statement import SHORTEST, Statement
from jam.styles.profile import Recipe


def stock_phrase(request: Request, rng: np.random.Generator) -> tuple[Statement, str] | None:
    """Draw one of the style's stock phrases, with its name; None if it has none."""
    recipes = request.style.recipes
    if not recipes:
        return None
    recipe = recipes[int(rng.integers(0, len(recipes)))]
    chord = sounding(request.changes, request.window.start).chord
    phase = int(rng.choice([0, TICKS // 2])) + to_ticks(request.window.start)
    return over(recipe, chord, phase), recipe.name


def over(recipe: Recipe, chord: Chord, phase: int) -> Statement:
    """Return a stock phrase over ``chord``, each degree by the shorter way."""
    steps = [on_chord(degree, chord) for degree in recipe.degrees]
    intervals: list[int | None] = [None]
    for before, after in itertools.pairwise(steps):
        intervals.append((after - before + 6) % 12 - 6 if after != before else 0)
    lengths = tuple(max(SHORTEST, to_ticks(beats)) for beats in recipe.beats)
    onsets = (0, *itertools.accumulate(lengths[:-1]))
    return Statement(
        "recipe", tuple(onsets), lengths, tuple(intervals), phase=phase,
        note=f"stock phrase '{recipe.name}'",
    )  # fmt: skip
