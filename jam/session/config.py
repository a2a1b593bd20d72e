"""The configuration: ports, latencies, cues, split, levels, read from ``config/jam.yaml``.

Names of MIDI controllers: MIDI 1.0 Detailed Specification (64 damper, 66 sostenuto, 67 soft).
Note names follow the custom that C4 is middle C, MIDI number 60 (common practice; some makers
call it C3).
"""

from __future__ import annotations

from collections import Counter
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from jam.core.setup import CUES
from jam.listening.who import HeardPart, Split
from jam.session.notes import pitch_of
from jam.yaml_text import did_you_mean, validate

DAMPER = 64

Level = Annotated[float, Field(ge=0.0, le=1.0)]
LatencyMs = Annotated[float, Field(ge=0.0, le=500.0)]


def _known_cue(name: str) -> str:
    if name not in CUES:
        raise ValueError(f"`{name}` is no cue. {did_you_mean(name, list(CUES))}")
    return name


def _pitch(value: Any) -> Any:
    return pitch_of(value) if isinstance(value, str) else value


CueName = Annotated[str, AfterValidator(_known_cue)]
Pitch = Annotated[int, BeforeValidator(_pitch), Field(ge=0, le=127)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Ports(_Part):
    """MIDI ports by name or a part of it; ``auto`` takes the first, ``none`` leaves it out."""

    player: str = "auto"
    band: str = "none"
    clock: str = "none"
    cues: str = "none"
    out: str = "auto"


class Latency(_Part):
    """Milliseconds from sending to hearing."""

    midi_out_ms: LatencyMs = 0.0
    sound_ms: LatencyMs = 0.0


Channel = Annotated[int, Field(ge=1, le=16)] | Literal["any"]


class Trigger(_Part):
    """The note or the controller (one of them) that asks for a cue, on any channel."""

    note: int | None = Field(default=None, ge=0, le=127)
    control: int | None = Field(default=None, ge=0, le=119)

    @model_validator(mode="after")
    def _one_of_two(self) -> Self:
        if (self.note is None) == (self.control is None):
            raise ValueError("a cue needs a `note` or a `control`, and not both")
        if self.control == DAMPER:
            raise ValueError("controller 64 is the damper pedal: choose another")
        return self

    @property
    def message(self) -> tuple[str, int]:
        """``("note", number)`` or ``("control", number)``."""
        if self.note is not None:
            return "note", self.note
        assert self.control is not None
        return "control", self.control


def _pedals() -> dict[str, Trigger]:
    return {"take it": Trigger(control=66), "lay out": Trigger(control=67)}


class SplitAt(_Part):
    """How one keyboard is divided; ``at`` is the lowest MIDI pitch of the upper hand."""

    kind: Literal["off", "fixed", "reversed"] = "off"
    at: Pitch = 60


class HeardOn(_Part):
    """The channel of each part, from 1, for a port that carries several; ``any`` tells nothing."""

    line: Channel = "any"
    comping: Channel = "any"
    band: Channel = "any"


class Levels(_Part):
    """Loudness of each part, 0 to 1, and of all together."""

    master: Level = 0.5
    companion: Level = 0.9
    melody: Level = 0.9
    bass: Level = 0.8
    comping: Level = 0.6
    drums: Level = 0.6
    click: Level = 0.5


class Config(_Part):
    """A whole configuration; what a file leaves out is as the defaults here say."""

    style: str = "bop"
    ports: Ports = Ports()
    latency: Latency = Latency()
    cues: dict[CueName, Trigger] = Field(default_factory=_pedals)
    split: SplitAt = SplitAt()
    channels: HeardOn = HeardOn()
    levels: Levels = Levels()

    @model_validator(mode="after")
    def _triggers_differ(self) -> Self:
        count = Counter(trigger.message for trigger in self.cues.values())
        for (kind, number), times in count.items():
            if times > 1:
                raise ValueError(f"{times} cues share {kind} {number}: give each one of its own")
        return self

    def cue_map(self) -> dict[tuple[str, int], str]:
        """Return what `jam.core.setup.Setup` takes: message and number to the name of the cue."""
        return {trigger.message: name for name, trigger in self.cues.items()}

    def heard_channels(self) -> tuple[tuple[int, HeardPart], ...]:
        """Return pairs of a channel (0 to 15) and the part that plays on it."""
        named: tuple[tuple[HeardPart, Channel], ...] = (
            ("line", self.channels.line),
            ("comping", self.channels.comping),
            ("band", self.channels.band),
        )
        return tuple((number - 1, part) for part, number in named if number != "any")

    def keyboard_split(self) -> Split:
        """Return the split as the core takes it."""
        return Split(self.split.kind, self.split.at, self.heard_channels())


def load_config(text: str, source: str) -> Config:
    """Return the configuration that ``text`` describes; ``source`` is its name in errors.

    Raises InputError for anything that is none.
    """
    return validate(Config, text, source)[0]
