"""The blocks of a style: each field says its unit, its range and what one hears when it grows.

A *wish* steers what is drawn, and what is drawn also follows the idea that is taken up, the idiom
and the rules: 0 is as seldom and 1 as often as those allow, neither never nor always. (Measured on
the style `bop`, 120 replies at 160 bpm, from 0 to 1: phrases that begin off the beat 19 to 75 %,
beats in triplets 3 to 19 %, in sixteenths 2 to 11 %.)

The defaults of rhythm and feel sit near the middle of human solos in 4/4 swing: 67.6 % of phrases
start and 57.1 % end off the beat, swing ratio 1.3 at 120 to 200 bpm (own counts over 208 solos of
the Weimar Jazz Database: Pfleiderer et al. 2017, "Inside the Jazzomat", ODbL 1.0).
"""

from __future__ import annotations

from typing import Self

from pydantic import Field, field_validator, model_validator

from jam.styles.names import MOVES, MOVES_HEARD, USUAL_MOVES
from jam.styles.values import (
    Degree,
    Move,
    Number,
    Part,
    PhraseBeats,
    Weight,
    Whole,
    Words,
    weighed,
)


class Rhythm(Part):
    """How the line moves in time."""

    density: Number = Field(
        default=1.8,
        ge=0.3,
        le=4.0,
        description="notes a beat inside a phrase at 160 bpm (0.3 to 4): long notes against runs",
    )
    triplets: Weight = Field(
        default=0.15,
        description="wish for beats in triplets, 0 to 1, where idea and idiom leave them free: the"
        " line rolls",
    )
    sixteenths: Weight = Field(
        default=0.0,
        description="wish for beats in sixteenths, 0 to 1, where idea and idiom leave them free:"
        " bursts of double time",
    )
    rests: Weight = Field(
        default=0.08, description="wish for empty beats inside a phrase, 0 to 1: it halts"
    )
    start_off_beat: Weight = Field(
        default=0.7,
        description="wish for phrases that begin off the beat, 0 to 1, where no idea sets their"
        " beginning: it pushes in",
    )
    end_off_beat: Weight = Field(
        default=0.6,
        description="wish for phrases that end off the beat, 0 to 1, where no idea sets their end:"
        " clipped ends",
    )
    space: Weight = Field(
        default=0.15,
        description="about how much of the turn is silent at its end, 0 to 1: it leaves you room",
    )
    two_phrases: Weight = Field(
        default=0.5,
        description="wish for four-bar replies in two phrases or more, 0 to 1: it breathes midway",
    )
    mirror: Weight = Field(
        default=0.7,
        description="how far it takes up how full you play, 0 to 1: 0 keeps its own density",
    )
    riffs: Weight = Field(
        default=0.1,
        description="wish for replies built on one short figure said again, 0 to 1: it insists",
    )


class Lines(Part):
    """How the line moves from note to note, and how much colour it takes on."""

    arpeggios: Weight = Field(
        default=0.5, description="liking for thirds and broken chords, 0 to 1: chords are heard"
    )
    scale: Weight = Field(default=0.6, description="liking for steps, 0 to 1: it runs smoothly")
    approach: Weight = Field(
        default=0.5, description="liking for passing and approach notes, 0 to 1: more chromatic"
    )
    enclosures: Weight = Field(
        default=0.4, description="liking for targets circled from both sides, 0 to 1: it winds"
    )
    tensions: Weight = Field(
        default=0.5, description="liking for 9, 11 and 13 over chord tones, 0 to 1: more colour"
    )
    altered: Weight = Field(
        default=0.3,
        description="how far dominants that go to major are altered, 0 to 1: b9 #9 b13 for 9 13",
    )
    blue: Weight = Field(
        default=0.2, description="liking for b3, b5 and b7 in a blues, 0 to 1: it cries"
    )
    leaps: Weight = Field(
        default=0.2, description="liking for fourths and wider, 0 to 1: angular instead of smooth"
    )
    repeats: Weight = Field(
        default=0.05, description="liking for the same note again, 0 to 1: it hammers"
    )
    anticipations: Weight = Field(
        default=0.3,
        description="liking for the next chord's notes before it comes, 0 to 1: it leads",
    )
    leaning: Weight = Field(
        default=0.2,
        description="liking for notes that lean on the change and then resolve, 0 to 1: it sighs",
    )


