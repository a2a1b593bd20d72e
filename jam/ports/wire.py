"""What brain and I/O process say to each other: records of `SIZE` bytes over two pipes.

Down goes first one line of JSON (`jam.ports.wishes`), then commands; up come messages heard,
messages sent, refusals and news. All times are machine seconds: those of ``time.perf_counter``,
which all processes of a machine share. The brain turns them into seconds of the session.

Notes travel whole, with their ``id``, ahead of their sound. ``handed`` is the moment the brain
meant when it spoke, so that what is done at once is dated alike here and in a session that is
performed again.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from jam.events import Bend, Part, Port
from jam.ports.wishes import PARTS

_LAYOUT = struct.Struct("<BBBBqddd24s")
SIZE = _LAYOUT.size
"""Bytes in a record: well below what a pipe takes in one piece (512, POSIX)."""

TEXT_BYTES = 24
PORTS: tuple[Port, ...] = ("player", "band", "clock", "cue")

# --- from the brain ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PlayNote:
    """Play a whole note; another one of the same ``id`` takes its place until it sounds."""

    id: int
    part: Part
    t: float
    end: float
    channel: int
    pitch: int
    velocity: int
    handed: float
    bend: Bend | None = None


@dataclass(frozen=True, slots=True)
class RevokeNote:
    id: int
    handed: float


@dataclass(frozen=True, slots=True)
class CutNote:
    """End a note at ``t``, now if that has passed."""

    id: int
    t: float
    handed: float


@dataclass(frozen=True, slots=True)
class SilenceAll:
    """Panic: end every note now, forget those to come; all controllers that hold are let go."""

    handed: float


@dataclass(frozen=True, slots=True)
class EndSounding:
    """Send the note-off of a note that a predecessor may have left on."""

    part: Part
    channel: int
    pitch: int


@dataclass(frozen=True, slots=True)
class SetLevel:
    """Loudness of a part, 0 to 1; ``part`` None is the master."""

    part: Part | None
    level: float


@dataclass(frozen=True, slots=True)
class Quit:
    """End every note and leave."""


Down = PlayNote | RevokeNote | CutNote | SilenceAll | EndSounding | SetLevel | Quit

# --- from the I/O process ----------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Ready:
    """All that could be opened is open. ``pid`` is of the process."""

    at: float
    pid: int


@dataclass(frozen=True, slots=True)
class Heard:
    """A MIDI message, dated ``t``, that was read at ``at``."""

    t: float
    at: float
    port: Port
    data: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class SentNote:
    """A note-on or note-off of note ``id``, or a turn of the pitch wheel for it, that left at
    ``at`` and was meant for ``t``."""

    id: int
    t: float
    at: float
    part: Part
    data: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Refused:
    """``what`` is ``play`` or ``revoke``; ``why`` in a few words; ``handed`` is the command's."""

    id: int
    what: str
    why: str
    at: float
    handed: float = 0.0


@dataclass(frozen=True, slots=True)
class EndedEarly:
    """Note ``id`` ended at ``t``, before its time (its port or its process was lost)."""

    id: int
    t: float


@dataclass(frozen=True, slots=True)
class News:
    """Something to tell: ``topic`` is one word, ``text`` plain words in ASCII or UTF-8.

    Topics: ``input`` and ``output`` (a port was taken: ``role or part=name``), ``lost`` and
    ``found`` (a port went or came back: ``role or part=name``), ``sound`` (device opened, lost,
    moved), ``missing`` (what is not there and what mends it), ``priority``, ``fault``.
    """

    topic: str
    text: str
    at: float


Up = Ready | Heard | SentNote | Refused | EndedEarly | News

TOPICS = ("input", "output", "lost", "found", "sound", "missing", "priority", "fault")
_WHATS = ("play", "revoke")
_BENDS: tuple[Bend | None, ...] = (None, "scoop", "fall")


