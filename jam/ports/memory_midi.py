"""A patch bay in memory: MIDI ports with names, without a machine. The twin of a MIDI system.

Tests plug things in and pull them out; a message sent is there at once, dated by the bay's clock.
As in reality, an input whose device was pulled falls silent and says nothing, and a device that
was pulled and put back is another one of the same name: it has to be opened again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from jam.errors import PortError
from jam.ports.midi import MidiInput, MidiOutput, Stamped

_LEFT_OUT = (0xF0, 0xFE)


class PatchBay:
    """All ports of a machine. Without a ``clock`` its time is `now`, set by hand."""

    def __init__(self, clock: Callable[[], float] | None = None) -> None:
        self._clock = clock
        self._now = 0.0
        self.failed = False
        self.sources: list[Source] = []
        self.sinks: list[Sink] = []

    @property
    def now(self) -> float:
        """Machine seconds."""
        return self._now if self._clock is None else self._clock()

    def advance_to(self, t: float) -> None:
        """Set the time of a bay without a clock; it never goes back."""
        self._now = max(self._now, t)

    def plug_source(self, name: str, owner: object = None) -> Source:
        """Plug in a device that plays, such as a keyboard."""
        source = Source(self, name, owner)
        self.sources.append(source)
        return source

    def plug_sink(self, name: str, owner: object = None) -> Sink:
        """Plug in a device that is played on, such as a sound module."""
        sink = Sink(self, name, owner)
        self.sinks.append(sink)
        return sink

    def pull(self, name: str) -> None:
        """Pull out everything of that name."""
        for port in self._ports():
            if port.name == name:
                port.close()

    def fail(self) -> None:
        """Let the whole system die, as a server does: every open port is lost."""
        for port in self._ports():
            port.close()
        self.failed = True

    def restore(self) -> None:
        """Start the system again, with nothing plugged in."""
        self.failed = False

    def _ports(self) -> list[Source | Sink]:
        return [*self.sources, *self.sinks]


class Sink:
    """Takes messages in; as a port of a program it is a `MidiInput`."""

    def __init__(self, bay: PatchBay, name: str, owner: object = None) -> None:
        self.name = name
        self.owner = owner
        self._bay = bay
        self._waiting: list[Stamped] = []
        self.is_there = True

    def take(self, data: Sequence[int]) -> None:
        """Take a message, now; SysEx and active sensing are left out, as on every input of ours."""
        if self.is_there and data[0] not in _LEFT_OUT:
            self._waiting.append(Stamped(self._bay.now, tuple(data)))

    def poll(self) -> list[Stamped]:
        """Return what has come in since the last call; PortError if the system died."""
        if self._bay.failed:
            raise _gone(self.name)
        got, self._waiting = self._waiting, []
        return got

    def close(self) -> None:
        """Pull it out; twice is once."""
        self.is_there = False
        if self in self._bay.sinks:
            self._bay.sinks.remove(self)


class Source:
    """Plays to whoever listens; as a port of a program it is a `MidiOutput`."""

    def __init__(self, bay: PatchBay, name: str, owner: object = None) -> None:
        self.name = name
        self.owner = owner
        self._bay = bay
        self.listeners: list[Sink] = []
        self.is_there = True

    def send(self, data: Sequence[int]) -> None:
        """Play a message to all that listen; PortError if it was pulled out."""
        if not self.is_there:
            raise _gone(self.name)
        for listener in self.listeners:
            listener.take(data)

    def close(self) -> None:
        """Pull it out; twice is once."""
        self.is_there = False
        if self in self._bay.sources:
            self._bay.sources.remove(self)


class _Listening:
    """An input that listens to somebody's source."""

    def __init__(self, bay: PatchBay, source: Source) -> None:
        self.name = source.name
        self._ear = Sink(bay, source.name)
        self._source = source
        source.listeners.append(self._ear)

    def poll(self) -> list[Stamped]:
        """Return what has come in since the last call; PortError if the system died."""
        return self._ear.poll()

    def close(self) -> None:
        """Listen no more; twice is once."""
        self._ear.close()
        if self._ear in self._source.listeners:
            self._source.listeners.remove(self._ear)


class _Sending:
    """An output to somebody's sink."""

    def __init__(self, sink: Sink) -> None:
        self.name = sink.name
        self._sink: Sink | None = sink

    def send(self, data: Sequence[int]) -> None:
        """Send one message now; PortError if the sink was pulled out."""
        if self._sink is None or not self._sink.is_there:
            raise _gone(self.name)
        self._sink.take(data)

    def close(self) -> None:
        """Send no more; twice is once."""
        self._sink = None


class MemoryMidi:
    """A program's view of a bay: a `jam.ports.midi.MidiSystem`.

    Several programs on one bay see each other's ports as ``client:port``.
    """

    def __init__(
        self,
        bay: PatchBay,
        client: str = "phrase-turns",
        *,
        name: str = "memory",
        has_virtual: bool = True,
    ) -> None:
        self.name = name
        self.has_virtual = has_virtual
        self._bay = bay
        self._client = client

    def inputs(self) -> list[str]:
        """Return the names of the ports we can hear, without those that we made."""
        return [port.name for port in self._sources()]

    def outputs(self) -> list[str]:
        """Return the names of the ports we can send to, without those that we made."""
        return [port.name for port in self._sinks()]

    def open_input(self, name: str) -> MidiInput:
        """Listen to the port of exactly that name."""
        for port in self._sources():
            if port.name == name:
                return _Listening(self._bay, port)
        raise _missing("input", name, self.inputs())

    def open_output(self, name: str) -> MidiOutput:
        """Send to the port of exactly that name."""
        for port in self._sinks():
            if port.name == name:
                return _Sending(port)
        raise _missing("output", name, self.outputs())

    def virtual_input(self, name: str) -> MidiInput:
        """Make a port of our own that others send to."""
        return self._bay.plug_sink(self._own_name(name), self)

    def virtual_output(self, name: str) -> MidiOutput:
        """Make a port of our own that others listen to."""
        return self._bay.plug_source(self._own_name(name), self)

    def close(self) -> None:
        """Nothing to do: listing costs nothing here."""

    def _sources(self) -> list[Source]:
        return [port for port in self._bay.sources if port.owner is not self]

    def _sinks(self) -> list[Sink]:
        return [port for port in self._bay.sinks if port.owner is not self]

    def _own_name(self, name: str) -> str:
        if self._bay.failed or not self.has_virtual:
            raise PortError(f"{self.name} has no ports of a program's own now")
        return f"{self._client}:{name}"


def _missing(what: str, name: str, names: Sequence[str]) -> PortError:
    listed = ", ".join(names) or "none"
    return PortError(f'there is no MIDI {what} "{name}"', f"There are: {listed}.")


def _gone(name: str) -> PortError:
    return PortError(f'the MIDI port "{name}" is gone', "It is taken again when it is back.")
