"""What a drill does that its recipe alone does not tell, a line each."""

from __future__ import annotations

import numpy as np

from jam.players.soloist.recipe_sayings import occurrences
from jam.players.soloist.recipes import RecipeNote, realise, varied
from jam.players.soloist.slots import TICKS
from jam.session.drill import BEYOND, REGISTERS, Drill
from jam.styles.recipe_text import LineRecipe
from jam.transport.metre import Bars

_MOST_BARS = 8


def notes_on(drill: Drill) -> list[str]:
    """Return what is to be known of a drill: where a progression is laid, what is folded back into
    the register, and whether there is nothing to vary."""
    return [*_laid(drill), *folded(drill.notes, drill.bars), *_nothing_varies(drill)]


def notes_on_recipe(recipe: LineRecipe) -> list[str]:
    """Return what is to be known of a recipe over its own chords, set on C in the middle."""
    low, high = REGISTERS["middle"]
    changes, key = recipe.own_changes("C"), recipe.meant_for.key("C")
    bars = Bars(first=1)
    return folded(
        realise(recipe, changes, 0.0, bars, low=low, high=high, beyond=BEYOND, key=key), bars
    )


def folded(notes: list[RecipeNote] | tuple[RecipeNote, ...], bars: Bars) -> list[str]:
    """Return in a line which notes of which items lie in another octave than they are written."""
    moved = [note for note in notes if note.folded]
    if not moved:
        return []
    places = [(bars.at(note.tick / TICKS)[0], note.device) for note in moved]
    items = list(dict.fromkeys(f"bar {bar} `{device}`" for bar, device in places))
    said = _listed(items)
    return [
        f"Wider than the register has room for: {len(moved)} notes are moved by octaves, in {said}."
    ]


def _laid(drill: Drill) -> list[str]:
    recipe = drill.recipe
    one = drill.rounds[0]
    changes = list(drill.changes.between(one.start, one.end))
    if not recipe.meant_for.chords or len(changes) == recipe.meant_for.count:
        return []
    begins = [changes[index].beat for index in occurrences(recipe, changes)]
    numbers = [str(drill.bars.at(beat)[0]) for beat in begins]
    written = " ".join(own.written.partition(":")[0] for own in recipe.meant_for.chords)
    return [f"Laid where {written} occurs, in bar {_listed(numbers)}; silent elsewhere."]


def _listed(items: list[str]) -> str:
    shown = items[:_MOST_BARS]
    more = f" and {len(items) - len(shown)} more" if len(items) > len(shown) else ""
    return ", ".join(shown) + more


def _nothing_varies(drill: Drill) -> list[str]:
    same = varied(drill.recipe, np.random.default_rng(0)) == drill.recipe
    if not (drill.varied and same):
        return []
    return ["Nothing of this line may vary: it is played as written."]
