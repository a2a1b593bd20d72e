"""YAML's traps, tried one by one; the traps are those of YAML 1.1 (yaml.org, type repository)."""

from __future__ import annotations

import pytest
from pydantic import BaseModel, ConfigDict

from jam.errors import InputError
from jam.yaml_text import load_marked, validate


class Weights(BaseModel):
    model_config = ConfigDict(extra="forbid")
    approach: float = 0.5


class Sheet(BaseModel):
    model_config = ConfigDict(extra="forbid")
    title: str
    weights: Weights = Weights()
    bars: list[int] = []


def error_of(text: str, model: type[BaseModel] | None = None) -> InputError:
    with pytest.raises(InputError) as caught:
        validate(model, text, "sheet.yaml") if model else load_marked(text, "sheet.yaml")
    return caught.value


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("12:8", "12:8"),
        ("1:30", "1:30"),
        ("010", "010"),
        ("0x10", "0x10"),
        ("on", "on"),
        ("No", "No"),
        ("2024-01-01", "2024-01-01"),
        ("1_000", "1_000"),
        ("true", True),
        ("false", False),
        ("-7", -7),
        ("1.5", 1.5),
        ("1e3", "1e3"),
        ("'#11'", "#11"),
        ("~", None),
    ],
)
def test_scalars_are_what_they_look_like(typed: str, read: object) -> None:
    """Only decimal numbers, true and false change their kind; all else stays text."""
    data, _ = load_marked(f"value: {typed}\n", "sheet.yaml")
    assert isinstance(data, dict)
    assert data["value"] == read
    assert type(data["value"]) is type(read)


@pytest.mark.parametrize(
    ("text", "line", "word"),
    [
        ("", None, "nothing in it"),
        ("a: 1\nb: 2\na: 3\n", 3, "twice"),
        ("a:\n\tb: 1\n", 2, "tab"),
        ("a:\n  - 9\n  - #11\n", 3, "Quote it"),
        ("a: [9, #11, 13]\nb: 2\n", 1, "'#11'"),
        ("a: F #m\n", 1, "`#m` after `F`"),
        ("a: #11\n", 1, "'#11'"),
        ("a: 1\nb:\n", 2, "no value"),
        ("a: b: c\n", 1, "second colon"),
        ("a: % | C6\n", 1, "may not begin so"),
        ("a: &x 1\nb: *x\n", 2, "write the value out"),
        ("a: !!python/object:os.x 1\n", 1, "not readable"),
        ("a: 'x\n", 2, "not readable"),
        ("a: b\n---\nc: d\n", 2, "another document"),
        ("[1, 2]: x\n", 1, "as a key"),
        ("a: \x00\n", None, "not readable"),
        ("[" * 1200, None, "too deep"),
    ],
)
def test_traps_are_errors(text: str, line: int | None, word: str) -> None:
    """What plain YAML would lose or misread is one error with its line and a mend."""
    error = error_of(text)
    assert error.source == "sheet.yaml"
    assert error.line == line
    assert word in str(error)
    assert error.mend


def test_lines_of_paths() -> None:
    """A path's line is its key's or item's; a block of text counts from its first line."""
    text = "a: 1\n# a comment\nb:\n  - c: 2\n  - d\ntext: |\n  one\n  two\n"
    _, lines = load_marked(text, "sheet.yaml")
    assert lines[("b",)] == 3
    assert lines[("b", 0, "c")] == 4
    assert lines[("b", 1)] == 5
    assert lines[("text",)] == 7


@pytest.mark.parametrize(
    ("text", "line", "field", "word"),
    [
        ("title: x\nweights:\n  aproach: 1\n", 3, "weights.aproach", "`approach`"),
        ("titel: x\n", 1, "titel", "`title`? (And 1 more.)"),
        ("weights: {}\n", 1, "title", "missing"),
        ("title: 3\n", 1, "title", "in quotes"),
        ("title: x\nbars:\n  - 4\n  - four\n", 4, "bars[1]", "'four'"),
        ("- title\n", 1, "", "found a list"),
    ],
)
def test_shape_mistakes(text: str, line: int, field: str, word: str) -> None:
    """A mistake of shape names its line, its path, and the value or the nearest key."""
    error = error_of(text, Sheet)
    assert (error.line, error.field) == (line, field)
    assert word in str(error)