def encode(record: Down | Up) -> bytes:
    """Return the bytes of a record: `SIZE` of them, or a multiple for a long text."""
    match record:
        case PlayNote(id, part, t, end, channel, pitch, velocity, handed, bend):
            data = bytes((channel, pitch, velocity, _BENDS.index(bend)))
            return _pack(1, PARTS.index(part), len(data), id, t, end, handed, data)
        case RevokeNote(id, handed):
            return _pack(2, 0, 0, id, 0.0, 0.0, handed)
        case CutNote(id, t, handed):
            return _pack(3, 0, 0, id, t, 0.0, handed)
        case SilenceAll(handed):
            return _pack(4, 0, 0, 0, 0.0, 0.0, handed)
        case EndSounding(part, channel, pitch):
            return _pack(5, PARTS.index(part), 2, 0, 0.0, 0.0, 0.0, bytes((channel, pitch)))
        case SetLevel(part, level):
            return _pack(6, _ALL if part is None else PARTS.index(part), 0, 0, level)
        case Quit():
            return _pack(7, 0, 0)
        case Ready(at, pid):
            return _pack(65, 0, 0, pid, at)
        case Heard(t, at, port, data):
            return _pack(66, PORTS.index(port), len(data), 0, t, at, 0.0, bytes(data))
        case SentNote(id, t, at, part, data):
            return _pack(67, PARTS.index(part), len(data), id, t, at, 0.0, bytes(data))
        case Refused(id, what, why, at, handed):
            return _text(68, _WHATS.index(what), id, at, why, handed)
        case EndedEarly(id, t):
            return _pack(69, 0, 0, id, t)
        case News(topic, text, at):
            return _text(70, TOPICS.index(topic), 0, at, text)


class Decoder:
    """Bytes in as they come, whole records out."""

    def __init__(self) -> None:
        self._bytes = bytearray()
        self._said = bytearray()

    def feed(self, data: bytes) -> Iterator[Down | Up]:
        """Take bytes; yield every record that is complete. An unknown one is a ValueError."""
        self._bytes += data
        whole = len(self._bytes) // SIZE * SIZE
        taken, self._bytes = bytes(self._bytes[:whole]), self._bytes[whole:]
        for fields in _LAYOUT.iter_unpack(taken):
            record = self._record(*fields)
            if record is not None:
                yield record

    def _record(
        self, kind: int, which: int, size: int, more: int, number: int,
        a: float, b: float, c: float, data: bytes,
    ) -> Down | Up | None:  # fmt: skip
        data = data[:size]
        if kind in (68, 70):
            self._said += data
            if more:
                return None
            text, self._said = self._said.decode("utf-8", "replace"), bytearray()
            if kind == 68:
                return Refused(number, _WHATS[which], text, a, b)
            return News(TOPICS[which], text, a)
        return _decoded(kind, which, number, a, b, c, data)


def encode_all(records: Iterable[Down | Up]) -> bytes:
    """Return the bytes of several records."""
    return b"".join(map(encode, records))


_ALL = 255


def _pack(
    kind: int, which: int, size: int, number: int = 0,
    a: float = 0.0, b: float = 0.0, c: float = 0.0, data: bytes = b"", *, more: bool = False,
) -> bytes:  # fmt: skip
    return _LAYOUT.pack(kind, which, size, more, number, a, b, c, data)


def _text(kind: int, which: int, number: int, at: float, text: str, handed: float = 0.0) -> bytes:
    said = text.encode()
    pieces = [said[i : i + TEXT_BYTES] for i in range(0, len(said), TEXT_BYTES)] or [b""]
    return b"".join(
        _pack(kind, which, len(piece), number, at, handed, data=piece, more=i < len(pieces) - 1)
        for i, piece in enumerate(pieces)
    )


def _decoded(
    kind: int, which: int, number: int, a: float, b: float, c: float, data: bytes
) -> Down | Up:
    match kind:
        case 1:
            bend = _BENDS[data[3]]
            return PlayNote(number, PARTS[which], a, b, data[0], data[1], data[2], c, bend)
        case 2:
            return RevokeNote(number, c)
        case 3:
            return CutNote(number, a, c)
        case 4:
            return SilenceAll(c)
        case 5:
            return EndSounding(PARTS[which], data[0], data[1])
        case 6:
            return SetLevel(None if which == _ALL else PARTS[which], a)
        case 7:
            return Quit()
        case 65:
            return Ready(a, number)
        case 66:
            return Heard(a, b, PORTS[which], tuple(data))
        case 67:
            return SentNote(number, a, b, PARTS[which], tuple(data))
        case 69:
            return EndedEarly(number, a)
    raise ValueError(f"no such record: {kind}")
