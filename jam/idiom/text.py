"""Learnt idioms as text: JSON with the counts, and where they come from.

Counters are lists of rows, the key's numbers and then the count; window hashes are one base64
string of eight bytes each, in order. Nothing in it can be played back.
"""

from __future__ import annotations

import base64
import binascii
import json
from collections import Counter
from dataclasses import replace
from itertools import pairwise
from typing import Any

from jam.errors import InputError
from jam.idiom.backoff import idiom_of
from jam.idiom.classes import CLASSES, FAMILIES, GAPS, INTERVALS, PLACES, TEMPI, TICKS
from jam.idiom.counts import SPREADS, Counts, Key
from jam.idiom.learn import MOST_PATTERNS
from jam.idiom.model import QUANTILES, Idiom

FORMAT = 1
_ANY = 1_000
_MOST = 1_000_000_000
_REASON = {
    "phrase_beats": (0.0, 10_000.0), "rest_beats": (0.0, 10_000.0), "sounding": (0.0, 1.0),
    "swing": (0.1, 10.0), "early_late": (-5_000.0, 5_000.0),
}  # fmt: skip
_LIMITS: dict[str, tuple[int, ...]] = {
    "steps": (len(FAMILIES), len(PLACES), len(GAPS), CLASSES, 12, len(INTERVALS)),
    "bare": (len(GAPS), CLASSES, len(INTERVALS)),
    "first": (len(FAMILIES), len(PLACES), 12),
    "last": (len(FAMILIES), 12),
    "beats": (len(TEMPI), _ANY, _ANY, _ANY),
    "opening": (len(TEMPI), _ANY),
    "closing": (len(TEMPI), _ANY),
}
_PATTERNS = f"at most {MOST_PATTERNS} unlike lists of rising ticks (0 to 11), the empty one first"
_MEND = "Learn it anew with `jam idiom`"


def write_idiom(
    counts: Counts, *, name: str, about: str, licence: str, sources: tuple[str, ...]
) -> str:
    """Return an idiom as the text of a file."""
    head = {
        "kind": "idiom", "format": FORMAT, "name": name, "about": about, "licence": licence,
        "sources": list(sources), "notes": counts.notes, "phrases": counts.phrases,
        "drift": counts.drift,
    }  # fmt: skip
    rows = {which: _rows(getattr(counts, which)) for which in _LIMITS}
    body = {"patterns": [list(p) for p in counts.patterns], **rows, "spreads": counts.spreads}
    packed = b"".join(window.to_bytes(8, "big") for window in sorted(counts.windows))
    body["windows"] = base64.b64encode(packed).decode("ascii")
    lines = [f" {json.dumps(key)}: {json.dumps(value)}" for key, value in {**head, **body}.items()]
    return "{\n" + ",\n".join(lines) + "\n}\n"


def _rows(counter: Counter[Key]) -> list[list[int]]:
    return [[*key, count] for key, count in sorted(counter.items())]


def read_idiom(text: str, source: str) -> Idiom:
    """Return the idiom in a file's text; ``source`` is the name to put in errors.

    Raises InputError for anything that is no idiom.
    """
    told, counts = _read(text, source)
    try:
        idiom = idiom_of(
            counts, name=told["name"], about=told["about"], licence=told["licence"],
            sources=tuple(told["sources"]),
        )  # fmt: skip
    except ValueError as error:
        raise InputError(source, str(error), _MEND, field="spreads") from None
    return replace(idiom, text=text)


def read_counts(text: str, source: str) -> Counts:
    """Return the counts in a file's text, to add to others. Raises InputError likewise."""
    return _read(text, source)[1]


