"""The frozen values that travel between the rooms.

Conventions: ``t``, ``at`` and ``end`` are seconds of the session; ``beat`` and ``beats`` are
quarter notes since the session's first downbeat (a count-in is negative); pitches and
velocities are MIDI numbers; channels run from 0 to 15. Nothing here does I/O.

Status bytes: MIDI 1.0 Detailed Specification (MIDI Manufacturers Association).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Port = Literal["player", "band", "clock", "cue"]
"""Where an input came from."""

Part = Literal["companion", "melody", "bass", "comping", "drums", "click"]
"""Who plays an output note."""

Bend = Literal["scoop", "fall"]
"""How a note's pitch moves: scooped up into from below, or falling off at its end."""

PLAYER: Port = "player"
BAND: Port = "band"
CLOCK: Port = "clock"
CUE: Port = "cue"


# --- what goes into the core -------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class MidiIn:
    """One whole MIDI message, stamped with the moment it happened."""

    t: float
    port: Port
    data: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Intent:
    """Something a person asked for on the page, in the terminal or in a file (see `jam.core`)."""

    t: float
    name: str
    value: object = None


@dataclass(frozen=True, slots=True)
class IoReport:
    """What the I/O side tells the core: a refused revocation, a lost port."""

    t: float
    what: str
    detail: Mapping[str, object]


Input = MidiIn | Intent | IoReport


# --- MIDI messages, decoded --------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class NoteOn:
    t: float
    port: Port
    channel: int
    pitch: int
    velocity: int


@dataclass(frozen=True, slots=True)
class NoteOff:
    t: float
    port: Port
    channel: int
    pitch: int


@dataclass(frozen=True, slots=True)
class Control:
    t: float
    port: Port
    channel: int
    number: int
    value: int


@dataclass(frozen=True, slots=True)
class Program:
    t: float
    port: Port
    channel: int
    number: int


@dataclass(frozen=True, slots=True)
class ClockTick:
    """F8: 24 of them to the quarter note."""

    t: float


@dataclass(frozen=True, slots=True)
class ClockStart:
    t: float


@dataclass(frozen=True, slots=True)
class ClockContinue:
    t: float


@dataclass(frozen=True, slots=True)
class ClockStop:
    t: float


@dataclass(frozen=True, slots=True)
class SongPosition:
    """F2: place in the song, in sixteenth notes from its start."""

    t: float
    sixteenths: int


Message = (
    NoteOn
    | NoteOff
    | Control
    | Program
    | ClockTick
    | ClockStart
    | ClockContinue
    | ClockStop
    | SongPosition
)


def decode(event: MidiIn) -> Message | None:
    """Return what the bytes mean, or None for what the companion has no use for.

    A note-on with velocity 0 is a note-off; any of the 16 channels is taken. Messages that are
    too short, or whose data bytes are out of range, are None: a port may deliver anything.
    """
    data = event.data
    if not data or any(not 0 <= byte <= 127 for byte in data[1:]):
        return None
    status, channel = data[0] & 0xF0, data[0] & 0x0F
    match status, len(data):
        case 0x90, 3 if data[2] > 0:
            return NoteOn(event.t, event.port, channel, data[1], data[2])
        case ((0x90 | 0x80), 3):
            return NoteOff(event.t, event.port, channel, data[1])
        case 0xB0, 3:
            return Control(event.t, event.port, channel, data[1], data[2])
        case 0xC0, 2:
            return Program(event.t, event.port, channel, data[1])
        case 0xF0, _:
            return _decode_system(event)
    return None


def _decode_system(event: MidiIn) -> Message | None:
    match event.data:
        case (0xF8,):
            return ClockTick(event.t)
        case (0xFA,):
            return ClockStart(event.t)
        case (0xFB,):
            return ClockContinue(event.t)
        case (0xFC,):
            return ClockStop(event.t)
        case (0xF2, low, high):
            return SongPosition(event.t, low | high << 7)
    return None


# --- what comes out of the core ----------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Play:
    """A whole note for the I/O side, handed over ahead of time.

    A second ``Play`` with the same ``id`` takes the place of the first, as long as that one
    has not begun to sound.
    """

    id: int
    part: Part
    t: float
    end: float
    channel: int
    pitch: int
    velocity: int
    bend: Bend | None = None


@dataclass(frozen=True, slots=True)
class Revoke:
    """Take back a note that has not begun to sound."""

    id: int


@dataclass(frozen=True, slots=True)
class Cut:
    """End note ``id`` at ``t``; if it would begin at or after ``t`` it never sounds."""

    id: int
    t: float


@dataclass(frozen=True, slots=True)
class Silence:
    """Panic: end every note now, forget every note to come."""


Command = Play | Revoke | Cut | Silence


@dataclass(frozen=True, slots=True)
class PartNote:
    """A note of the band, in beats, as the bass, comping, drums, click or melody plan it.

    ``beat`` and ``beats`` are on the written grid, before swing: the core places them in time.
    ``late_sec`` shifts the onset against the grid (negative is early).
    """

    part: Part
    channel: int
    beat: float
    beats: float
    pitch: int
    velocity: int
    late_sec: float = 0.0


Role = Literal["chord tone", "tension", "approach", "anticipation", "leaning", "blue", "free"]


@dataclass(frozen=True, slots=True)
class PlannedNote:
    """A note of a reply, with its place, its degree and its reason.

    ``beat`` and ``beats`` are on the grid; ``sounds_beat`` and ``sounds_beats`` say where it
    really lies after swing and time feel. ``degree`` and ``role`` are judged against ``chord``.
    ``bend`` is how the pitch moves while it sounds, None for a steady note.
    """

    beat: float
    beats: float
    pitch: int
    velocity: int
    sounds_beat: float
    sounds_beats: float
    chord: str
    degree: str
    role: Role
    move: str
    why: str
    bend: Bend | None = None
