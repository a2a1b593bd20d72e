"""What all pieces of the configuration share: their base, and the kinds of values in them.

Note names follow the custom that C4 is middle C, MIDI number 60 (common practice; some makers
call it C3). Channels and programs count from 1, as musicians and printed lists do.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from jam.session.notes import pitch_of

OnOff = Literal["on", "off"]


class Piece(BaseModel):
    """A frozen piece of the configuration: what it does not know is an error."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def _pitch(value: Any) -> Any:
    return pitch_of(value) if isinstance(value, str) else value


def _word(value: Any) -> Any:
    """Let a number stand for the word it looks like: ``turns: 4``."""
    return str(value) if type(value) is int else value


Level = Annotated[float, Field(ge=0.0, le=1.0)]
LatencyMs = Annotated[float, Field(ge=0.0, le=500.0)]
Pitch = Annotated[int, BeforeValidator(_pitch), Field(ge=0, le=127)]
Channel = Annotated[int, Field(ge=1, le=16)]
Controller = Annotated[int, Field(ge=0, le=119)]
Program = Annotated[int, Field(ge=1, le=128)]
AsWord = BeforeValidator(_word)