def _read(text: str, source: str) -> tuple[dict[str, Any], Counts]:
    def refuse(field: str, what: str) -> InputError:
        return InputError(source, what, _MEND, field=field)

    told = _object(text, source)
    if told.get("kind") != "idiom":
        raise refuse("kind", "this is no idiom")
    if told.get("format") != FORMAT:
        found = f"{told.get('format')!r:.40}"
        raise refuse("format", f"{found} is not {FORMAT}, the one this program reads")
    for field in ("name", "about", "licence"):
        if not isinstance(told.get(field), str):
            raise refuse(field, "a text is wanted")
    sources = told.get("sources")
    if not isinstance(sources, list) or not all(isinstance(text, str) for text in sources):
        raise refuse("sources", "a list of texts is wanted")
    for field in ("notes", "phrases"):
        if type(told.get(field)) is not int or not 0 <= told[field] <= _MOST:
            raise refuse(field, "a whole number is wanted")
    drift = told.get("drift")
    if not isinstance(drift, int | float) or not -1 <= drift <= 1:
        raise refuse("drift", "a number from -1 to 1 is wanted")
    patterns = _patterns(told.get("patterns"))
    if patterns is None:
        raise refuse("patterns", _PATTERNS)
    counters = {}
    for field, limits in _LIMITS.items():
        sizes = tuple(len(patterns) if size == _ANY else size for size in limits)
        found_rows = _counter(told.get(field), sizes)
        if found_rows is None:
            what = f"rows of {len(sizes) + 1} whole numbers within their classes are wanted"
            raise refuse(field, what)
        counters[field] = found_rows
    spreads = _spreads(told.get("spreads"))
    if spreads is None:
        what = f"lists of {len(QUANTILES)} rising numbers in reason for each class are wanted"
        raise refuse("spreads", what)
    windows = _windows(told.get("windows"))
    if windows is None:
        raise refuse("windows", "base64 of eight bytes each is wanted")
    return told, Counts(
        told["notes"], told["phrases"], patterns=patterns, spreads=spreads, drift=float(drift),
        windows=windows, **counters,
    )  # fmt: skip


def _object(text: str, source: str) -> dict[str, Any]:
    try:
        told = json.loads(text)
    except json.JSONDecodeError as error:
        raise InputError(source, f"this is no JSON ({error.msg})", _MEND, error.lineno) from None
    except (RecursionError, ValueError):
        raise InputError(source, "this is no JSON that anybody wrote", _MEND) from None
    if not isinstance(told, dict):
        raise InputError(source, "this is no idiom", _MEND, field="kind")
    return told


def _patterns(told: object) -> tuple[Key, ...] | None:
    if not isinstance(told, list) or not told or told[0] != [] or len(told) > MOST_PATTERNS:
        return None
    for ticks in told:
        if not isinstance(ticks, list) or not all(type(tick) is int for tick in ticks):
            return None
        if ticks != sorted(set(ticks)) or not all(0 <= tick < TICKS for tick in ticks):
            return None
    patterns = tuple(tuple(ticks) for ticks in told)
    return patterns if len(set(patterns)) == len(patterns) else None


def _counter(rows: object, sizes: tuple[int, ...]) -> Counter[Key] | None:
    if not isinstance(rows, list):
        return None
    found: Counter[Key] = Counter()
    for row in rows:
        if not isinstance(row, list) or len(row) != len(sizes) + 1:
            return None
        if not all(type(number) is int for number in row) or not 0 <= row[-1] <= _MOST:
            return None
        if not all(0 <= number < size for number, size in zip(row, sizes, strict=False)):
            return None
        found[tuple(row[:-1])] = row[-1]
    return found


def _spreads(told: object) -> dict[str, list[list[float]]] | None:
    if not isinstance(told, dict):
        return None
    found = {}
    for name, classes in SPREADS.items():
        rows = told.get(name)
        if not isinstance(rows, list) or len(rows) != classes:
            return None
        if not all(_is_spread(row, *_REASON[name]) for row in rows):
            return None
        found[name] = rows
    return found


def _is_spread(row: object, least: float, most: float) -> bool:
    if not isinstance(row, list) or len(row) not in (0, len(QUANTILES)):
        return False
    if not all(type(value) in (int, float) and least <= value <= most for value in row):
        return False
    return all(a <= b for a, b in pairwise(row))


def _windows(told: object) -> frozenset[int] | None:
    if not isinstance(told, str):
        return None
    try:
        packed = base64.b64decode(told.encode("ascii"), validate=True)
    except (binascii.Error, UnicodeEncodeError):
        return None
    if len(packed) % 8:
        return None
    return frozenset(int.from_bytes(packed[i : i + 8], "big") for i in range(0, len(packed), 8))
