"""Which reply style is played, which come next, and what becomes of one whose file was changed.

A changed style comes as the value of an intent, all of it, so that a log alone can be performed
again. It takes the place of the one it replaces at the next bar line, and the next reply to begin
is in it, even if it was planned before; one that has begun is played to its end as it was planned.
"""

from __future__ import annotations

from collections.abc import Mapping

from pydantic import ValidationError

from jam.core.setup import Setup
from jam.log import grained
from jam.styles.profile import Style

NEW_STYLE = "new style"
"""Name of the intent that brings a changed style."""


def new_style_value(replaces: str, style: Style) -> object:
    """Return the value of the intent that puts ``style`` in the place of the one called
    ``replaces``, in numbers as a log keeps them."""
    return grained({"replaces": replaces, "style": style.model_dump(mode="json")})


class StyleRack:
    """The styles of a session in their order, and the one that is played."""

    def __init__(self, setup: Setup) -> None:
        self._styles = list(setup.styles or (setup.style,))
        self._waiting: list[tuple[str, Style]] = []
        self.current = setup.style

    @property
    def coming(self) -> Style:
        """Return the style of the next reply: the present one from the next bar line on."""
        style = self.current
        for replaces, changed in self._waiting:
            style = changed if style.name == replaces else style
        return style

    def next(self) -> None:
        """Go on to the style after the present one, from the last to the first."""
        names = [style.name for style in self._styles]
        place = names.index(self.current.name) if self.current.name in names else -1
        self.current = self._styles[(place + 1) % len(self._styles)]

    def take(self, value: object) -> str:
        """Take the value of an intent; return what is wrong with it, in words, else nothing."""
        said = value if isinstance(value, Mapping) else {}
        try:
            self._waiting.append((str(said["replaces"]), Style.model_validate(said["style"])))
        except (KeyError, ValidationError) as error:
            return f"a changed style cannot be used, the one before is kept ({error})"
        return ""

    def change(self) -> list[Style]:
        """Let the changed styles take their places; return them."""
        changed = []
        for replaces, style in self._waiting:
            self._styles = [style if s.name == replaces else s for s in self._styles]
            if self.current.name == replaces:
                self.current = style
            changed.append(style)
        self._waiting = []
        return changed
