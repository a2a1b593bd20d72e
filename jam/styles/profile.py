"""A reply style: what the soloist prefers, as typed numbers.

Weights run from 0 (never) to 1 (as often as it can); shares are of all notes or beats. The hard
rules of a reply are no style's business and cannot be switched off here.

Degrees are written as musicians write them. A plain number is the chord's own degree where the
chord has it: ``3`` is the minor third over a minor chord, ``7`` the flat seventh over a dominant.
A sign fixes the distance from the root: ``b9``, ``#11``. Two octaves of numbers (1 to 13) name
the same seven letters twice (2 is 9, 4 is 11, 6 is 13): the common practice of chord symbols.

The defaults of rhythm and feel sit near the middle of human solos in 4/4 swing: 67.6 % of phrases
start and 57.1 % end off the beat, swing ratio 1.3 at 120 to 200 bpm (own counts over 208 solos of
the Weimar Jazz Database: Pfleiderer et al. 2017, "Inside the Jazzomat", ODbL 1.0).
"""

from __future__ import annotations

from difflib import get_close_matches
from fractions import Fraction
from typing import Annotated, Any, Literal, Self, get_args

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    field_validator,
    model_validator,
)

Weight = Annotated[float, Field(ge=0.0, le=1.0)]

MoveName = Literal["restate", "sequence", "same_rhythm", "invert", "displace", "fragment"]

MOVES: tuple[str, ...] = get_args(MoveName)
"""The moves of a conversation a style may weigh: what each does is in `jam.players.soloist`."""

DEGREES: tuple[str, ...] = (
    *("1", "b2", "2", "b3", "3", "4", "#4", "b5", "5", "#5", "b6", "6", "b7", "7"),
    *("b9", "9", "#9", "11", "#11", "b13", "13"),
)
"""Every spelling of a degree that a style may use."""


def _known_degree(value: Any) -> Any:
    """Take ``3`` for ``"3"``, and name the spellings when it is none of them."""
    text = str(value) if isinstance(value, int) and not isinstance(value, bool) else value
    if isinstance(text, str) and text not in DEGREES:
        raise ValueError(f"{text!r} is no degree: use one of {', '.join(DEGREES)}")
    return text


def _fraction(value: Any) -> Any:
    """Take ``"1/3"`` for a third of a beat."""
    if not isinstance(value, str):
        return value
    try:
        return float(Fraction(value))
    except (ValueError, ZeroDivisionError):
        raise ValueError(f"{value!r} is no number of beats: write 0.5 or 1/3") from None


def _known_move(name: str) -> str:
    if name in MOVES:
        return name
    near = get_close_matches(name.lower(), MOVES, n=1)
    mend = f"did you mean {near[0]!r}?" if near else f"use one of {', '.join(MOVES)}"
    raise ValueError(f"{name!r} is no move: {mend}")


def _plain(value: str) -> str:
    if not value.strip():
        raise ValueError("it is empty: write a word or two")
    return value.strip()


