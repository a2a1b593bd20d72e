"""One wish for a port, followed over time: which of the ports that are there is meant. Pure.

A port that was taken once is looked for by its name when it has gone. ``auto`` then also takes a
port that was not there when the first one went (somebody plugged another keyboard in), but none of
those that it had passed over before.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence

from jam.ports.names import find, first, plain
from jam.ports.wishes import AUTO, NONE, VIRTUAL

_DIRECTION = re.compile(r"\(?\b(midi_)?(capture|playback)\b\)?")


class Wanted:
    """A pattern (see `jam.ports.wishes`); ``client`` is the name of our own program."""

    def __init__(self, pattern: str, client: str) -> None:
        self.pattern = pattern
        self.taken = ""
        self._client = client
        self._passed_over: frozenset[str] = frozenset()

    def choose(self, names: Sequence[str]) -> str | None:
        """Return the port to open, None if it is not there. PortError: the pattern fits several."""
        if self.pattern in (NONE, VIRTUAL):
            return None
        if self.taken and (again := self.same_as_taken(names)):
            return again
        if self.pattern == AUTO:
            return first([name for name in names if name not in self._passed_over], self._client)
        return find(self.pattern, names)

    def same_as_taken(self, names: Collection[str]) -> str | None:
        """Return the name under which the port that was taken is there, None if it is not."""
        if self.taken in names:
            return self.taken
        return next((name for name in names if plain(name) == plain(self.taken)), None)

    def gone(self, names: Collection[str]) -> None:
        """Remember what was there when the port that was taken went."""
        self._passed_over = frozenset(names)


def same_device(input_name: str, output_name: str) -> bool:
    """Say whether an input and an output are two sides of one device, as far as names tell.

    Systems call them alike, but for a word for the direction (common practice).
    """
    return _DIRECTION.sub("", plain(input_name)) == _DIRECTION.sub("", plain(output_name))
