"""What a device of a recipe plays, in words and as degrees."""

from __future__ import annotations

import re

from jam.styles.recipe_words import TICKS, WORDINGS, Degree, Device, Wording, is_worded, read_device

_OTHER_ORDER = re.compile(
    r"\w+ (?:up|down) \{degree\} to|up to \{degree\}$(?<!leap up to \{degree\})"
)

_ANOTHER_WAY = (
    "Read as well: scale step above the 5th, half step below 3, turn around the 9th,",
    "fall in thirds from 9 to 3, climb by step from 1 to 5, in sixteenth notes, rest half a beat.",
    "A run that leaves out its beginning begins where the item before ends: scale down to 1.",
)


def stacked(device: Device) -> tuple[Degree, ...]:
    """Return the degrees of an arpeggio, every other one from first to last, plain but the ends."""
    first, last = device.degrees
    way = 2 if device.up else -2
    inner = [_plain(height) for height in range(first.height + way, last.height, way)]
    return (first, *inner, last)


def zigzag(degrees: tuple[Degree, ...]) -> tuple[Degree, ...]:
    """Return them with each pair between the first and the last turned round: 5 9 7 11."""
    inner = list(degrees[1:-1])
    for place in range(0, len(inner) - 1, 2):
        inner[place], inner[place + 1] = inner[place + 1], inner[place]
    return (degrees[0], *inner, degrees[-1])


def _plain(height: int) -> Degree:
    return Degree(height + 1) if height >= 0 else Degree(height + 8, low=True)


def listed(degrees: tuple[Degree, ...] | list[Degree]) -> str:
    """Return degrees in a row, as a line writes them."""
    return " ".join(str(degree) for degree in degrees)


def meaning_of(device: Device) -> str:
    """Return in words what a device plays."""
    if device.kind == "arpeggio":
        return f"every other degree: {listed(stacked(device))}"
    if device.kind == "broken":
        return f"every other degree in zigzag: {listed(zigzag(stacked(device)))}"
    if device.kind == "pace":
        return f"from here on {_notes_a_beat(device.ticks)}"
    row = next((row for row in WORDINGS if is_worded(device.words, row)), None)
    if row is None:
        return ""
    if not device.degrees or row.kind in ("degrees", "land"):
        return row.meaning
    # The row speaks of its example's degree.
    example = re.findall(r"\d+", row.example)[-1]
    return re.sub(rf"\b{example}\b", str(device.degrees[-1]), row.meaning)


def _notes_a_beat(ticks: int) -> str:
    if ticks >= TICKS:
        return f"a note lasts {ticks // TICKS} beat{'s' if ticks > TICKS else ''}"
    return f"{TICKS // ticks} notes a beat"


def wordings_text() -> str:
    """Return the table of wordings that a line may be written with, a row each.

    Runs are shown up and down; that they may be said in another order is left out.
    """
    rows = [row for row in WORDINGS if not _OTHER_ORDER.search(row.form)]
    width = max(len(row.example) for row in rows) + 2
    return "\n".join([*(f"{row.example:<{width}}{_shown(row)}" for row in rows), "", *_ANOTHER_WAY])


def _shown(row: Wording) -> str:
    return row.meaning if row.kind == "pace" else meaning_of(read_device(row.example))
