"""The shape of a chart file: its keys, their kinds and their bounds.

What stands inside the texts (changes, melody, form) is read by its own module.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from jam.charts.model import Feel, Player


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)


class _Text(BaseModel):
    """Texts of bars keep their blank lines, so that lines can be counted."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class EndingShape(_Text):
    """A first or second ending: bars that follow the section's own."""

    changes: str
    melody: str | None = None


class SectionShape(_Text):
    """A section; ``bars`` is a check on the number of bars written, ``repeat`` how often it is
    played each time it is named in the form."""

    changes: str
    bars: int | None = Field(default=None, ge=1, le=256)
    repeat: int = Field(default=1, ge=1, le=16)
    melody: str | None = None
    melody_file: str | None = None
    first_ending: EndingShape | None = None
    second_ending: EndingShape | None = None


class RoadMapShape(_Part):
    """The way through: ``coda`` and ``tag`` name sections for the last time.

    ``tag_last_four`` plays the last four bars of all so many times more; ``ending: fermata`` holds
    the last chord until it is cut off.
    """

    count_in: int = Field(default=2, ge=0, le=8, description="bars")
    head: Player = "none"
    choruses: Annotated[int, Field(ge=1, le=200)] | Literal["open"] = "open"
    head_out: Player = "none"
    coda: str | None = None
    tag: str | None = None
    tag_last_four: int = Field(default=0, ge=0, le=8)
    ending: Literal["plain", "fermata"] = "plain"


class ChartShape(_Part):
    """A whole chart file; ``tempo`` is in pulses a minute."""

    title: str = Field(min_length=1)
    about: str = ""
    key: str
    metre: str
    pulse: Literal["quarter", "dotted quarter", "half", "bar"] | None = None
    tempo: float
    feel: Feel = "swing"
    blues: bool = False
    sections: dict[str, SectionShape] = Field(min_length=1)
    form: str | None = None
    melody_file: str | None = None
    road_map: RoadMapShape = RoadMapShape()
