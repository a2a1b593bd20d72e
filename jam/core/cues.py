"""Cues from notes, controllers and program changes on the cue port."""

from __future__ import annotations

from collections.abc import Mapping

from jam.events import CUE, Control, Message, NoteOn, Program

_PRESSED = 64
"""A switch is on from 64 upwards (MIDI 1.0, controllers 64 to 69)."""


class CueReader:
    """Turns presses into the names of cues; a switch speaks when it goes down, once."""

    def __init__(self, cues: Mapping[tuple[str, int], str]) -> None:
        self._cues = dict(cues)
        self._down: set[tuple[str, int]] = set()

    def read(self, message: Message) -> str | None:
        """Return the cue that a message of the cue port asks for, or None."""
        match message:
            case NoteOn(port=port, pitch=pitch) if port == CUE:
                return self._cues.get(("note", pitch))
            case Program(port=port, number=number) if port == CUE:
                return self._cues.get(("program", number))
            case Control(port=port, number=number, value=value) if port == CUE:
                return self._pressed(("control", number), value)
        return None

    def _pressed(self, key: tuple[str, int], value: int) -> str | None:
        if value < _PRESSED:
            self._down.discard(key)
            return None
        if key in self._down:
            return None
        self._down.add(key)
        return self._cues.get(key)
