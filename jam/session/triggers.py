"""What asks for a cue: one note, one controller or one program change, on any channel.

Names of MIDI controllers: MIDI 1.0 Detailed Specification (64 damper, 66 sostenuto, 67 soft).
Numbers of controllers and notes are those of MIDI; programs count from 1, as printed lists do.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from jam.core.setup import CUES
from jam.session.notes import pitch_of
from jam.session.piece import Controller, Piece, Pitch, Program
from jam.yaml_text import did_you_mean

DAMPER = 64
NOTHING = "none"
"""Stands for the trigger of a cue that nothing shall ask for."""

Message = tuple[Literal["note", "control", "program"], int]
"""What the core compares: the kind, and the number as MIDI has it (programs from 0)."""


class Trigger(Piece):
    """The note, the controller or the program change (one of them) that asks for a cue."""

    note: Pitch | None = None
    control: Controller | None = None
    program: Program | None = None

    @model_validator(mode="after")
    def _one_of_three(self) -> Self:
        if sum(number is not None for number in (self.note, self.control, self.program)) != 1:
            raise ValueError("a cue needs a `note`, a `control` or a `program`, and one of them")
        if self.control == DAMPER:
            raise ValueError("controller 64 is the damper pedal: choose another")
        return self

    @property
    def message(self) -> Message:
        """The kind of message and its number, programs from 0."""
        if self.note is not None:
            return "note", self.note
        if self.control is not None:
            return "control", self.control
        assert self.program is not None
        return "program", self.program - 1

    def __str__(self) -> str:
        return described(self.message)


def described(message: Message) -> str:
    """Return a message in the words of the configuration: ``control 66``, ``program 1``."""
    kind, number = message
    return f"{kind} {number + (kind == 'program')}"


def trigger_of(text: str) -> Trigger:
    """Return the trigger typed as ``control:66``, ``note:A0``, ``note:21`` or ``program:3``.

    Raises ValueError with what would do.
    """
    kind, _, number = text.strip().lower().replace(" ", ":", 1).partition(":")
    if kind not in ("note", "control", "program") or not number:
        raise ValueError(f"{text!r} is none: write control:66, note:A0 or program:3")
    value = pitch_of(number) if kind == "note" else _number(kind, number)
    if (kind, value) == ("control", DAMPER):
        raise ValueError("controller 64 is the damper pedal: choose another")
    return Trigger.model_validate({kind: value})


def _number(kind: str, text: str) -> int:
    lowest, highest = (1, 128) if kind == "program" else (0, 119)
    if not (text.isascii() and text.isdigit() and lowest <= int(text) <= highest):
        raise ValueError(f"{text!r} is no {kind}: take {lowest} to {highest}")
    return int(text)


def known_cue(name: str) -> str:
    """Return the name of a cue; raises ValueError with the nearest one for anything else."""
    plain = " ".join(name.lower().replace("-", " ").replace("_", " ").split())
    if plain not in CUES:
        raise ValueError(f"`{name}` is no cue. {did_you_mean(plain, list(CUES))}")
    return plain


def _without_nothing(value: Any) -> Any:
    """Leave out the cues that nothing shall ask for."""
    if not isinstance(value, Mapping):
        return value
    return {name: trigger for name, trigger in value.items() if trigger != NOTHING}


CueName = Annotated[str, AfterValidator(known_cue)]
Cues = Annotated[dict[CueName, Trigger], BeforeValidator(_without_nothing)]


class CuesFile(Piece):
    """The cues that were learnt by pressing them: a file of the user's own."""

    cues: dict[CueName, Trigger | Literal["none"]] = Field(default_factory=dict)
