"""From the text of a ``styles/NAME.yaml`` to a `Style`.

Every error names file, line, key, the value found and what mends it; a misspelt key is told the
nearest one there is.
"""

from __future__ import annotations

from jam.styles.profile import Style
from jam.yaml_text import validate


def load_style(text: str, source: str) -> Style:
    """Return the style that ``text`` describes; ``source`` is the name to put in errors.

    Raises InputError for anything that is no style.
    """
    return validate(Style, text, source)[0]
