"""Where a recipe's line begins and where each of its devices falls over its own chords.

A recipe's own bars have four beats. ``and of 2`` counts from the bar line of its first chord;
``and of 4 before`` counts in a bar of four before it, so it is an eighth ahead in any metre.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from jam.styles.recipe_over import Over
from jam.styles.recipe_words import PACES, TICKS, Device, WordingError, nominal_notes

BAR_TICKS = 4 * TICKS
LOOSE_TICKS = TICKS // 2
"""How far before a change the line may go over to the next chord: an eighth ahead of it."""

_STARTS = re.compile(r"(?:from |on )?(?:the )?(and of )?(?:beat )?([1-9])( before)?")
STARTS_MEND = "write 1, 3, and of 2, or and of 4 before"


@dataclass(frozen=True, slots=True)
class Start:
    """Where in the bar a line begins: in ticks; ``before``: of a bar of four before."""

    ticks: int
    before: bool = False


def read_start(text: str) -> Start:
    """Return where ``text`` says that a line begins; raises WordingError."""
    match = _STARTS.fullmatch(" ".join(text.split()))
    if match is None:
        raise WordingError(f"{text!r} is no place in a bar: {STARTS_MEND}")
    half, beat, before = match.groups()
    if before and int(beat) > BAR_TICKS // TICKS:
        raise WordingError(f"{text!r} is not before the chord: {STARTS_MEND}")
    return Start((int(beat) - 1) * TICKS + (TICKS // 2 if half else 0), bool(before))


class LineError(WordingError):
    """A line that does not hold together; ``item`` is the place of the device at fault."""

    def __init__(self, message: str, item: int = 0) -> None:
        super().__init__(message)
        self.item = item


@dataclass(frozen=True, slots=True)
class Place:
    """Where a device begins over the recipe's own chords: ticks from the bar line of the first, and
    the pace it is played at."""

    tick: int
    pace: int


def places_of(devices: Sequence[Device], over: Over, start: Start) -> list[Place]:
    """Return where each device of a line begins, as written.

    Raises LineError for a line that does not hold together over its own chords.
    """
    if all(device.is_silent for device in devices):
        raise LineError("The line plays no note: write one, as in `degree 5`")
    tick, pace = start.ticks - start.before * BAR_TICKS, PACES["eighths"]
    change, chord, sounded = 0.0, 0, False
    found = []
    for number, device in enumerate(devices):
        if device.kind in ("next", "land"):
            _check_goes_on(device, number, chord, over)
            if over.chords:
                change += over.chords[chord].beats * TICKS
                tick = _at_change(tick, round(change), number, land=device.kind == "land")
            else:
                tick = -(-tick // BAR_TICKS) * BAR_TICKS
            chord += 1
        if device.kind == "hold" and not sounded:
            raise LineError("No note stands right before it to be held: write one there", number)
        sounded = not device.is_silent
        pace = device.ticks if device.kind == "pace" else pace
        found.append(Place(tick, pace))
        tick += lasts(device, pace)
    return found


def _check_goes_on(device: Device, number: int, chord: int, over: Over) -> None:
    """Raise LineError where there is no chord for the line to go over to."""
    if chord + 1 < len(over.chords):
        return
    if device.kind == "next" or over.chords:
        raise LineError("`over` names no next chord: add it there, as in `ii:4 V:4 I:8`", number)
    if chord:
        raise LineError(
            "It has landed before, and `over` names one chord: land once, or write the chords,"
            " as in `over: ii:4 V:4 I:8`",
            number,
        )


def lasts(device: Device, pace: int) -> int:
    """Return the ticks a device takes; a hold takes what it adds to the note before."""
    if device.kind == "rest":
        return device.ticks or pace
    return device.ticks - pace if device.kind == "hold" else pace * nominal_notes(device)


def _at_change(tick: int, change: int, number: int, *, land: bool) -> int:
    """Return the tick at which the line goes on, on the next chord."""
    if tick > change:
        late = (tick - change) / TICKS
        raise LineError(
            f"Here the line is {late:g} beats past the change that `over` puts there: shorten the"
            " line, or give that chord more beats",
            number,
        )
    return change if land or change - tick > LOOSE_TICKS else tick
