"""The one tree of errors a user can meet.

    JamError
     ├── InputError     something the user handed us cannot be used
     └── PortError      a device or port cannot be used

The command line prints the text of a `JamError` and exits with 2; it never shows a traceback
for one. Every text names what was read, where, the value found, and what mends it.
"""

from __future__ import annotations

from dataclasses import dataclass


class JamError(Exception):
    """Base of all errors meant for the user's eyes."""


@dataclass
class InputError(JamError):
    """A file, option or symbol that cannot be used.

    ``source`` is a file or option, ``line`` counts from 1 (None: no line), ``field`` is the path
    of the key (``sections[0].bars``) or empty, ``problem`` names the value found, ``mend`` says
    what would be accepted.
    """

    source: str
    problem: str
    mend: str
    line: int | None = None
    field: str = ""

    def __str__(self) -> str:
        place = self.source if self.line is None else f"{self.source}:{self.line}"
        field = f" {self.field}:" if self.field else ""
        return f"{place}:{field} {self.problem}. {self.mend}"


@dataclass(eq=False)
class PortError(JamError):
    """A MIDI port or sound device that cannot be used: ``problem`` names it, ``mend`` is the one
    thing to do about it (empty: nothing)."""

    problem: str
    mend: str = ""

    def __str__(self) -> str:
        return f"{self.problem}. {self.mend}" if self.mend else self.problem
