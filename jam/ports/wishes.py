"""What the I/O process is asked to open: plain values that travel to it as one line of JSON.

A port is wished for by a *pattern*: ``auto`` (the first that is there and is not our own),
``virtual`` (a port of our own that other programs connect to, where the system has them),
``none``, or the name of a port or a part of it. The process goes on looking for what is not
there: a wish that cannot be met now is met when the port appears.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, field
from typing import Any, Literal, get_args

from jam.errors import JamError
from jam.events import Part, Port

AUTO, VIRTUAL, NONE = "auto", "virtual", "none"

Thru = Literal["off", "midi", "sound", "both"]
PARTS: tuple[Part, ...] = get_args(Part)


@dataclass(frozen=True, slots=True)
class PartWish:
    """Where a part goes: a MIDI port by pattern, built-in sound on output ``channels`` (from 0,
    a pair), or both, or neither. ``level`` runs from 0 to 1. ``channel`` and ``program`` (both
    from 0) are what is told to the MIDI port when it is opened; None tells it nothing."""

    part: Part
    port: str = NONE
    sound: tuple[int, int] | None = (0, 1)
    level: float = 1.0
    channel: int | None = None
    program: int | None = None


@dataclass(frozen=True, slots=True)
class ThruWish:
    """What the player's own keys sound on besides the keyboard itself.

    ``channel`` (from 0) is the channel they are sent on, one that no part uses, so that the
    player's damper holds nobody else's notes. ``local_off`` asks the keyboard not to sound its
    own keys (controller 122, MIDI 1.0), so that nothing is heard twice. ``silent`` are the
    messages that are cues, as ``("note" | "control" | "program", number)``: never passed on.
    """

    to: Thru = "off"
    port: str = NONE
    channel: int = 0
    local_off: bool = False
    level: float = 0.9
    silent: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True)
class SoundWish:
    """The sound device by pattern, its rate and block (frames; 0: as the device likes)."""

    device: str = AUTO
    block_frames: int = 256
    master: float = 0.5
    seed: int = 1


@dataclass(frozen=True)
class Wishes:
    """All of it. ``inputs`` are pairs of a role and a pattern; two roles that name the same
    port share it, under the first role. ``name`` is what other programs see us as.

    ``midi_system`` is ``auto``, a name of `jam.ports.midi` (``ALSA``, ``JACK`` ...), ``memory``
    or ``none``. Latencies are milliseconds from sending to hearing: notes leave so much earlier.
    ``real_time`` asks the system for real-time priority; it may refuse.
    """

    inputs: tuple[tuple[Port, str], ...] = ()
    parts: tuple[PartWish, ...] = ()
    thru: ThruWish = field(default_factory=ThruWish)
    sound: SoundWish = field(default_factory=SoundWish)
    name: str = "phrase-turns"
    midi_system: str = AUTO
    midi_out_ms: float = 0.0
    sound_ms: float = 0.0
    real_time: bool = True

    def to_json(self) -> str:
        """Return the wishes as one line."""
        return json.dumps(asdict(self), separators=(",", ":"))

    @classmethod
    def from_json(cls, line: str) -> Wishes:
        """Return the wishes in a line that `to_json` made; anything else is a JamError."""
        try:
            return _wishes(json.loads(line))
        except (ValueError, KeyError, TypeError, AttributeError) as error:
            raise JamError(f"these are no wishes for the I/O process: {error}") from None


def _wishes(values: dict[str, Any]) -> Wishes:
    thru = dict(values.pop("thru"))
    thru["silent"] = tuple((str(kind), int(number)) for kind, number in thru["silent"])
    parts = [
        PartWish(**{**part, "sound": None if part["sound"] is None else tuple(part["sound"])})
        for part in values.pop("parts")
    ]
    inputs = tuple((role, pattern) for role, pattern in values.pop("inputs"))
    sound = SoundWish(**values.pop("sound"))
    return Wishes(inputs, tuple(parts), ThruWish(**thru), sound, **values)
