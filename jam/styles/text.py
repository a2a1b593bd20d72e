"""A reply style in plain text, line by line."""

from __future__ import annotations

from collections.abc import Iterator

from pydantic import BaseModel

from jam.styles.profile import Style


def describe(style: Style) -> str:
    """Return all that a style says, a line a key, as it would stand in its file."""
    return "\n".join(_lines(style, ""))


def _lines(part: BaseModel, indent: str) -> Iterator[str]:
    for key in type(part).model_fields:
        yield from _value_lines(key, getattr(part, key), indent)


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
    if isinstance(value, float):
        return f"{value:.4g}"
    text = str(value)
    return f'"{text}"' if text.startswith("#") else text
