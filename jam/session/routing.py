"""Where everything comes from and goes to: ports, parts, the player's own keys, sound, levels.

A part (soloist, band, click) goes where ``ports.out`` says unless it says otherwise itself: to a
MIDI port on a channel, to the built-in sound on a pair of output channels, to both, or nowhere.
Keyboards send on channel 1 unless they are told otherwise (common practice), so the player's keys
have that one, and none of our parts (`jam.players.channels`) has.
"""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import (
    Field,
    ValidationError,
    ValidationInfo,
    ValidatorFunctionWrapHandler,
    field_validator,
    model_validator,
)

from jam.events import Part
from jam.players.channels import CHANNELS
from jam.ports.wishes import AUTO, NONE, Thru
from jam.session.piece import Channel, Controller, Level, Piece, Program

SOUND = "sound"
"""``ports.out`` as the built-in sound alone."""

Keep = Literal["keep"]
Auto = Literal["auto"]
_WORDS = {
    "channel": "a channel is 1 to 16, or auto",
    "program": "a program is 1 to 128, keep or auto",
    "sound": "it is a pair of outputs from 1 on, as in [3, 4], or none, or auto",
}
OutputPair = tuple[Annotated[int, Field(ge=1, le=64)], Annotated[int, Field(ge=1, le=64)]]


class Ports(Piece):
    """MIDI ports by name or a part of it; ``auto`` takes the first, ``none`` leaves it out."""

    system: str = AUTO
    player: str = AUTO
    band: str = NONE
    clock: str = NONE
    cues: str = NONE
    out: str = AUTO


class Route(Piece):
    """Where one part goes. ``auto`` is what the band says for its three, else the usual."""

    port: str = AUTO
    channel: Channel | Auto = "auto"
    program: Program | Keep | Auto = "auto"
    sound: OutputPair | Literal["none"] | Auto = "auto"

    @field_validator("channel", "program", "sound", mode="wrap")
    @classmethod
    def _in_plain_words(
        cls, value: object, read: ValidatorFunctionWrapHandler, info: ValidationInfo
    ) -> object:
        try:
            return read(value)
        except ValidationError:
            raise ValueError(_WORDS[info.field_name or ""]) from None

    def under(self, other: Route) -> Route:
        """Return this route, with what it leaves to others as ``other`` has it."""
        said = {name: value for name, value in self if value != AUTO}
        return other.model_copy(update=said)


class Parts(Piece):
    """A route for each part; ``band`` is short for bass, comping and drums."""

    companion: Route = Route()
    melody: Route = Route()
    band: Route = Route()
    bass: Route = Route()
    comping: Route = Route()
    drums: Route = Route()
    click: Route = Route()

    def route(self, part: Part) -> Route:
        """Return the route of a part; the melody goes where the companion goes."""
        own: Route = getattr(self, part)
        match part:
            case "melody":
                return own.under(self.companion)
            case "bass" | "comping" | "drums":
                return own.under(self.band)
        return own

    def channel(self, part: Part) -> int:
        """Return the channel of a part, from 1: its usual one where nothing is said."""
        said = self.route(part).channel
        return CHANNELS[part] + 1 if said == "auto" else said


class ThruTo(Piece):
    """What the player's own keys sound on besides the keyboard itself; ``port`` is the companion's
    unless it is said."""

    to: Thru = "off"
    port: str = AUTO
    channel: Channel = 1
    local_off: bool = False
    level: Level = 0.9


class Sound(Piece):
    """The sound device by name or a part of it, and its block in frames (0: as it likes)."""

    device: str = AUTO
    block: Annotated[int, Field(ge=0, le=8192)] = 256


class Levels(Piece):
    """Loudness of each part, 0 to 1, and of all together."""

    master: Level = 0.5
    companion: Level = 0.9
    melody: Level = 0.9
    bass: Level = 0.8
    comping: Level = 0.6
    drums: Level = 0.6
    click: Level = 0.5

    def of(self, part: Part) -> float:
        """Return the level of a part, 0 to 1."""
        level: float = getattr(self, part)
        return level


class LevelControls(Piece):
    """The controller that sets the level of a part, of the band's three, or of all together."""

    master: Controller | None = None
    companion: Controller | None = None
    melody: Controller | None = None
    band: Controller | None = None
    bass: Controller | None = None
    comping: Controller | None = None
    drums: Controller | None = None
    click: Controller | None = None

    @model_validator(mode="after")
    def _not_the_damper(self) -> Self:
        if any(number == 64 for _, number in self):
            raise ValueError("controller 64 is the damper pedal: choose another")
        return self

    def said(self) -> dict[str, int]:
        """Return the names that have a controller, with its number."""
        return {name: number for name, number in self if number is not None}

    def map(self) -> dict[int, tuple[Part | None, ...]]:
        """Return which parts each controller sets; None stands for all together."""
        return {number: _parts(name) for name, number in self.said().items()}


def _parts(name: str) -> tuple[Part | None, ...]:
    match name:
        case "master":
            return (None,)
        case "band":
            return ("bass", "comping", "drums")
        case "companion":
            return ("companion", "melody")
    return (name,)  # type: ignore[return-value]
