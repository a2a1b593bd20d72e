"""Styles that name phrase recipes, and the soloist that says them when there is nothing to take
up."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from jam.errors import InputError
from jam.harmony.changes import Changes
from jam.players.soloist.request import Request, Window
from jam.players.soloist.stock import stock_phrase
from jam.session.resources import find_recipe, find_style, recipe_finder
from jam.styles.loader import load_style
from jam.styles.profile import Recipe, Style
from jam.styles.recipe_text import LineRecipe
from jam.styles.text import describe
from jam.transport.metre import Bars

MIXED = """
name: mine
about: Mine.
recipes:
  - downhill
  - name: two
    degrees: [1, 3]
    beats: [1, 1/3]
  - name: three
    about: A line.
    over: minor
    line: [degree 5, arpeggio 5 to 9]
"""


def test_recipes_by_name_and_written_out() -> None:
    """A style may name a recipe, write it out as a line, or as degrees with beats; loaded, it says
    all of it itself, and reads back the same."""
    style = load_style(MIXED, "mine.yaml", None, recipe_finder())
    assert [type(one) for one in style.recipes] == [LineRecipe, Recipe, LineRecipe]
    assert style.recipes[0] == find_recipe("downhill").value
    again = load_style(describe(style), "mine.yaml")
    assert again.recipes == style.recipes
    assert Style.model_validate(style.model_dump()).recipes == style.recipes


@pytest.mark.parametrize(
    ("old", "new", "line", "mend"),
    [
        ("- downhill", "- downhil", 5, "Did you mean `downhill`?"),
        ("degree 5,", "degre 5,", 12, "Did you mean `degree 5`?"),
        ("[1, 1/3]", "[1, x]", 8, "1/3"),
        ("name: three", "name: two", 4, "two recipes are called 'two'"),
    ],
)
def test_a_mistake_is_found_where_it_stands(old: str, new: str, line: int, mend: str) -> None:
    """Whichever way a recipe is written, a mistake in it is told with its line in the style."""
    with pytest.raises(InputError) as caught:
        load_style(MIXED.replace(old, new), "mine.yaml", None, recipe_finder())
    assert f"mine.yaml:{line}:" in str(caught.value)
    assert mend in str(caught.value)


def test_found_with_the_style(tmp_path: Path) -> None:
    """A style of one's own may name a recipe of one's own."""
    (tmp_path / "styles" / "recipes").mkdir(parents=True)
    (tmp_path / "styles" / "mine.yaml").write_text(MIXED.replace("downhill", "uphill"))
    (tmp_path / "styles" / "recipes" / "uphill.yaml").write_text(
        "name: uphill\nabout: Up.\nline: [scale 1 to 5]\n"
    )
    style = find_style("mine", tmp_path).value
    assert next(one.name for one in style.recipes if not isinstance(one, str)) == "uphill"


def test_the_soloist_says_what_fits_the_chord() -> None:
    """With no idea to answer, the phrase is one that is meant for the chord that sounds, with the
    rhythm and the intervals of the recipe, over the chords to come."""
    style = find_style("lyrical").value
    named = [find_recipe(name).value for name in ("low-lamp", "over-the-bridge", "downhill")]
    style = style.model_copy(update={"recipes": named})
    bridge = named[1].own_changes("C")
    changes = Changes([replace(change, beat=change.beat + 16.0) for change in bridge])
    request = Request(
        Window(16.0, 32.0, 15.0, 33.0), changes, Bars(), 1.0, 120.0, "swing", style, (1,)
    )
    said = stock_phrase(request, np.random.default_rng(1))
    assert said is not None
    statement, name = said
    assert name == "over-the-bridge"
    assert len(statement) == 17
    assert statement.onsets[8] == 48
