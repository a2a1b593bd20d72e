"""Which of the listed MIDI ports a wish means. Pure.

A name changes when a cable is pulled and put back: ALSA ends it with the numbers of client and
port (``Keys:Keys MIDI 1 20:0``), and bridges from ALSA to JACK put the number in brackets
(``Keys [20] (capture): Keys MIDI 1``). The *plain* name leaves both out, so the same keyboard is
known again. Common practice of these systems, as they list ports.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from jam.errors import PortError

_NUMBERS = re.compile(r" \d+:\d+$| \[\d+\]")


def plain(name: str) -> str:
    """Return a port's name without the numbers that change when it is plugged in again."""
    return _NUMBERS.sub("", name)


def find(pattern: str, names: Sequence[str]) -> str | None:
    """Return the port that is meant: exactly named, else with other numbers, else in part.

    The part may be in capitals or small letters. None if no port fits; if several fit equally,
    a PortError lists them.
    """
    part = pattern.casefold()
    ways: tuple[Callable[[str], bool], ...] = (
        lambda name: name == pattern,
        lambda name: plain(name) == plain(pattern),
        lambda name: part in name.casefold(),
    )
    for fits in ways:
        found = list(dict.fromkeys(name for name in names if fits(name)))
        if len(found) > 1:
            listed = ", ".join(f'"{name}"' for name in found)
            raise PortError(f'"{pattern}" fits several MIDI ports: {listed}', "Write more of it.")
        if found:
            return found[0]
    return None


def first(names: Sequence[str], client: str) -> str | None:
    """Return the port that ``auto`` takes: the first that is neither a through port nor ours."""
    return next((n for n in names if not is_through(n) and not is_own(n, client)), None)


def is_through(name: str) -> bool:
    """Return whether this is a port of the system that only passes on what it gets."""
    return "through" in name.casefold()


def is_own(name: str, client: str) -> bool:
    """Return whether a program that calls itself ``client`` made the port: we, or another of us."""
    return re.match(rf"{re.escape(client)}(-[\w-]+)?(:|$)", name) is not None
