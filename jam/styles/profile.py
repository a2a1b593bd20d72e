"""A reply style: what the soloist prefers, as typed numbers.

Weights run from 0 (never) to 1 (as often as it can); shares are of all notes or beats. The hard
rules of a reply are no style's business and cannot be switched off here.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Weight = Annotated[float, Field(ge=0.0, le=1.0)]

MOVES = ("restate", "sequence", "same_rhythm", "invert", "displace", "fragment", "run", "arpeggio")
"""The moves of a conversation a style may weigh: what each does is in `jam.players.soloist`."""


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Instrument(_Part):
    """Range in MIDI numbers, longest phrase in one breath, MIDI channel counted from 1."""

    low: int = Field(55, ge=21, le=108)
    high: int = Field(84, ge=21, le=108)
    breath_sec: float = Field(9.0, ge=1.0, le=60.0)
    program: int = Field(1, ge=1, le=128, description="General MIDI program, counted from 1")


class Rhythm(_Part):
    """How the line moves in time.

    ``density`` is notes a beat inside a phrase; ``triplets`` and ``sixteenths`` are the share of
    beats that carry them; ``rests`` the share of beats left empty inside a phrase.
    """

    density: float = Field(1.8, ge=0.3, le=4.0)
    triplets: Weight = 0.15
    sixteenths: Weight = 0.0
    rests: Weight = 0.08
    start_off_beat: Weight = 0.7
    end_off_beat: Weight = 0.6
    space: Weight = Field(0.15, description="share of the turn left silent at its end")


class Lines(_Part):
    """What the line is made of, as weights."""

    arpeggios: Weight = 0.5
    scale: Weight = 0.6
    approach: Weight = 0.5
    enclosures: Weight = 0.4
    tensions: Weight = 0.5
    altered: Weight = Field(0.3, description="how far dominants that go to major are altered")
    blue: Weight = 0.2
    leaps: Weight = 0.2
    repeats: Weight = 0.05
    anticipations: Weight = 0.3
    leaning: Weight = 0.2


class Feel(_Part):
    """Time feel. ``swing`` is the soloist's own ratio at 160 bpm; ``late_ms`` how far its
    downbeats lie behind the beat there; both shrink as the tempo rises."""

    swing: float = Field(1.4, ge=1.0, le=3.0)
    late_ms: float = Field(25.0, ge=0.0, le=60.0)
    scatter_ms: float = Field(4.0, ge=0.0, le=20.0)
    legato: float = Field(0.9, ge=0.2, le=1.0, description="sounding share of a note's length")


class Dynamics(_Part):
    level: int = Field(84, ge=1, le=127)
    accent: int = Field(14, ge=0, le=60)
    mirror: Weight = Field(0.5, description="how far it takes up the player's dynamics")


class Idea(_Part):
    """How the player's idea is developed: ``literal`` 1 keeps it note for note, 0 takes a hint."""

    literal: Weight = 0.7
    moves: dict[str, Weight] = Field(default_factory=lambda: dict.fromkeys(MOVES, 0.5))


class Recipe(_Part):
    """A stock phrase for when the call is empty: degrees over a chord, with lengths in beats."""

    name: str
    degrees: list[str]
    beats: list[float]


class Style(_Part):
    """A whole reply style, as read from ``styles/NAME.yaml``."""

    name: str
    about: str
    instrument: Instrument = Instrument()
    rhythm: Rhythm = Rhythm()
    lines: Lines = Lines()
    feel: Feel = Feel()
    dynamics: Dynamics = Dynamics()
    idea: Idea = Idea()
    landing: list[str] = Field(
        default_factory=lambda: ["3", "7", "5", "1", "9", "13", "11"],
        description="degrees in order of taste for the note at a change",
    )
    tension_curve: Literal["arch", "rising", "level"] = "arch"
    recipes: list[Recipe] = Field(default_factory=list)
