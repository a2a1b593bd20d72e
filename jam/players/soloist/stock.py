"""A style's stock phrases, for when there is no idea to answer."""

from __future__ import annotations

import itertools
from dataclasses import replace
from math import floor

import numpy as np

from jam.harmony.chord import Chord
from jam.players.soloist.chances import pick
from jam.players.soloist.chord_tables import sounding
from jam.players.soloist.degrees import on_chord
from jam.players.soloist.recipes import AS_WRITTEN, statement_of
from jam.players.soloist.request import Request
from jam.players.soloist.slots import TICKS, to_ticks
from jam.players.soloist.statement import SHORTEST, Statement
from jam.styles.profile import Recipe
from jam.styles.recipe_text import LineRecipe


def stock_phrase(request: Request, rng: np.random.Generator) -> tuple[Statement, str] | None:
    """Draw one of the style's stock phrases, with its name; None if it has none."""
    # The loader has put the recipes in the place of their names.
    recipes = [one for one in request.style.recipes if not isinstance(one, str)]
    if not recipes:
        return None
    change = sounding(request.changes, request.window.start)
    fitting = [one for one in recipes if _fits(one, change.chord)] or recipes
    recipe = fitting[int(rng.integers(0, len(fitting)))]
    if isinstance(recipe, LineRecipe):
        begin = replace(change, beat=max(change.beat, request.window.start))
        following = request.changes.between(begin.beat + 1e-3, request.window.end)
        said = statement_of(recipe, begin, following=following, key=request.key)
        return _in_the_middle(said, request), recipe.name
    phase = pick((0, TICKS // 2), rng)
    return _in_the_middle(over(recipe, change.chord, phase), request), recipe.name


def _in_the_middle(said: Statement, request: Request) -> Statement:
    """Return it in the octave where it lies nearest to the middle of the instrument."""
    middle = (request.style.instrument.low + request.style.instrument.high) / 2.0
    heights = list(itertools.accumulate(step or 0 for step in said.intervals))
    centre = (said.start or 0) + (min(heights) + max(heights)) / 2.0
    return replace(said, start=(said.start or 0) + 12 * floor((middle - centre) / 12.0 + 0.5))


def _fits(recipe: Recipe | LineRecipe, chord: Chord) -> bool:
    return isinstance(recipe, Recipe) or recipe.meant_for.fits(chord)


def over(recipe: Recipe, chord: Chord, phase: int) -> Statement:
    """Return a stock phrase over ``chord``, each degree by the shorter way."""
    steps = [on_chord(degree, chord) for degree in recipe.degrees]
    intervals: list[int | None] = [None]
    for before, after in itertools.pairwise(steps):
        intervals.append((after - before + 6) % 12 - 6 if after != before else 0)
    lengths = tuple(max(SHORTEST, to_ticks(beats)) for beats in recipe.beats)
    onsets = (0, *itertools.accumulate(lengths[:-1]))
    return Statement(
        "recipe", tuple(onsets), lengths, tuple(intervals), firm=AS_WRITTEN, phase=phase,
        said_at=phase, start=chord.root + steps[0], note=f"stock phrase '{recipe.name}'",
    )  # fmt: skip
