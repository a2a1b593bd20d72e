"""The built-in sound as the I/O process uses it: present or not, and never the end of the process.

Whatever goes wrong in it is told once, and the rest goes on without it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

from jam.events import Part
from jam.ports.ledger import Entry, Message
from jam.ports.thru import DAMPER
from jam.ports.wire import CutNote, PlayNote, RevokeNote, SilenceAll

FAULTS_AT_MOST = 10
"""After so many faults in a row the sound is given up."""

Tell = Callable[[str, str], None]


class SoundDevice(Protocol):
    """What is asked of `jam.ports.sound_out.SoundOut`; times are machine seconds."""

    def play(self, note: PlayNote) -> None:
        """Play a note at its moment; one of the same id that has not begun is replaced."""

    def revoke(self, id: int) -> None:
        """Forget a note that has not begun."""

    def cut(self, id: int, t: float) -> None:
        """End a note at ``t``."""

    def silence(self, t: float) -> None:
        """End every note, forget those to come."""

    def level(self, part: Part | None, level: float) -> None:
        """Set the gain of a part, or of all, 0 to 1."""

    def thru(self, pitch: int, velocity: int, t: float) -> None:
        """Sound the player's own key at once; velocity 0 lets it go."""

    def thru_damper(self, down: bool) -> None:
        """Move the player's damper pedal."""

    def poll(self, now: float) -> list[str]:
        """Return news in plain words."""

    def close(self) -> None:
        """Stop and close the device."""


class Sounding:
    """There is no sound until `open`; ``parts`` are those that go there."""

    def __init__(self, parts: Sequence[Part], tell: Tell) -> None:
        self._faults = 0
        self._device: SoundDevice | None = None
        self._parts = frozenset(parts)
        self._tell = tell
        self._ends: dict[int, float] = {}

    def open(self, device: SoundDevice) -> None:
        """Let there be sound."""
        self._device = device

    def take(self, entry: Entry) -> None:
        """Do what the ledger has accepted."""
        match entry:
            case PlayNote():
                if entry.part in self._parts:
                    self._ends[entry.id] = entry.end
                    self._try(lambda device: device.play(entry))
            case RevokeNote(id):
                if self._ends.pop(id, None) is not None:
                    self._try(lambda device: device.revoke(id))
            case CutNote(id, t, handed):
                if id in self._ends:
                    self._ends[id] = min(self._ends[id], max(t, handed))
                    self._try(lambda device: device.cut(id, max(t, handed)))
            case SilenceAll(handed):
                self._ends.clear()
                self._try(lambda device: device.silence(handed))

    def note_off(self, message: Message) -> None:
        """End a note that the ledger ended sooner than it was planned to."""
        end = self._ends.pop(message.id, message.t)
        if message.t < end:
            self._try(lambda device: device.cut(message.id, message.t))

    def level(self, part: Part | None, level: float) -> None:
        """Set the gain of a part, or of all."""
        self._try(lambda device: device.level(part, level))

    def thru(self, data: Sequence[int], t: float, level: float) -> None:
        """Sound a message of the player's that is passed on: a key or the damper."""
        kind = data[0] & 0xF0
        if kind in (0x80, 0x90):
            struck = kind == 0x90 and data[2] > 0
            velocity = max(1, round(data[2] * level)) if struck else 0
            self._try(lambda device: device.thru(data[1], velocity, t))
        elif kind == 0xB0 and data[1] == DAMPER:
            self._try(lambda device: device.thru_damper(data[2] >= 64))

    def poll(self, now: float) -> list[str]:
        """Return news in plain words."""
        news: list[str] = []
        self._try(lambda device: news.extend(device.poll(now)))
        return news

    def close(self) -> None:
        """Stop and close the device."""
        self._try(lambda device: device.close())
        self._device = None

    def _try(self, use: Callable[[SoundDevice], None]) -> None:
        if self._device is None:
            return
        try:
            use(self._device)
            self._faults = 0
        except Exception as error:  # whatever it is: MIDI must go on
            self._faults += 1
            stops = self._faults >= FAULTS_AT_MOST
            what = "the built-in sound stopped" if stops else "the built-in sound missed something"
            if stops or self._faults == 1:
                self._tell("fault", f"{what}: {type(error).__name__}: {error}")
            if stops:
                self._device = None
