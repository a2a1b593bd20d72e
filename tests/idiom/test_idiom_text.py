"""Idioms as text: what is read back is what was written, and damage is one plain error."""

from __future__ import annotations

import base64
import json
from typing import Any

import numpy as np
import pytest
from idiom_made import corpus

from jam.errors import InputError
from jam.idiom.backoff import idiom_of
from jam.idiom.learn import learn
from jam.idiom.text import read_counts, read_idiom, write_idiom

COUNTS = learn([corpus(np.random.default_rng(3), 5)])
TEXT = write_idiom(COUNTS, name="made", about="Made up.", licence="yours", sources=("nobody",))


def test_what_is_read_is_what_was_written() -> None:
    """Counts and heading come back, and the tables are those of the counts."""
    assert read_counts(TEXT, "made.json") == COUNTS
    idiom = read_idiom(TEXT, "made.json")
    told = (idiom.name, idiom.about, idiom.licence, idiom.sources, idiom.notes)
    assert told == ("made", "Made up.", "yours", ("nobody",), 200)
    again = idiom_of(COUNTS, name="made")
    for table in ("steps", "first", "last", "following", "opening", "closing", "early_late"):
        assert np.array_equal(getattr(idiom, table), getattr(again, table)), table
    assert idiom.windows == COUNTS.windows
    assert idiom.text == TEXT


def test_the_same_counts_are_the_same_text() -> None:
    """Learning again gives the same file, byte for byte."""
    again = learn([corpus(np.random.default_rng(3), 5)])
    text = write_idiom(again, name="made", about="Made up.", licence="yours", sources=("nobody",))
    assert text == TEXT


def damaged(**values: Any) -> str:
    """Return the text with other values; None leaves the key out."""
    told = {**json.loads(TEXT), **values}
    return json.dumps({key: value for key, value in told.items() if value is not None})


STEPS = json.loads(TEXT)["steps"]
SPREADS = json.loads(TEXT)["spreads"]
DAMAGE: dict[str, tuple[str, Any]] = {
    "another kind": ("kind", "chart"),
    "no kind": ("kind", None),
    "a later format": ("format", 2),
    "no name": ("name", None),
    "a number for a name": ("name", 3),
    "no licence": ("licence", None),
    "a source alone": ("sources", "me"),
    "sources that are no texts": ("sources", [1]),
    "no patterns": ("patterns", None),
    "no empty pattern": ("patterns", [[0], [6]]),
    "a tick too far": ("patterns", [[], [12]]),
    "a pattern that falls": ("patterns", [[], [6, 0]]),
    "a pattern twice": ("patterns", [[], [0], [0]]),
    "too many patterns": ("patterns", [[], *([a, b] for a in range(12) for b in range(a + 1, 12))]),
    "no steps": ("steps", None),
    "a short row": ("steps", [STEPS[0][1:]]),
    "a class too many": ("steps", [[5, *STEPS[0][1:]]]),
    "a negative count": ("steps", [[*STEPS[0][:-1], -1]]),
    "half a count": ("steps", [[*STEPS[0][:-1], 0.5]]),
    "a row that is none": ("steps", [7]),
    "a pattern that is not there": ("beats", [[0, 0, 0, 99, 1]]),
    "an opening that is none": ("opening", {"a": 1}),
    "a last note without degree": ("last", [[0, 12, 1]]),
    "no spreads": ("spreads", None),
    "a spread too few": ("spreads", {**SPREADS, "swing": SPREADS["swing"][:3]}),
    "a spread that falls": ("spreads", {**SPREADS, "swing": [[2.0] + [1.0] * 20] * 4}),
    "a spread never measured": ("spreads", {**SPREADS, "swing": [[]] * 4}),
    "a swing of nought": ("spreads", {**SPREADS, "swing": [[0.0] * 21] * 4}),
    "windows that are no text": ("windows", [1, 2]),
    "windows that are no base64": ("windows", "!!!"),
    "windows cut short": ("windows", base64.b64encode(b"12345").decode()),
    "drift past one": ("drift", 1.5),
    "drift that is no number": ("drift", float("nan")),
    "no notes": ("notes", None),
    "notes that are words": ("notes", "many"),
    "fewer than no notes": ("notes", -1),
    "no phrases": ("phrases", None),
}


@pytest.mark.parametrize("damage", DAMAGE)
def test_damage_is_one_error_with_file_and_field(damage: str) -> None:
    """The error names the file, the field and what would mend it."""
    field, value = DAMAGE[damage]
    with pytest.raises(InputError) as caught:
        read_idiom(damaged(**{field: value}), "mine.json")
    assert caught.value.source == "mine.json"
    assert caught.value.field == field
    assert caught.value.problem
    assert "jam idiom" in caught.value.mend


@pytest.mark.parametrize("text", ["", "{", "[]", "null", "3", '{"kind": "idiom"', "[" * 100_000])
def test_what_is_no_idiom_at_all_is_refused(text: str) -> None:
    """Broken or other JSON is one error, with its line where there is one."""
    with pytest.raises(InputError, match=r"^mine\.json"):
        read_idiom(text, "mine.json")


@pytest.mark.parametrize("cut", range(0, len(TEXT), 997))
def test_a_file_cut_off_is_refused(cut: int) -> None:
    """Wherever the writing stopped, what is left is no idiom."""
    with pytest.raises(InputError):
        read_idiom(TEXT[:cut], "mine.json")