Degree = Annotated[str, BeforeValidator(_known_degree)]
Move = Annotated[str, AfterValidator(_known_move)]
PhraseBeats = Annotated[float, BeforeValidator(_fraction), Field(gt=0.0, le=8.0)]
Words = Annotated[str, AfterValidator(_plain)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Instrument(_Part):
    """Range in MIDI numbers, longest phrase in one breath, MIDI channel counted from 1."""

    low: int = Field(default=55, ge=21, le=108)
    high: int = Field(default=84, ge=21, le=108)
    breath_sec: float = Field(default=9.0, ge=1.0, le=60.0)
    program: int = Field(
        default=1, ge=1, le=128, description="General MIDI program, counted from 1"
    )

    @model_validator(mode="after")
    def _an_octave_at_least(self) -> Self:
        if self.high - self.low < 12:
            raise ValueError(
                f"low {self.low} and high {self.high} are less than an octave apart:"
                " make high at least low + 12"
            )
        return self


class Rhythm(_Part):
    """How the line moves in time.

    ``density`` is notes a beat inside a phrase; ``triplets`` and ``sixteenths`` are the share of
    beats that carry them; ``rests`` the share of beats left empty inside a phrase.
    """

    density: float = Field(default=1.8, ge=0.3, le=4.0)
    triplets: Weight = 0.15
    sixteenths: Weight = 0.0
    rests: Weight = 0.08
    start_off_beat: Weight = 0.7
    end_off_beat: Weight = 0.6
    space: Weight = Field(default=0.15, description="share of the turn left silent at its end")


class Lines(_Part):
    """What the line is made of, as weights."""

    arpeggios: Weight = 0.5
    scale: Weight = 0.6
    approach: Weight = 0.5
    enclosures: Weight = 0.4
    tensions: Weight = 0.5
    altered: Weight = Field(
        default=0.3, description="how far dominants that go to major are altered"
    )
    blue: Weight = 0.2
    leaps: Weight = 0.2
    repeats: Weight = 0.05
    anticipations: Weight = 0.3
    leaning: Weight = 0.2


class Feel(_Part):
    """Time feel. ``swing`` is the soloist's own ratio at 160 bpm; ``late_ms`` how far its
    downbeats lie behind the beat there; both shrink as the tempo rises."""

    swing: float = Field(default=1.4, ge=1.0, le=3.0)
    late_ms: float = Field(default=25.0, ge=0.0, le=60.0)
    scatter_ms: float = Field(default=4.0, ge=0.0, le=20.0)
    legato: float = Field(
        default=0.9, ge=0.2, le=1.0, description="sounding share of a note's length"
    )


class Dynamics(_Part):
    level: int = Field(default=84, ge=1, le=127)
    accent: int = Field(default=14, ge=0, le=60)
    mirror: Weight = Field(default=0.5, description="how far it takes up the player's dynamics")


class Idea(_Part):
    """How the player's idea is developed: ``literal`` 1 keeps it note for note, 0 takes a hint."""

    literal: Weight = 0.7
    moves: dict[Move, Weight] = Field(default_factory=lambda: dict.fromkeys(MOVES, 0.5))

    @field_validator("moves")
    @classmethod
    def _every_move_weighed(cls, moves: dict[str, float]) -> dict[str, float]:
        """Fill in what is not named with 0.5."""
        filled = {name: moves.get(name, 0.5) for name in MOVES}
        if not any(filled.values()):
            raise ValueError("every move has weight 0: give at least one of them more")
        return filled


class Recipe(_Part):
    """A stock phrase for when the call is empty: degrees over a chord, with lengths in beats.

    A length may be a number or a fraction as text (``1/3``).
    """

    name: Words
    degrees: list[Degree] = Field(min_length=2, max_length=64)
    beats: list[PhraseBeats] = Field(min_length=2, max_length=64)

    @model_validator(mode="after")
    def _as_many(self) -> Self:
        if len(self.degrees) != len(self.beats):
            raise ValueError(
                f"{len(self.degrees)} degrees but {len(self.beats)} lengths in beats: write as many"
                " of one as of the other"
            )
        return self


class Style(_Part):
    """A whole reply style, as read from ``styles/NAME.yaml``."""

    name: Words
    about: Words
    instrument: Instrument = Instrument()
    rhythm: Rhythm = Rhythm()
    lines: Lines = Lines()
    feel: Feel = Feel()
    dynamics: Dynamics = Dynamics()
    idea: Idea = Idea()
    landing: list[Degree] = Field(
        default_factory=lambda: ["3", "7", "5", "1", "9", "13", "11"],
        min_length=1,
        description="degrees in order of taste for the note at a change",
    )
    tension_curve: Literal["arch", "rising", "level"] = "arch"
    recipes: list[Recipe] = Field(default_factory=list)

    @field_validator("landing")
    @classmethod
    def _named_once(cls, landing: list[str]) -> list[str]:
        for place, degree in enumerate(landing):
            if degree in landing[:place]:
                raise ValueError(f"{degree!r} is named twice: name each degree once")
        return landing

    @field_validator("recipes")
    @classmethod
    def _names_differ(cls, recipes: list[Recipe]) -> list[Recipe]:
        names = [recipe.name for recipe in recipes]
        for place, name in enumerate(names):
            if name in names[:place]:
                raise ValueError(f"two recipes are called {name!r}: give each a name of its own")
        return recipes
