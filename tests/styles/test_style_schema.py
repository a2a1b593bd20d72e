"""The JSON Schema of styles: it says the same as the loader, and something of every key."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
import yaml
from jsonschema import Draft202012Validator  # the reference checker of JSON Schema on PyPI

from jam.errors import InputError
from jam.session.resources import Entry, list_styles, read_text
from jam.styles.loader import load_style
from jam.styles.profile import Style
from jam.styles.schema import schema_text, style_schema
from jam.yaml_text import load_marked

HEAD = "name: mine\nabout: a try\n"
SHIPPED = [entry for entry in list_styles() if entry.origin == "built in"]


@pytest.fixture(scope="module")
def checker() -> Draft202012Validator:
    """Return the reference checker with our schema."""
    return Draft202012Validator(json.loads(schema_text()))


def test_it_is_a_schema(checker: Draft202012Validator) -> None:
    """It is good by the draft's own rules for schemas."""
    Draft202012Validator.check_schema(checker.schema)


@pytest.mark.parametrize("entry", SHIPPED, ids=lambda entry: entry.name)
def test_every_style_that_comes_along_fits(entry: Entry, checker: Draft202012Validator) -> None:
    """As it stands in its file, before the loader fills anything in."""
    data, _ = load_marked(read_text(entry.path), entry.name)
    assert [error.message for error in checker.iter_errors(data)] == []


def test_a_session_copy_fits(checker: Draft202012Validator) -> None:
    """A style written out whole with every key, too."""
    style = Style(name="x", about="y")
    data = yaml.safe_load(yaml.safe_dump(style.model_dump(mode="json")))
    assert [error.message for error in checker.iter_errors(data)] == []


WRONG = [
    "rhythm:\n  densty: 2\n",
    "rhythm:\n  density: 9\n",
    "rhythm: 3\n",
    "lines:\n  tensions: -0.1\n",
    "lines:\n  blue: yes\n",
    "instrument: trumpt\n",
    "instrument:\n  high: 200\n",
    "idea:\n  moves:\n    sequnce: 0.5\n",
    "vocabulary:\n  arpeggio: 2\n",
    "landing: [3, 15]\n",
    "landing: []\n",
    "landing: [3, 7, 3]\n",
    "rhythm:\n  density: true\n",
    "rhythm:\n  density: '1.8'\n",
    "instrument:\n  low: H4\n",
    "instrument:\n  bends: 1\n",
    "material: everthing\n",
    "barge_in: stop\n",
    "growth: much\n",
    "idiom:\n  weight: 1.5\n",
    "tension_curve: arc\n",
]
RIGHT = [
    "instrument: trumpet\n",
    "instrument: {name: flute, high: 90}\n",
    "landing: [3, 'b7', 13]\n",
    "instrument: {low: C#4, high: 84}\n",
    "based_on: bop\n",
    "idea: {moves: {invert: 0}}\n",
    "material: guide tones\n",
]


@pytest.mark.parametrize("text", WRONG)
def test_what_the_loader_refuses_the_schema_refuses(
    text: str, checker: Draft202012Validator
) -> None:
    """An editor marks what would be an error later."""
    data, _ = load_marked(HEAD + text, "mine.yaml")
    assert not checker.is_valid(data)
    with pytest.raises(InputError):
        load_style(HEAD + text, "mine.yaml")


@pytest.mark.parametrize("name", ["a/b", "a\\b", "x" * 61])
def test_names_are_those_that_files_can_have(name: str, checker: Draft202012Validator) -> None:
    """In the schema as in the loader."""
    assert not checker.is_valid({"name": name, "about": "a try"})
    assert checker.is_valid({"name": "late bus 2", "about": "a try"})


@pytest.mark.parametrize("text", RIGHT)
def test_what_the_loader_takes_the_schema_takes(text: str, checker: Draft202012Validator) -> None:
    """An editor marks nothing that is good."""
    data, _ = load_marked(HEAD + text, "mine.yaml")
    assert checker.is_valid(data)


def _keys(schema: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    for owner, block in [("style", schema), *schema["$defs"].items()]:
        for key, value in block["properties"].items():
            yield f"{owner}.{key}", value
            for name, inner in value.get("properties", {}).items():
                yield f"{owner}.{key}.{name}", inner


def test_every_key_is_explained() -> None:
    """Each has words of its own; a weight has its range in the schema and in those words or in
    those of its block."""
    seen = dict(_keys(style_schema()))
    assert len(seen) > 80
    assert [key for key, value in seen.items() if len(value.get("description", "")) < 8] == []
    numbers = {key: value for key, value in seen.items() if value.get("type") == "number"}
    assert all("minimum" in value and "maximum" in value for value in numbers.values())
    named = (".moves.", ".vocabulary.", ".literal")
    unranged = [
        key
        for key, value in numbers.items()
        if " to " not in value["description"] and not any(part in key for part in named)
    ]
    assert unranged == ["Feel.swing"]  # it names the ratios themselves
    blocks = ("Rhythm.", "Lines.", "Feel.", "Dynamics.", "IdiomChoice.", "style.growth")
    unheard = [
        key
        for key, value in numbers.items()
        if key.startswith(blocks) and ": " not in value["description"] and key != "Feel.swing"
    ]
    assert unheard == []
