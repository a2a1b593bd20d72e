"""Who plays what: is this note the player's line, the player's comping, or the band?

Told by channel where channels are named (one port may carry them all), else by port, then, within
the player's one keyboard, by a split point. ``fixed`` keeps the line above the split (right hand),
``reversed`` below it; ``comping`` says that both hands comp and nothing is the line. A note-off
always belongs to the part its note-on was given to, even if the split has moved in between.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from jam.events import BAND, Port

HeardPart = Literal["line", "comping", "band"]
SplitKind = Literal["off", "fixed", "reversed", "comping"]
OtherPart = Literal["comping", "band"]


@dataclass(frozen=True, slots=True)
class Split:
    """How one keyboard is divided; ``pitch`` is the lowest MIDI pitch of the upper side.

    ``channels`` are pairs of a channel (0 to 15) and the part that plays on it. Where one of them
    is the line's, all channels that are not named are the band's. ``other`` is whose the side is
    that is not the line: the player's own comping, or a second person's bass and chords (``band``).
    """

    kind: SplitKind = "off"
    pitch: int = 60
    channels: tuple[tuple[int, HeardPart], ...] = ()
    other: OtherPart = "comping"

    def part_on(self, channel: int) -> HeardPart | None:
        """Return the part that is told by its channel; None where the channel tells nothing."""
        named = dict(self.channels)
        if channel in named:
            return named[channel]
        return "band" if "line" in named.values() else None


def part_of(split: Split, port: Port, channel: int, pitch: int) -> HeardPart:
    """Return the part a fresh note belongs to; ``channel`` is 0 to 15."""
    told = split.part_on(channel)
    if told is not None:
        return told
    if port == BAND:
        return "band"
    if split.kind in ("off", "comping"):
        return "line" if split.kind == "off" else "comping"
    upper = pitch >= split.pitch
    return "line" if upper == (split.kind == "fixed") else split.other


class WhoPlays:
    """Remembers the part of every held note, so that each note-off goes where its note-on went.

    The same note struck twice before its release is counted: each note-off ends the latest strike
    still open, so a keyboard that sends only one release leaves the parts right.
    """

    def __init__(self, split: Split | None = None) -> None:
        self.split = split or Split()
        self._held: dict[tuple[Port, int, int], list[HeardPart]] = {}

    def note_on(self, port: Port, channel: int, pitch: int) -> HeardPart:
        """Return the part of a note that begins, and remember it."""
        part = part_of(self.split, port, channel, pitch)
        self._held.setdefault((port, channel, pitch), []).append(part)
        return part

    def note_off(self, port: Port, channel: int, pitch: int) -> HeardPart | None:
        """Return the part of the note that ends; None when no such note was held."""
        key = (port, channel, pitch)
        strikes = self._held.get(key)
        if not strikes:
            return None
        part = strikes.pop()
        if not strikes:
            del self._held[key]
        return part

    def forget(self, port: Port | None = None) -> None:
        """Forget every held note (panic), or those of a port that was lost."""
        self._held = {key: held for key, held in self._held.items() if port not in (None, key[0])}
