"""Which role hears which MIDI input: opens what is there, notices what goes, dates nothing itself.

A port that several roles name is opened once. Its channel messages go to the first of them; its
system messages (clock, start, stop, song position) go to the role ``clock`` if that is among them
and nowhere else, so that a keyboard that ticks unasked fills no log.

``auto`` makes a port of our own while there is no other, and gives it up for one that appears,
unless somebody has played on it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from jam.errors import PortError
from jam.events import CLOCK, Port
from jam.ports.midi import MidiInput, MidiSystem, Stamped
from jam.ports.wanted import Wanted
from jam.ports.wishes import AUTO, NONE, VIRTUAL

_SENSING = 0xFE
"""Active sensing: a sign of life three times a second (MIDI 1.0)."""

Tell = Callable[[str, str], None]
"""Takes news: its topic, its text."""


@dataclass(eq=False)
class _Inlet:
    """A role's place: ``port`` is open, or ``shared`` is the inlet that has it open."""

    role: Port
    wanted: Wanted
    port: MidiInput | None = None
    shared: _Inlet | None = None
    own: bool = False
    used: bool = False
    said: str = ""


class Inlets:
    """``inputs`` are pairs of a role and a pattern, ``client`` is the name of our program.

    ``lost`` collects the roles whose port went; whoever reads it empties it.
    """

    def __init__(self, inputs: Sequence[tuple[Port, str]], client: str, tell: Tell) -> None:
        self._inlets = [_Inlet(r, Wanted(p, client)) for r, p in inputs if p != NONE]
        self.lost: list[Port] = []
        self._tell = tell
        self._names: Sequence[str] = ()

    def name_of(self, role: Port) -> str:
        """Return the name of the port a role has, "" if none or one of our own."""
        for inlet in self._inlets:
            owner = inlet.shared or inlet
            if inlet.role == role and owner.port is not None and not owner.own:
                return owner.wanted.taken
        return ""

    def poll(self) -> Iterator[tuple[Port, Stamped]]:
        """Yield what has come in, port by port, in order; a port that fails is lost."""
        for inlet in self._inlets:
            if inlet.port is None:
                continue
            try:
                messages = inlet.port.poll()
            except Exception as error:  # whatever a driver raises, the port is of no use now
                if not isinstance(error, PortError):
                    self._tell("fault", f"{inlet.role}: {type(error).__name__}: {error}")
                self._lose(inlet)
                continue
            for message in messages:
                inlet.used = True
                if message.data[0] < 0xF0:
                    yield inlet.role, message
                elif message.data[0] != _SENSING and self._is_clock(inlet):
                    yield CLOCK, message

    # --- what is there -------------------------------------------------------------------

    def look(self, system: MidiSystem | None, names: Sequence[str]) -> None:
        """Give up what is gone, take what is there. ``names`` are the inputs of the system."""
        self._names = names
        for inlet in self._inlets:
            if inlet.port is not None and not inlet.own and inlet.wanted.taken not in names:
                self._lose(inlet)
        if system is None:
            return
        for inlet in self._inlets:
            if inlet.port is None or (inlet.own and not inlet.used):
                self._seek(inlet, system, names)

    def close(self) -> None:
        """Close every port."""
        for inlet in self._inlets:
            self._shut(inlet)

    def _is_clock(self, inlet: _Inlet) -> bool:
        return any(i.role == CLOCK and inlet in (i, i.shared) for i in self._inlets)

    def _lose(self, inlet: _Inlet) -> None:
        assert inlet.port is not None
        name = inlet.port.name if inlet.own else inlet.wanted.taken
        self._tell("lost", f"{inlet.role}={name}")
        self.lost.append(inlet.role)
        self._shut(inlet)
        inlet.wanted.gone(self._names)

    def _seek(self, inlet: _Inlet, system: MidiSystem, names: Sequence[str]) -> None:
        try:
            name = inlet.wanted.choose(names)
            if name is not None:
                self._take(inlet, system, name)
            elif inlet.port is None and inlet.shared is None:
                self._do_without(inlet, system, names)
        except PortError as error:
            self._say(inlet, f"{inlet.role}: {error}")

    def _take(self, inlet: _Inlet, system: MidiSystem, name: str) -> None:
        owner = next(
            (i for i in self._inlets if i.port is not None and i.wanted.taken == name), None
        )
        if owner is not None:
            if inlet.shared is owner:
                return
            self._shut(inlet)
            inlet.shared = owner
        else:
            port = system.open_input(name)
            self._shut(inlet)
            inlet.port = port
        self._told(inlet, name)

    def _told(self, inlet: _Inlet, name: str) -> None:
        self._tell("found" if inlet.wanted.taken else "input", f"{inlet.role}={name}")
        inlet.wanted.taken, inlet.said = name, ""

    def _do_without(self, inlet: _Inlet, system: MidiSystem, names: Sequence[str]) -> None:
        pattern = inlet.wanted.pattern
        if pattern in (AUTO, VIRTUAL) and system.has_virtual and not inlet.wanted.taken:
            inlet.port, inlet.own = system.virtual_input(inlet.role), True
            self._tell("input", f"{inlet.role}={inlet.port.name}")
        if pattern == AUTO:
            self._say(inlet, f"{inlet.role}: no MIDI input is there. Plug one in: it is taken then")
        elif inlet.port is None:
            there = ", ".join(names) or "none"
            wished = "of our own" if pattern == VIRTUAL else f'that fits "{pattern}"'
            self._say(inlet, f"{inlet.role}: no MIDI input {wished}. There are: {there}")

    def _say(self, inlet: _Inlet, text: str) -> None:
        if inlet.said != text and not inlet.wanted.taken:
            self._tell("missing", text)
        inlet.said = text

    def _shut(self, inlet: _Inlet) -> None:
        if inlet.port is not None:
            inlet.port.close()
        for other in self._inlets:
            if other.shared is inlet:
                other.shared = None
        inlet.port, inlet.shared, inlet.own, inlet.used = None, None, False, False
