"""Which part sends to which MIDI output: opens what is there, notices what goes, sets it up.

A port that several parts name is opened once. An output that is opened, or opened again, gets the
note-offs it is still owed and all notes off on the channels that were used, then the program and
the channel volume of its parts, with the pitch wheel at its centre.

Sources: MIDI 1.0 Detailed Specification: controllers 7 (channel volume), 64 (damper), 123 (all
notes off); E0 (pitch wheel).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from jam.errors import PortError
from jam.events import Part
from jam.players.bends import CENTRE, wheel_message
from jam.ports.midi import MidiOutput, MidiSystem
from jam.ports.thru import ALL_NOTES_OFF, DAMPER
from jam.ports.wanted import Wanted
from jam.ports.wishes import AUTO, NONE, VIRTUAL

VOLUME = 7

User = str
"""Who sends: a part, or `THRU`."""

THRU = "thru"
OWN_NAME = "out"
"""Name of the one output of our own that all who wish for a virtual one share."""

Bytes = Sequence[int]
Tell = Callable[[str, str], None]


@dataclass(eq=False)
class Line:
    """An open output, under the name that it was listed with; ``own`` if we made it."""

    name: str
    port: MidiOutput
    own: bool = False


@dataclass(eq=False)
class _Outlet:
    """A wished-for output: ``line`` is open, perhaps opened for another wish before."""

    wanted: Wanted
    users: list[User] = field(default_factory=list)
    line: Line | None = None
    owed: list[Bytes] = field(default_factory=list)
    channels: set[int] = field(default_factory=set)
    said: str = ""


@dataclass(frozen=True, slots=True)
class Voice:
    """How a user is set up: channel and program (None: as the device has it), level 0 to 1."""

    channel: int | None
    program: int | None
    level: float


class Outlets:
    """``voices`` says how each user is set up where it sends to; `want` says where that is.

    ``lost`` collects the users whose port went; whoever reads it empties it.
    """

    def __init__(self, voices: dict[User, Voice], client: str, tell: Tell) -> None:
        self.lines: dict[User, Line] = {}
        self.lost: list[User] = []
        self._voices = voices
        self._master = 1.0
        self._seen: dict[User, int] = {}
        self._tell = tell
        self._names: Sequence[str] = ()
        self._client = client
        self._outlets: dict[User, _Outlet] = {}

    def want(self, user: User, pattern: str) -> None:
        """Let a user send to what a pattern means; `look` opens it."""
        if pattern == NONE:
            return
        same = (outlet for outlet in self._all if outlet.wanted.pattern == pattern)
        outlet = next(same, None) or _Outlet(Wanted(pattern, self._client))
        outlet.users.append(user)
        self._outlets[user] = outlet
        if outlet.line is not None:
            self._connect(outlet, [user], "output")

    @property
    def _all(self) -> list[_Outlet]:
        return list(dict.fromkeys(self._outlets.values()))

    # --- sending -------------------------------------------------------------------------

    def send(self, user: User, data: Bytes) -> bool:
        """Send a message where its user sends to; return whether it went."""
        line = self.lines.get(user)
        if line is None:
            return False
        try:
            line.port.send(data)
        except Exception as error:  # whatever a driver raises, the port is of no use now
            if not isinstance(error, PortError):
                self._tell("fault", f"{line.name}: {type(error).__name__}: {error}")
            self._lose(line)
            return False
        return True

    def used(self, user: User, channel: int) -> None:
        """Remember that notes were sent on a channel."""
        outlet = self._outlets.get(user)
        if outlet is not None:
            outlet.channels.add(channel)
            self._seen[user] = channel

    def owe(self, user: User, data: Bytes) -> None:
        """Remember a note-off that could not be sent: it is sent when the port is back."""
        outlet = self._outlets.get(user)
        if outlet is not None:
            outlet.owed.append(data)

    def level(self, part: Part | None, level: float) -> None:
        """Set the loudness of a part, or of all of them, from 0 to 1."""
        if part is None:
            self._master = level
        for user, voice in self._voices.items():
            if user == part:
                self._voices[user] = voice = Voice(voice.channel, voice.program, level)
            channel = self._seen.get(user, voice.channel)
            if part in (None, user) and channel is not None:
                self.send(user, self._volume(channel, voice.level))

    def hush(self) -> None:
        """All notes off, dampers up and pitch wheels centred, on every channel that was used."""
        for outlet in self._all:
            for message in _hush(outlet.channels):
                self.send(outlet.users[0], message)

    # --- what is there -------------------------------------------------------------------

    def look(self, system: MidiSystem | None, names: Sequence[str]) -> None:
        """Give up what is gone, open what is there. ``names`` are the outputs of the system."""
        self._names = names
        for line in dict.fromkeys(self.lines.values()):
            if not line.own and line.name not in names:
                self._lose(line)
        if system is None:
            return
        for outlet in self._all:
            if outlet.line is None:
                self._seek(outlet, system, names)

    def close(self) -> None:
        """Close every port."""
        for line in dict.fromkeys(self.lines.values()):
            line.port.close()
        self.lines.clear()

    def _lose(self, line: Line) -> None:
        line.port.close()
        for outlet in self._all:
            if outlet.line is line:
                outlet.line = None
                outlet.wanted.gone(self._names)
                self.lost += outlet.users
                for user in outlet.users:
                    del self.lines[user]
                    self._tell("lost", f"{user}={line.name}")

    def _seek(self, outlet: _Outlet, system: MidiSystem, names: Sequence[str]) -> None:
        try:
            line = self._line(outlet, system, names)
        except PortError as error:
            self._say(outlet, str(error))
            return
        if line is None:
            self._say(outlet, _missing(outlet.wanted.pattern, names))
            return
        topic = "found" if outlet.wanted.taken else "output"
        outlet.line, outlet.wanted.taken, outlet.said = line, line.name, ""
        self._connect(outlet, outlet.users, topic)

    def _connect(self, outlet: _Outlet, users: Sequence[User], topic: str) -> None:
        assert outlet.line is not None
        name = outlet.line.name
        for user in users:
            self.lines[user] = outlet.line
        self._set_up(outlet, users)
        for user in users:
            if user in self.lines:
                self._tell(topic, f"{user}={name}")

    def _line(self, outlet: _Outlet, system: MidiSystem, names: Sequence[str]) -> Line | None:
        if outlet.wanted.pattern == VIRTUAL:
            if not system.has_virtual:
                return None
            port = system.virtual_output(OWN_NAME)
            return Line(port.name, port, own=True)
        name = outlet.wanted.choose(names)
        if name is None:
            return None
        there = (line for line in self.lines.values() if line.name == name)
        return next(there, None) or Line(name, system.open_output(name))

    def _set_up(self, outlet: _Outlet, users: Sequence[User]) -> None:
        messages = [*outlet.owed, *_hush(outlet.channels)]
        outlet.owed.clear()
        for user in users:
            voice = self._voices.get(user)
            if voice is None or voice.channel is None:
                continue
            if user != THRU:
                messages.append(wheel_message(voice.channel, CENTRE))
            if voice.program is not None:
                messages.append((0xC0 | voice.channel, voice.program))
            messages.append(self._volume(voice.channel, voice.level))
        for message in messages:
            self.send(outlet.users[0], message)

    def _volume(self, channel: int, level: float) -> Bytes:
        value = round(127 * min(max(level * self._master, 0.0), 1.0))
        return (0xB0 | channel, VOLUME, value)

    def _say(self, outlet: _Outlet, text: str) -> None:
        if outlet.said != text and not outlet.wanted.taken:
            self._tell("missing", f"{', '.join(outlet.users)}: {text}")
        outlet.said = text


def _hush(channels: set[int]) -> list[Bytes]:
    return [
        message
        for channel in sorted(channels)
        for message in (
            (0xB0 | channel, DAMPER, 0),
            (0xB0 | channel, ALL_NOTES_OFF, 0),
            wheel_message(channel, CENTRE),
        )
    ]


def _missing(pattern: str, names: Sequence[str]) -> str:
    if pattern == AUTO:
        return "neither sound nor a MIDI output is there. Plug one in: it is taken then"
    if pattern == VIRTUAL:
        return "this MIDI system has no ports of our own making. Name a port instead"
    return f'no MIDI output fits "{pattern}". There are: {", ".join(names) or "none"}'
