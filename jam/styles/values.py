"""The kinds of value a style is written with, and what makes each a good one."""

from __future__ import annotations

import re
from collections.abc import Mapping
from difflib import get_close_matches
from fractions import Fraction
from typing import Annotated, Any

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    Strict,
    WithJsonSchema,
)
from pydantic.config import JsonDict

from jam.harmony.pitch import parse_pitch
from jam.harmony.symbols import SymbolError
from jam.styles.names import DEGREES, FIGURES, MOVES


class Part(BaseModel):
    """A block of a style: frozen, and no key in it that is not known."""

    model_config = ConfigDict(extra="forbid", frozen=True)


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


def _known(name: str, known: tuple[str, ...], what: str) -> str:
    if name in known:
        return name
    near = get_close_matches(name.lower().replace(" ", "_"), known, n=1)
    mend = f"did you mean {near[0]!r}?" if near else f"use one of {', '.join(known)}"
    raise ValueError(f"{name!r} is no {what}: {mend}")


def _known_move(name: str) -> str:
    return _known(name, MOVES, "move")


def _known_figure(name: str) -> str:
    return _known(name, FIGURES, "figure")


def _plain(value: str) -> str:
    if not value.strip():
        raise ValueError("it is empty: write a word or two")
    return value.strip()


def _line(value: str) -> str:
    """Take line breaks for spaces."""
    if len(line := " ".join(value.split())) > LONGEST_LINE:
        raise ValueError(f"it has {len(line)} characters: write one line of {LONGEST_LINE} at most")
    return line


def _name(value: str) -> str:
    if not re.fullmatch(_NAME, value):
        raise ValueError(
            f"this is no name for a file: write {LONGEST_NAME} characters at most, in one line and"
            " without / or \\"
        )
    return value


def _number(value: Any) -> Any:
    """Refuse what is no number but would be taken for one: ``true``, ``"1.8"``."""
    if isinstance(value, bool | str):
        raise ValueError("write a number, without quotes")
    return value


def _pitch(value: Any) -> Any:
    """Take ``"F#3"`` for 54."""
    if isinstance(value, str):
        try:
            return parse_pitch(value.strip())
        except SymbolError:
            pass
    whole = isinstance(value, int | float) and float(value).is_integer()
    if isinstance(value, bool) or not whole:
        raise ValueError(
            f"{value!r} is no note: write its name with the octave, as C4 or F#3 (middle C is C4),"
            " or its MIDI number, as 60"
        )
    return value


LONGEST_LINE = 200
LONGEST_NAME = 60
_NAME = rf"[^/\\\x00-\x1f]{{1,{LONGEST_NAME}}}"

Number = Annotated[float, BeforeValidator(_number)]
Whole = Annotated[int, BeforeValidator(_number)]
Truth = Annotated[bool, Strict()]

Weight = Annotated[float, Field(ge=0.0, le=1.0), BeforeValidator(_number)]
"""From 0, never, to 1, as often as can be."""

Pitch = Annotated[
    int,
    Field(ge=21, le=108),
    BeforeValidator(_pitch),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "integer", "minimum": 21, "maximum": 108},
                {"type": "string", "pattern": "^[A-G](#{0,2}|b{0,2})[0-8]$"},
            ]
        }
    ),
]
"""A MIDI number, or the name of a note with its octave."""

Degree = Annotated[
    str,
    BeforeValidator(_known_degree),
    WithJsonSchema({"enum": [*DEGREES, *(int(name) for name in DEGREES if name.isdigit())]}),
]
Move = Annotated[str, AfterValidator(_known_move)]
Figure = Annotated[str, AfterValidator(_known_figure)]
PhraseBeats = Annotated[
    float,
    BeforeValidator(_fraction),
    Field(gt=0.0, le=8.0),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "number", "exclusiveMinimum": 0, "maximum": 8},
                {"type": "string", "pattern": "^[0-9]+(/[0-9]*[1-9][0-9]*)?$"},
            ]
        }
    ),
]
Words = Annotated[str, AfterValidator(_plain), WithJsonSchema({"type": "string", "minLength": 1})]
OneLine = Annotated[Words, AfterValidator(_line)]
FileName = Annotated[
    Words,
    AfterValidator(_name),
    WithJsonSchema({"type": "string", "pattern": f"^{_NAME}$"}),
]


def weighed(heard: Mapping[str, str], usual: Mapping[str, float]) -> JsonDict:
    """Return the schema of a block with a weight for each name, and what one hears of it."""
    weight: JsonDict = {"type": "number", "minimum": 0, "maximum": 1}
    names: JsonDict = {
        name: {**weight, "default": usual[name], "description": words}
        for name, words in heard.items()
    }
    return {"properties": names, "additionalProperties": False}
