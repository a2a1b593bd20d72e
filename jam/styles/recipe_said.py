"""Other ways to say the same: from how a musician may put a device to the wording of the table.

``scale step above the 5th`` is ``step above 5``, ``fall in thirds from 9 to 3`` is ``thirds 9 down
to 3``. A run that leaves out where it begins, as in ``fall in thirds to the 3rd``, begins where the
item before it ends. A line may be said in one sentence, its devices parted by commas, with where it
begins in front: ``from the and of 2: step above the 5th, arpeggio 5 to 11``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from difflib import get_close_matches

from jam.styles.recipe_lengths import PACES

PLAIN_DEGREE = r"(?:low )?(?:natural |sharp |flat |[b#])?[0-9]+"
"""A degree without article or ending, as a pattern."""

_SLOTS = {
    "degree": rf"((?:the )?{PLAIN_DEGREE}(?:st|nd|rd|th)?)",
    "degrees": rf"({PLAIN_DEGREE}(?:,? {PLAIN_DEGREE})*)",
    "times": r"(twice|\w+ times)",
    "pace": f"({'|'.join(PACES)})",
    "beats": r"([\w./ ]+)",
    "length": r"((?!for )[\w./ ]+)",
}
_RUNS = ("arpeggio", "broken arpeggio", "scale", "half steps", "thirds")
_TO = {"to": "", "up to": "up ", "down to": "down "}
_NOTES = {"halves": "half", "quarters": "quarter", "eighths": "eighth", "sixteenths": "sixteenth"}


def pattern(form: str) -> re.Pattern[str]:
    """Return the pattern of a wording; each slot of it is a group."""
    parts = re.split(r"\{(\w+)\}", form)
    return re.compile("".join(_SLOTS[p] if i % 2 else re.escape(p) for i, p in enumerate(parts)))


def _said() -> tuple[tuple[str, str], ...]:
    rows = []
    for way in ("above", "below"):
        rows.append((f"scale step {way} {{degree}}", f"step {way} {{degree}}"))
        rows.append((f"half step {way} {{degree}}", f"chromatic {way} {{degree}}"))
    rows += [(f"turn {word} {{degree}}", "turn round {degree}") for word in ("around", "on")]
    for verb, way in (("fall", "down"), ("go down", "down"), ("climb", "up"), ("go up", "up")):
        for said, run in (("in thirds", "thirds"), ("by step", "scale")):
            whole = f"{run} {{degree}} {way} to {{degree}}"
            rows.append((f"{verb} {said} from {{degree}} to {{degree}}", whole))
            rows.append((f"{verb} {said} to {{degree}}", f"{run} {way} to {{degree}}"))
    for run in _RUNS:
        for to in _TO:
            whole = f"{run} {{degree}} {to} {{degree}}"
            rows.append((f"{run} from {{degree}} {to} {{degree}}", whole))
    rows += [(f"in {note} notes", f"in {pace}") for pace, note in _NOTES.items()]
    rows += [("in eighth-note triplets", "in triplets"), ("in eighth triplets", "in triplets")]
    rows += [("rest {length}", "rest for {beats}"), ("hold {length}", "hold for {beats}")]
    return tuple(rows)


SAID = _said()
"""How else a device may be said, and its wording of the table (or a run without its beginning)."""

OPEN_RUNS = tuple(f"{run} {to} {{degree}}" for run in _RUNS for to in _TO)
"""Runs that leave out where they begin."""

_SAID_PATTERNS = [(pattern(form), plain) for form, plain in SAID]
_OPEN = [pattern(form) for form in OPEN_RUNS]


def in_plain_words(words: str) -> str:
    """Return the wording of the table for what ``words`` say, or ``words`` themselves."""
    for known, plain in _SAID_PATTERNS:
        if match := known.fullmatch(words):
            found = iter(match.groups())
            return re.sub(r"\{\w+\}", lambda _, found=found: next(found), plain)  # type: ignore[misc]
    return words


def is_open_run(words: str) -> bool:
    """Tell whether ``words`` are a run that leaves out where it begins."""
    return any(known.fullmatch(words) for known in _OPEN)


def begun(words: str, before: str) -> str:
    """Return an open run with the beginning it leaves out: the degree on which the item ``before``
    ends. Where that names no such degree the run stays open."""
    if before.startswith(("leap", "step", "chromatic")):
        return words
    ends = re.findall(PLAIN_DEGREE, before.split(" from ")[0].partition(" times")[0])
    if before.startswith("repeat"):
        ends = ends[:1]
    run = next(run for run in sorted(_RUNS, key=len, reverse=True) if words.startswith(f"{run} "))
    return f"{run} {ends[-1]} {words.removeprefix(f'{run} ')}" if ends else words


def sentence(text: str) -> tuple[str | None, list[str]]:
    """Return where a line said in one sentence begins, if it says so, and its items."""
    head, colon, rest = text.partition(":")
    start = " ".join(head.split()).removeprefix("starts ").strip() if colon else None
    items: list[str] = []
    for part in (rest if colon else text).split(","):
        piece = " ".join(part.split())
        if re.fullmatch(PLAIN_DEGREE, piece) and items and items[-1].startswith("degrees "):
            items[-1] += f" {piece}"
        elif piece:
            items.append(piece)
    return start, items


def completed(items: Iterable[object]) -> list[object]:
    """Return the items in the words of the table, open runs with their beginnings."""
    found: list[object] = []
    for item in items:
        if not isinstance(item, str):
            found.append(item)
            continue
        words = in_plain_words(tidy(item))
        if is_open_run(words):
            before = next((one for one in reversed(found) if not _is_silent(one)), None)
            words = begun(words, before) if isinstance(before, str) else words
        found.append(words)
    return found


def _is_silent(item: object) -> bool:
    return isinstance(item, str) and (item == "rest" or item.startswith(("rest ", "hold ", "in ")))


def tidy(text: str) -> str:
    """Return words with single spaces and plain signs."""
    return " ".join(text.split()).replace("♭", "b").replace("♯", "#")


def nearest(words: str, examples: Iterable[str]) -> str | None:
    """Return the known wording nearest to ``words``, with the user's own numbers in it."""
    known = {_bare(example): example for example in examples}
    near = get_close_matches(_bare(words), known, n=1, cutoff=0.5)
    if not near:
        return None
    example = known[near[0]]
    numbers = re.findall(PLAIN_DEGREE, words)
    slots = re.findall(r"[0-9]+", example)
    if numbers and len(numbers) == len(slots) and "beat" not in example:
        left = iter(numbers)
        example = re.sub(r"[0-9]+", lambda _: next(left), example)
    return example


def _bare(words: str) -> str:
    """Return the words without their numbers, to be compared."""
    plain = rf"(?:the )?{PLAIN_DEGREE}(?:st|nd|rd|th)?"
    return " ".join(re.sub(plain, "0", words.lower()).split())
