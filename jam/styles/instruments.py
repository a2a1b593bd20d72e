"""Instruments by name: what each can play, as MIDI numbers of the sounding pitch.

Ranges are those of orchestration textbooks (common practice, from memory: as in S. Adler, "The
Study of Orchestration"): saxophones from written B flat to written F, no notes above the keys;
brass without pedal notes. ``piano`` is its right hand, ``guitar`` one of twenty frets. The
longest phrase is a breath for those who blow; for the others it is as long as a phrase should be.
A fall or scoop is a bend of the pitch, which bars and hammers do not have.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Annotated, Any, Self

from pydantic import AfterValidator, Field, model_validator

from jam.harmony.spelling import spell
from jam.styles.values import Number, Part, Pitch, Truth, Whole


@dataclass(frozen=True, slots=True)
class Ability:
    """Lowest and highest sounding MIDI number, longest phrase, General MIDI program from 1."""

    low: int
    high: int
    breath_sec: float
    program: Whole
    bends: bool


INSTRUMENTS: Mapping[str, Ability] = {
    "tenor saxophone": Ability(44, 75, 10.0, 67, bends=True),  # Ab2 to Eb5
    "alto saxophone": Ability(49, 80, 10.0, 66, bends=True),  # Db3 to Ab5
    "soprano saxophone": Ability(56, 87, 10.0, 65, bends=True),  # Ab3 to Eb6
    "trumpet": Ability(52, 82, 8.0, 57, bends=True),  # E3 to Bb5
    "trombone": Ability(40, 70, 7.0, 58, bends=True),  # E2 to Bb4
    "clarinet": Ability(50, 89, 11.0, 72, bends=True),  # D3 to F6
    "flute": Ability(60, 96, 7.0, 74, bends=True),  # C4 to C7
    "vibraphone": Ability(53, 89, 12.0, 12, bends=False),  # F3 to F6
    "guitar": Ability(40, 84, 12.0, 27, bends=True),  # E2 to C6
    "piano": Ability(48, 96, 12.0, 1, bends=False),  # C3 to C7
}
"""Each instrument a style may name."""


def _known_instrument(name: str) -> str:
    if name in INSTRUMENTS or not name:
        return name
    near = get_close_matches(name.lower(), INSTRUMENTS, n=1, cutoff=0.5)
    mend = f"did you mean {near[0]!r}?" if near else f"use one of {', '.join(INSTRUMENTS)}"
    raise ValueError(f"{name!r} is no instrument here: {mend}")


InstrumentName = Annotated[str, AfterValidator(_known_instrument)]


class Instrument(Part):
    """What the companion plays: an instrument by name, or a range of your own.

    A name sets the rest; what stands beside it narrows the instrument.
    """

    name: InstrumentName = Field(
        default="", description="an instrument by name, as `trumpet`; empty: a range of your own"
    )
    low: Pitch = Field(
        default=55, description="lowest note as it sounds, by name (F3) or as a MIDI number (53)"
    )
    high: Pitch = Field(
        default=84, description="highest note as it sounds, by name (C6) or as a MIDI number (84)"
    )
    breath_sec: Number = Field(
        default=9.0,
        ge=1.0,
        le=60.0,
        description="longest phrase in one breath, in seconds (1 to 60): low, it breathes often",
    )
    program: Whole = Field(
        default=1, ge=1, le=128, description="General MIDI program, counted from 1"
    )
    bends: Truth = Field(
        default=False, description="whether it can bend a note: scoops into it, falls off it"
    )

    @model_validator(mode="before")
    @classmethod
    def _by_name(cls, given: Any) -> Any:
        """Take the plain name for all of it; what is given besides goes before."""
        wanted = {"name": given} if isinstance(given, str) else given
        name = wanted.get("name") if isinstance(wanted, dict) else None
        known = INSTRUMENTS.get(name) if isinstance(name, str) else None
        if known is None:
            return wanted
        able = {field: getattr(known, field) for field in known.__slots__}
        return {**able, **wanted}

    @model_validator(mode="after")
    def _an_octave_at_least(self) -> Self:
        if self.high - self.low < 12:
            raise ValueError(
                f"low {self.low} and high {self.high} are less than an octave apart:"
                " make high at least low + 12"
            )
        known = INSTRUMENTS.get(self.name)
        if known is not None and (self.low < known.low or self.high > known.high):
            raise ValueError(
                f"low {self.low} and high {self.high} are more than a {self.name} has: it goes"
                f" from {known.low} ({spell(known.low)}) to {known.high} ({spell(known.high)})"
            )
        return self
