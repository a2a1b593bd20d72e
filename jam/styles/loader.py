"""From the text of a ``styles/NAME.yaml`` to a `Style`.

Every error names file, line, key, the value found and what mends it; a misspelt key is told the
nearest one there is.
"""

from __future__ import annotations

from jam.errors import InputError
from jam.styles.inherit import Finder, whole
from jam.styles.profile import Style

__all__ = ["Finder", "load_style", "reload"]


def load_style(text: str, source: str, find: Finder | None = None) -> Style:
    """Return the style that ``text`` describes; ``source`` is the name to put in errors.

    ``find`` is asked for the style that it is based on, if it is; the style returned says
    everything itself. Raises InputError for anything that is no style.
    """
    return whole(text, source, find)[0]


def reload(
    text: str, source: str, last_good: Style, find: Finder | None = None
) -> tuple[Style, str | None]:
    """Return the style that ``text`` now describes and None, or the last good one and what is
    wrong with the text."""
    try:
        return load_style(text, source, find), None
    except InputError as error:
        return last_good, str(error)
