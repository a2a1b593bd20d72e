"""Cues from notes, controllers and program changes of the cue port and of the player's own.

One keyboard may do for both: a key, pad, pedal or program change that is a cue is never heard as
playing, nor is its release. The damper pedal (controller 64) is no cue; where the setup says so it
starts the session, pressed with no key of the player's down while time stands still. Contacts
bounce: what is pressed again at once is still the same press.
"""

from __future__ import annotations

from math import inf

from jam.core.setup import DAMPER, Setup
from jam.events import CUE, PLAYER, Control, Message, NoteOff, NoteOn, Port, Program

_PRESSED = 64
"""A switch is on from 64 upwards (MIDI 1.0, controllers 64 to 69)."""


_BOUNCE_SEC = 0.03
"""Contacts come to rest within this (common practice: 5 to 30 ms)."""


class CueReader:
    """Turns presses into the names of cues; a switch speaks when it goes down, once."""

    def __init__(self, setup: Setup) -> None:
        self._cues = {key: cue for key, cue in setup.cues.items() if key != ("control", DAMPER)}
        self._damper_starts = setup.damper_starts
        self._switches: set[tuple[Port, int]] = set()
        self._keys: set[tuple[int, int]] = set()
        self._moved_at: dict[tuple[Port, str, int], float] = {}

    def is_cue(self, message: Message) -> bool:
        """Return whether the message belongs to a cue, the release of its key included."""
        return _key(message) in self._cues

    def read(self, message: Message, *, running: bool) -> str | None:
        """Return the cue that a message asks for, or None; every message once, in order.

        ``running`` says whether time goes on.
        """
        self._note_keys(message)
        if isinstance(message, NoteOn | Program):
            return self._spoken(message)
        if not isinstance(message, Control) or _key(message) is None:
            return None
        if not self._pressed(message):
            return None
        if message.number == DAMPER:
            return "start" if self._damper_starts and not running and not self._keys else None
        return self._spoken(message)

    def release_keys(self) -> None:
        """Take all keys of the player's for released (panic)."""
        self._keys.clear()

    def lose(self, port: Port | None) -> None:
        """Take the keys and switches of a lost port for released, of all ports for None."""
        self._switches = {held for held in self._switches if port not in (None, held[0])}
        if port in (None, PLAYER):
            self._keys.clear()

    def _note_keys(self, message: Message) -> None:
        """Keep count of the keys that are down on the player's port, cue keys left out."""
        if not isinstance(message, NoteOn | NoteOff) or message.port != PLAYER:
            return
        if self.is_cue(message):
            return
        if isinstance(message, NoteOn):
            self._keys.add((message.channel, message.pitch))
        else:
            self._keys.discard((message.channel, message.pitch))

    def _spoken(self, message: NoteOn | Program | Control) -> str | None:
        """Return the cue of a press, unless it is the one of a moment ago again."""
        key = _key(message)
        cue = None if key is None else self._cues.get(key)
        if key is None or cue is None:
            return None
        place = (message.port, *key)
        before = self._moved_at.get(place, -inf)
        self._moved_at[place] = message.t
        return cue if message.t - before >= _BOUNCE_SEC else None

    def _pressed(self, message: Control) -> bool:
        """Return whether this is a switch going down, and remember how it stands."""
        switch = message.port, message.number
        down = switch in self._switches
        if message.value >= _PRESSED:
            self._switches.add(switch)
            return not down
        if down:
            self._switches.discard(switch)
            self._moved_at[message.port, "control", message.number] = message.t
        return False


def _key(message: Message) -> tuple[str, int] | None:
    """Return what a message is named by in a setup's cues; None on a port that carries none."""
    match message:
        case NoteOn(port=port, pitch=number) | NoteOff(port=port, pitch=number):
            kind = "note"
        case Program(port=port, number=number):
            kind = "program"
        case Control(port=port, number=number):
            kind = "control"
        case _:
            return None
    return (kind, number) if port in (CUE, PLAYER) else None