class Feel(Part):
    """Time feel. Swing and lateness are those at 160 bpm; both shrink as the tempo rises."""

    swing: Number = Field(
        default=1.4,
        ge=1.0,
        le=3.0,
        description="long against short eighth at 160 bpm (1 even, 2 triplets, 3 dotted)",
    )
    late_ms: Number = Field(
        default=25.0,
        ge=0.0,
        le=60.0,
        description="how far its downbeats lie behind the beat, in ms (0 to 60): laid back",
    )
    scatter_ms: Number = Field(
        default=4.0,
        ge=0.0,
        le=20.0,
        description="how far each note strays from its place, in ms (0 to 20): tight or loose",
    )
    human: Weight = Field(
        default=0.8,
        description="share of people's own drift in time that it takes on, 0 to 1: 1 as learnt",
    )
    legato: Number = Field(
        default=0.9,
        ge=0.2,
        le=1.0,
        description="sounding share of a note's length (0.2 to 1): short and dry, or joined",
    )
    ghosts: Weight = Field(
        default=0.1,
        description="wish for notes only hinted at, 0 to 1, among the weak ones inside a line: it"
        " murmurs",
    )
    falls: Weight = Field(
        default=0.05,
        description="share of long phrase ends that fall off in pitch, 0 to 1, if the instrument"
        " can: it drops them",
    )
    scoops: Weight = Field(
        default=0.1,
        description="wish for long, loud notes slid into from below, 0 to 1, if the instrument can:"
        " like a voice",
    )


class Dynamics(Part):
    """How loud it is, as MIDI velocities."""

    level: Whole = Field(
        default=84, ge=1, le=127, description="middle velocity, 1 to 127: soft or loud"
    )
    accent: Whole = Field(
        default=14,
        ge=0,
        le=60,
        description="how far accents stand out, in velocity (0 to 60): level or spoken",
    )
    mirror: Weight = Field(
        default=0.5, description="how far it takes up how loud you play, 0 to 1: 0 minds its own"
    )


class Idea(Part):
    """How your idea is developed."""

    literal: Weight = Field(
        default=0.7, description="1 keeps your idea note for note, 0 takes a hint from it"
    )
    quote: Weight = Field(
        default=0.2,
        description="wish for replies that take up something said earlier, 0 to 1: it remembers",
    )
    contrast: Weight = Field(
        default=0.2,
        description="wish for replies that do the opposite of yours, 0 to 1: low for high",
    )
    moves: dict[Move, Weight] = Field(
        default_factory=lambda: dict(USUAL_MOVES),
        description="weight of each move, 0 to 1; what is not named keeps its usual one",
        json_schema_extra=weighed(MOVES_HEARD, USUAL_MOVES),
    )

    @field_validator("moves")
    @classmethod
    def _every_move_weighed(cls, moves: dict[str, float]) -> dict[str, float]:
        filled = {name: moves.get(name, USUAL_MOVES[name]) for name in MOVES}
        if not any(filled.values()):
            raise ValueError("every move has weight 0: give at least one of them more")
        return filled


class IdiomChoice(Part):
    """What people usually play, and how much it counts."""

    name: Words = Field(
        default="mainstream", description="a learnt idiom by name; `plain` is the built-in one"
    )
    weight: Weight = Field(
        default=0.7,
        description="how much habit steers the pitches, 0 to 1: 0 follows only this style",
    )
    rhythm: Weight = Field(
        default=0.7, description="how much habit steers the rhythm, 0 to 1: 0 only this style"
    )


class Recipe(Part):
    """A stock phrase for when the call is empty: degrees over a chord, with lengths in beats.

    A length may be a number or a fraction as text (``1/3``).
    """

    name: Words = Field(description="what the phrase is called in the log")
    degrees: list[Degree] = Field(
        min_length=2, max_length=64, description="degrees over the chord, as 3 or '#11'"
    )
    beats: list[PhraseBeats] = Field(
        min_length=2, max_length=64, description="length of each note in beats, as 0.5 or 1/3"
    )

    @model_validator(mode="after")
    def _as_many(self) -> Self:
        if len(self.degrees) != len(self.beats):
            raise ValueError(
                f"{len(self.degrees)} degrees but {len(self.beats)} lengths in beats: write as many"
                " of one as of the other"
            )
        return self
