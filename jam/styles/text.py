"""A reply style or a phrase recipe in plain text, line by line."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from fractions import Fraction

from pydantic import BaseModel

from jam.styles.values import Part

_PLAIN_TEXT = re.compile(r"[\w.'()-]+(?: [\w.'()-]+)*")


def describe(part: Part) -> str:
    """Return all that a style or recipe says, a line a key, as a file that reads back the same."""
    return "\n".join(_lines(part, ""))


def _lines(part: BaseModel, indent: str) -> Iterator[str]:
    for key in type(part).model_fields:
        value = getattr(part, key)
        if value is not None:
            yield from _value_lines(key, value, indent)


def _value_lines(key: str, value: object, indent: str) -> Iterator[str]:
    if isinstance(value, BaseModel):
        yield f"{indent}{key}:"
        yield from _lines(value, indent + "  ")
    elif isinstance(value, dict):
        yield f"{indent}{key}:"
        for inner, weight in value.items():
            yield f"{indent}  {inner}: {weight:g}"
    elif isinstance(value, list) and value and isinstance(value[0], BaseModel):
        yield f"{indent}{key}:"
        for item in value:
            first, *rest = _lines(item, indent + "    ")
            yield f"{indent}  - {first.strip()}"
            yield from rest
    elif isinstance(value, list):
        yield f"{indent}{key}: [{', '.join(_plain(item) for item in value)}]"
    else:
        yield f"{indent}{key}: {_plain(value)}"


def _plain(value: object) -> str:
    """Return a number or a text as YAML reads it back: lengths like 1/3 as fractions."""
    if isinstance(value, float):
        fraction = Fraction(value).limit_denominator(48)
        exact = float(f"{value:.4g}") == value
        return f"{value:.4g}" if exact or float(fraction) != value else str(fraction)
    if isinstance(value, bool):
        return str(value).lower()
    text = str(value)
    plain = _PLAIN_TEXT.fullmatch(text) and text not in ("true", "false", "null")
    return text if plain else json.dumps(text, ensure_ascii=False)
