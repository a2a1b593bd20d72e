"""What every MIDI system of ours can do: one small protocol, whatever library is behind it.

Adapters: `jam.ports.rtmidi_system` (python-rtmidi and supriya-midi, the same RtMidi below) and
`jam.ports.memory_midi` (a patch bay in memory, for tests and for machines without any).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple, Protocol


class Stamped(NamedTuple):
    """A whole MIDI message: ``t`` is when it happened, in machine seconds (`jam.ports.wire`)."""

    t: float
    data: tuple[int, ...]


class MidiInput(Protocol):
    """An open input. Never calls back: it is polled."""

    name: str

    def poll(self) -> list[Stamped]:
        """Return what has come in since the last call, in order; clock ticks too, no SysEx."""

    def close(self) -> None:
        """Close the port; twice is once."""


class MidiOutput(Protocol):
    """An open output."""

    name: str

    def send(self, data: Sequence[int]) -> None:
        """Send one whole message now; raises PortError if the port is gone."""

    def close(self) -> None:
        """Close the port; twice is once. It ends no notes: whoever sent them owes that."""


class MidiSystem(Protocol):
    """One of the machine's MIDI systems, with its listing objects open for life.

    ``name`` as in `jam doctor` (``ALSA``, ``JACK``, ``CoreMIDI``, ``Windows MM``, ``memory``).
    Every ``open_`` raises PortError in plain words.
    """

    name: str
    has_virtual: bool

    def inputs(self) -> list[str]:
        """Return the names of the ports we can hear, without those that we made."""

    def outputs(self) -> list[str]:
        """Return the names of the ports we can send to, without those that we made."""

    def open_input(self, name: str) -> MidiInput:
        """Listen to the port of exactly that name."""

    def open_output(self, name: str) -> MidiOutput:
        """Send to the port of exactly that name."""

    def virtual_input(self, name: str) -> MidiInput:
        """Make a port of our own that others send to."""

    def virtual_output(self, name: str) -> MidiOutput:
        """Make a port of our own that others listen to."""

    def close(self) -> None:
        """Close the listing objects; open ports are closed by whoever opened them."""
