"""What the player's own keys sound on besides the keyboard itself: which messages are passed on.

They go out on one channel of their own, so that the player's damper holds nobody else's notes.
Never passed on: messages that are cues, system messages (clock among them), and the local
control switch, which is meant for the keyboard alone. Whatever happens, every note-on that was
passed on gets its note-off, and pedals that hold are let go (`Thru.end`).

Sources: MIDI 1.0 Detailed Specification: controllers 64 (damper), 66 (sostenuto), 69 (hold 2),
on from value 64; channel mode messages 122 (local control) and 123 (all notes off).
"""

from __future__ import annotations

from collections.abc import Sequence

from jam.ports.wishes import ThruWish

DAMPER, SOSTENUTO, HOLD_2 = 64, 66, 69
HOLDING = (DAMPER, SOSTENUTO, HOLD_2)
LOCAL_CONTROL, ALL_NOTES_OFF = 122, 123

Bytes = tuple[int, ...]

_KINDS = {0x80: "note", 0x90: "note", 0xA0: "note", 0xB0: "control", 0xC0: "program"}


class Thru:
    """Messages of the player in, messages to be sent on out."""

    def __init__(self, wish: ThruWish) -> None:
        self._channel = wish.channel
        self._silent = frozenset(wish.silent)
        self._keys: dict[tuple[int, int], None] = {}
        self._held: set[int] = set()

    def take(self, data: Sequence[int]) -> list[Bytes]:
        """Return what is to be sent because of a message; often nothing, or itself."""
        kind, source = data[0] & 0xF0, data[0] & 0x0F
        if kind == 0xF0 or len(data) < 2 or (_KINDS.get(kind), data[1]) in self._silent:
            return []
        if kind in (0x80, 0x90):
            struck = kind == 0x90 and data[2] > 0
            return self._press(source, data[1], data[2]) if struck else self._let_go(source, data)
        if kind == 0xB0:
            if data[1] == LOCAL_CONTROL:
                return []
            if data[1] in HOLDING:
                (self._held.add if data[2] >= 64 else self._held.discard)(data[1])
        return [(kind | self._channel, *data[1:])]

    def end(self) -> list[Bytes]:
        """Return the note-offs that are owed, and let go of the pedals."""
        pitches = dict.fromkeys(pitch for _, pitch in self._keys)
        offs: list[Bytes] = [(0x80 | self._channel, pitch, 0) for pitch in pitches]
        pedals: list[Bytes] = [(0xB0 | self._channel, pedal, 0) for pedal in sorted(self._held)]
        self._keys.clear()
        self._held.clear()
        return offs + pedals

    def _press(self, source: int, pitch: int, velocity: int) -> list[Bytes]:
        again = self._sounds(pitch)
        self._keys[source, pitch] = None
        on = (0x90 | self._channel, pitch, velocity)
        return [(0x80 | self._channel, pitch, 0), on] if again else [on]

    def _let_go(self, source: int, data: Sequence[int]) -> list[Bytes]:
        pitch = data[1]
        if (source, pitch) not in self._keys:
            return []
        del self._keys[source, pitch]
        return [] if self._sounds(pitch) else [(0x80 | self._channel, pitch, data[2])]

    def _sounds(self, pitch: int) -> bool:
        return any(held == pitch for _, held in self._keys)
