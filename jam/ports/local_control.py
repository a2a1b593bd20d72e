"""Keep the player's keyboard from sounding its own keys while we pass them on, and undo it.

Local control is controller 122, a channel mode message: 0 off, 127 on (MIDI 1.0 Detailed
Specification). Which channel a keyboard heeds is its own affair, so it is told on all of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from jam.errors import PortError
from jam.ports.midi import MidiOutput, MidiSystem
from jam.ports.outlets import Line
from jam.ports.thru import LOCAL_CONTROL
from jam.ports.wanted import same_device

Tell = Callable[[str, str], None]


class LocalControl:
    """Switches the keyboard whose input is the player's."""

    def __init__(self, tell: Tell) -> None:
        self._tell = tell
        self._keyboard = ""
        self._port: MidiOutput | None = None
        self._borrowed = False

    def look(
        self, system: MidiSystem, names: Sequence[str], keyboard: str, lines: Iterable[Line]
    ) -> None:
        """Switch local control of a keyboard off, once for each time it appears ("": none)."""
        if keyboard == self._keyboard:
            return
        self._let_go()
        self._keyboard = keyboard
        name = next((name for name in names if keyboard and same_device(keyboard, name)), None)
        if name is not None:
            self._switch_off(system, name, lines)
        elif keyboard:
            self._tell("missing", f"{keyboard} cannot be told 'local off'. {_BY_HAND}")

    def restore(self) -> None:
        """Let the keyboard sound its own keys again."""
        if self._port is not None:
            self._send(127)
        self._let_go()

    def _switch_off(self, system: MidiSystem, name: str, lines: Iterable[Line]) -> None:
        line = next((line for line in lines if line.name == name), None)
        self._borrowed = line is not None
        try:
            self._port = line.port if line is not None else system.open_output(name)
        except PortError as error:
            self._tell("missing", f"{name} cannot be told 'local off': {error}. {_BY_HAND}")
            return
        self._send(0)

    def _send(self, value: int) -> None:
        assert self._port is not None
        try:
            for channel in range(16):
                self._port.send((0xB0 | channel, LOCAL_CONTROL, value))
        except PortError:
            self._let_go()

    def _let_go(self) -> None:
        if self._port is not None and not self._borrowed:
            self._port.close()
        self._port, self._keyboard = None, ""


_BY_HAND = "Switch Local Control off on the keyboard itself, or its keys sound twice"
