"""A MIDI system in memory whose one port gives back what it gets: for a process under test.

What is sent to `LOOP` is heard from it at once. ``auto`` passes it by, as any through port.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from jam.ports.memory_midi import MemoryMidi, PatchBay, Sink, Source

LOOP = "Loop Through"


class _Loop(Sink):
    """Plays what it takes on a source."""

    def __init__(self, bay: PatchBay, source: Source) -> None:
        super().__init__(bay, source.name)
        self._source = source

    def take(self, data: Sequence[int]) -> None:
        """Pass a message on, now."""
        self._source.send(data)


def loopback(client: str, clock: Callable[[], float]) -> MemoryMidi:
    """Return a system with the loop plugged in; ``clock`` returns machine seconds."""
    bay = PatchBay(clock)
    bay.sinks.append(_Loop(bay, bay.plug_source(LOOP)))
    return MemoryMidi(bay, client)
