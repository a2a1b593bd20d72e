"""Where phrase recipes are found: ``styles/recipes``, the user's own before built-in ones."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from jam.session.resources import (
    STYLES,
    YAML_SUFFIXES,
    Entry,
    Found,
    listed,
    looked_up,
    read_text,
)
from jam.styles.recipe_text import LineRecipe, load_recipe

RECIPES: Final = STYLES / "recipes"


def list_recipes(home: Path | None = None) -> list[Entry]:
    """Return all phrase recipes by name; one of the user's own hides a built-in one."""
    return listed(RECIPES, YAML_SUFFIXES, home)


def find_recipe(name_or_path: str, home: Path | None = None) -> Found[LineRecipe]:
    """Return the phrase recipe of that name, or in that file; raises InputError."""
    entry = looked_up("recipe", name_or_path, list_recipes(home), YAML_SUFFIXES)
    return Found(entry, load_recipe(read_text(entry.path), str(entry.path)))
