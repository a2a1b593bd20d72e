"""From the text of a ``styles/NAME.yaml`` to a `Style`.

Every error names file, line, key, the value found and what mends it; a misspelt key is told the
nearest one there is. Phrase recipes that the style names are found and put in their place.
"""

from __future__ import annotations

from collections.abc import Callable

from jam.errors import InputError
from jam.styles.inherit import Finder, whole
from jam.styles.profile import StockPhrase, Style
from jam.styles.recipe_text import LineRecipe
from jam.yaml_text import load_marked

__all__ = ["Finder", "RecipeFinder", "load_style", "reload"]

RecipeFinder = Callable[[str], LineRecipe]
"""From the name of a phrase recipe to the recipe; raises InputError when there is none."""


def load_style(
    text: str, source: str, find: Finder | None = None, recipe: RecipeFinder | None = None
) -> Style:
    """Return the style that ``text`` describes; ``source`` is the name to put in errors.

    ``find`` is asked for the style that it is based on, if it is, and ``recipe`` for the phrase
    recipes it names; the style returned says everything itself. Raises InputError for anything
    that is no style.
    """
    style = whole(text, source, find)[0]
    if not any(isinstance(one, str) for one in style.recipes):
        return style
    found = [_found(one, place, text, source, recipe) for place, one in enumerate(style.recipes)]
    return style.model_copy(update={"recipes": found})


def _found(
    one: StockPhrase, place: int, text: str, source: str, recipe: RecipeFinder | None
) -> StockPhrase:
    if not isinstance(one, str):
        return one
    _, lines = load_marked(text, source)
    line = lines.get(("recipes", place), lines.get(("based_on",)))
    field = f"recipes[{place}]"
    if recipe is None:
        mend = "Write it out: no recipes are at hand here."
        raise InputError(source, f"found {one!r}", mend, line, field)
    try:
        return recipe(one)
    except InputError as error:
        problem = f"found {one!r}: {error.problem}"
        raise InputError(source, problem, error.mend, line, field) from None


def reload(
    text: str,
    source: str,
    last_good: Style,
    find: Finder | None = None,
    recipe: RecipeFinder | None = None,
) -> tuple[Style, str | None]:
    """Return the style that ``text`` now describes and None, or the last good one and what is
    wrong with the text."""
    try:
        return load_style(text, source, find, recipe), None
    except InputError as error:
        return last_good, str(error)
