"""Typed bars: text split at bar lines into words, each bar with the line it stands in.

Bars are split by ``|`` or by the end of a line; a bar line at either end of a line is optional and
a double one counts as one. Words are split by spaces, except within brackets. ``# `` begins a
comment.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from jam.errors import InputError

_COMMENT = re.compile(r"(?:^|\s)#(?:\s.*)?$")
_WORD = re.compile(r"(?:\([^()]*\)|\S)+")


@dataclass(frozen=True, slots=True)
class TypedBar:
    """The words of one bar and the line they stand in (counted from 1 in the whole file)."""

    words: tuple[str, ...]
    line: int


@dataclass(frozen=True, slots=True)
class Typed:
    """A text in a chart: ``line`` is that of its first line, ``field`` the path of its key."""

    text: str
    source: str
    line: int
    field: str

    def error(self, problem: str, mend: str, line: int | None = None) -> InputError:
        """Return the error to raise about this text, at ``line`` or at its beginning."""
        return InputError(self.source, problem, mend, line or self.line, self.field)

    def bars(self) -> list[TypedBar]:
        """Return the bars in order. Raises InputError for an empty one."""
        found: list[TypedBar] = []
        for number, content in enumerate(self.text.splitlines(), start=self.line):
            content = _COMMENT.sub("", content).strip()
            content = re.sub(r"^\|+|\|+$", "", content)
            if not content.strip():
                continue
            for cell in re.split(r"\|+", content):
                words = tuple(_WORD.findall(cell))
                if not words:
                    where = f"bar {len(found) + 1} of this text is empty"
                    raise self.error(where, "Write a chord, or % for the bar before again.", number)
                found.append(TypedBar(words, number))
        return found
