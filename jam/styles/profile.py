"""A reply style: what the soloist prefers, as typed numbers.

Weights run from 0 (as seldom as the idea, the idiom and the rules allow; of moves and figures:
never) to 1 (as often as those allow). The hard rules of a reply are no style's business and cannot
be switched off here. The blocks of a style
are in `jam.styles.parts`, the words it may use in `jam.styles.names`.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Discriminator, Field, Tag, field_validator

from jam.styles.instruments import Instrument
from jam.styles.names import DEGREES, FIGURES, FIGURES_HEARD, MOVES, USUAL_FIGURES
from jam.styles.parts import (
    Dynamics,
    Feel,
    Idea,
    IdiomChoice,
    Lines,
    Recipe,
    Rhythm,
)
from jam.styles.recipe_text import LineRecipe
from jam.styles.values import Degree, Figure, FileName, OneLine, Part, Weight, Words, weighed

__all__ = [
    "DEGREES",
    "FIGURES",
    "MOVES",
    "BargeIn",
    "Dynamics",
    "Feel",
    "Idea",
    "IdiomChoice",
    "Instrument",
    "LineRecipe",
    "Lines",
    "Material",
    "Recipe",
    "Rhythm",
    "StockPhrase",
    "Style",
    "Weight",
]

BargeIn = Literal["finish", "yield", "shorten"]
"""What it does when the player comes in early: finish the figure; end within an eighth; end this
turn at once and trade shorter turns from then on."""

Material = Literal["everything", "guide tones", "chord tones", "arpeggios", "approaches"]
"""What a line may be made of, and strictly no more: 3 and 7; chord tones; chord tones and the
available tensions of the chord's function; those with approach notes and enclosures."""


def _written_as(recipe: object) -> str:
    """Tell how a stock phrase is written: as a name, a line of devices, or degrees with beats."""
    if isinstance(recipe, str):
        return "by name"
    line = "line" in recipe if isinstance(recipe, dict) else isinstance(recipe, LineRecipe)
    return "as a line" if line else "as degrees"


StockPhrase = Annotated[
    Annotated[Recipe, Tag("as degrees")]
    | Annotated[LineRecipe, Tag("as a line")]
    | Annotated[Words, Tag("by name")],
    Discriminator(_written_as),
]
"""A stock phrase; the loader puts the recipe in the place of its name."""

TensionCurve = Literal["arch", "rising", "level"]


class Style(Part):
    """A whole reply style, as read from ``styles/NAME.yaml``."""

    name: FileName = Field(description="what the style is called: the same as its file")
    about: OneLine = Field(description="one line that tells a musician what to expect")
    based_on: Words | None = Field(
        default=None,
        description="another style by name: what is not said here is as it is there",
    )
    instrument: Instrument = Field(
        default=Instrument(), description="an instrument by name, or a range of your own"
    )
    rhythm: Rhythm = Field(default=Rhythm(), description="how the line moves in time")
    lines: Lines = Field(default=Lines(), description="how the line moves from note to note")
    vocabulary: dict[Figure, Weight] = Field(
        default_factory=lambda: dict(USUAL_FIGURES),
        description="weight of each figure, 0 to 1; what is not named keeps its usual one",
        json_schema_extra=weighed(FIGURES_HEARD, USUAL_FIGURES),
    )
    feel: Feel = Field(default=Feel(), description="time feel and articulation")
    dynamics: Dynamics = Field(default=Dynamics(), description="how loud it is")
    idea: Idea = Field(default=Idea(), description="what it does with your idea")
    idiom: IdiomChoice = Field(
        default=IdiomChoice(), description="what people usually play, and how much it counts"
    )
    material: Material = Field(
        default="everything",
        description="what lines may be made of, and strictly no more: for study",
    )
    barge_in: BargeIn = Field(
        default="yield",
        description="what it does when you come in early: finish its figure, yield within an"
        " eighth, or shorten the turns from then on",
    )
    growth: Weight = Field(
        default=0.4,
        description="how much a chorus builds, 0 to 1: fuller and higher towards its last third",
    )
    landing: list[Degree] = Field(
        default_factory=lambda: ["3", "7", "5", "1", "9", "13", "11"],
        min_length=1,
        description="degrees in order of taste for the note at a change of chord, each once",
        json_schema_extra={"uniqueItems": True},
    )
    tension_curve: TensionCurve = Field(
        default="arch", description="where in a phrase the colour is: arch, rising or level"
    )
    recipes: list[StockPhrase] = Field(
        default_factory=list,
        description="stock phrases for when there is no idea to answer: phrase recipes by name, or"
        " written out as a line of devices, or as degrees with their beats",
    )

    @field_validator("vocabulary")
    @classmethod
    def _every_figure_weighed(cls, vocabulary: dict[str, float]) -> dict[str, float]:
        return {name: vocabulary.get(name, USUAL_FIGURES[name]) for name in FIGURES}

    @field_validator("landing")
    @classmethod
    def _named_once(cls, landing: list[str]) -> list[str]:
        for place, degree in enumerate(landing):
            if degree in landing[:place]:
                raise ValueError(f"{degree!r} is named twice: name each degree once")
        return landing

    @field_validator("recipes")
    @classmethod
    def _names_differ(cls, recipes: list[StockPhrase]) -> list[StockPhrase]:
        names = [recipe if isinstance(recipe, str) else recipe.name for recipe in recipes]
        for place, name in enumerate(names):
            if name in names[:place]:
                raise ValueError(f"two recipes are called {name!r}: give each a name of its own")
        return recipes
