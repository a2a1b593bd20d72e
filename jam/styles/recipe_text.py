"""A phrase recipe: an exercise as a line of degrees and devices, read from YAML.

    name: late-climb
    about: Begins after the beat, climbs into the ninth.
    over: minor
    starts: and of 2
    line: [step above 5, arpeggio 5 to 11, turn round 9, thirds 9 down to 3, rest]

The same keys stand in a file of ``styles/recipes`` and in a style's own list of recipes. The
wordings are in `jam.styles.recipe_words`, what it may be meant for in `jam.styles.recipe_over`.
``starts`` counts quarter beats of the bar from where its first chord begins; notes are eighths
until the line says otherwise.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Annotated, Literal, Self, get_args

from pydantic import AfterValidator, Field, model_validator

from jam.harmony.changes import Changes
from jam.styles.recipe_over import Over, read_over
from jam.styles.recipe_words import (
    PACES,
    TICKS,
    Device,
    WordingError,
    nominal_notes,
    read_device,
)
from jam.styles.values import Part, Words
from jam.yaml_text import load_marked, validate_data

Vary = Literal["approaches", "order", "rhythm", "opening"]
"""What may vary: neighbours from the other side or by the other step; the order of an arpeggio's
inner notes; eighths caught up in a triplet; the first note left out."""

VARIES: tuple[Vary, ...] = get_args(Vary)
BAR_TICKS = 4 * TICKS
LOOSE_TICKS = TICKS // 2
"""How far before a change the line may go over to the next chord: an eighth ahead of it."""

_STARTS = re.compile(r"(?:the )?(and of )?([1-9])( before)?")
_STARTS_MEND = "write 1, 3, and of 2, or and of 4 before"


@dataclass(frozen=True, slots=True)
class Start:
    """Where in the bar a line begins: ticks from the bar line; ``before``: in the bar before."""

    ticks: int
    before: bool = False


def read_start(text: str) -> Start:
    """Return where ``text`` says that a line begins; raises WordingError."""
    match = _STARTS.fullmatch(" ".join(text.split()))
    if match is None:
        raise WordingError(f"{text!r} is no place in a bar: {_STARTS_MEND}")
    half, beat, before = match.groups()
    return Start((int(beat) - 1) * TICKS + (TICKS // 2 if half else 0), bool(before))


def _start(text: object) -> str:
    words = str(text) if isinstance(text, int) and not isinstance(text, bool) else text
    if not isinstance(words, str):
        raise WordingError(f"{text!r} is no place in a bar: {_STARTS_MEND}")
    read_start(words)
    return " ".join(words.split())


def _item(text: str) -> str:
    read_device(text)
    return " ".join(text.split())


def _over(text: str) -> str:
    read_over(text)
    return " ".join(text.split())


StartWords = Annotated[str | int, AfterValidator(_start)]
LineItem = Annotated[str, AfterValidator(_item)]
OverWords = Annotated[str, AfterValidator(_over)]


class LineRecipe(Part):
    """A stock phrase as a line of devices; what it means is worked out once."""

    name: Words = Field(description="what the recipe is called: the same as its file")
    about: Words = Field(description="one line that tells a musician what it is good for")
    over: OverWords = Field(
        default="any",
        description="what it is meant for: a family of chords, as `minor`, or a progression in"
        " numerals with its beats, as `ii:4 V:4 I:8`",
    )
    starts: StartWords = Field(
        default="1", description="where in the bar it begins: 1, and of 2, and of 4 before"
    )
    line: list[LineItem] = Field(
        min_length=1, max_length=64, description="the devices in order, each a few words"
    )
    varied: list[Vary] = Field(
        default=list(VARIES),
        description="what may vary: approaches, order, rhythm, opening; empty: nothing",
    )

    @cached_property
    def devices(self) -> tuple[Device, ...]:
        """Return the line, read."""
        return tuple(read_device(item) for item in self.line)

    @cached_property
    def meant_for(self) -> Over:
        """Return what it is meant for, read."""
        return read_over(self.over)

    @cached_property
    def start(self) -> Start:
        """Return where it begins, read."""
        return read_start(str(self.starts))

    @property
    def places(self) -> list[Place]:
        """Return where each device begins over its own chords."""
        return places_of(self.devices, self.meant_for, self.start)

    @property
    def beats(self) -> float:
        """Return how long it is in all from the bar line of its first chord, in whole bars."""
        last, place = self.devices[-1], self.places[-1]
        end = max(place.tick + _lasts(last, place.pace), round(self._own_beats * TICKS))
        return -(-end // BAR_TICKS) * BAR_TICKS / TICKS

    def own_changes(self, tonic: str) -> Changes:
        """Return the chords it is meant for, set on ``tonic``, from beat 0 on."""
        rows = zip(self.devices, self.places, strict=True)
        landing = next((place.tick for device, place in rows if device.kind == "land"), None)
        return self.meant_for.changes(tonic, None if landing is None else landing / TICKS)

    @property
    def _own_beats(self) -> float:
        return sum(own.beats for own in self.meant_for.chords)

    @model_validator(mode="after")
    def _holds_together(self) -> Self:
        places_of(self.devices, self.meant_for, self.start)
        return self


def load_recipe(text: str, source: str) -> LineRecipe:
    """Return the recipe that a file's ``text`` describes; ``source`` is its name in errors.

    Raises InputError with file, line, item and the nearest wording there is.
    """
    data, lines = load_marked(text, source)
    return validate_data(LineRecipe, data, source, lines)


@dataclass(frozen=True, slots=True)
class Place:
    """Where a device begins over the recipe's own chords: ticks from the bar line of the first, and
    the pace it is played at."""

    tick: int
    pace: int


def places_of(devices: Sequence[Device], over: Over, start: Start) -> list[Place]:
    """Return where each device of a line begins, as written.

    Raises WordingError for a line that does not hold together over its own chords.
    """
    if all(device.is_silent for device in devices):
        raise WordingError("the line plays no note: write one, as in `degree 5`")
    tick, pace = start.ticks - start.before * BAR_TICKS, PACES["eighths"]
    change, chord, sounded = 0.0, 0, False
    found = []
    for number, device in enumerate(devices, start=1):
        where = f"item {number} of the line, `{device.words}`"
        if device.kind in ("next", "land") and (over.chords or device.kind == "next"):
            if chord + 1 >= len(over.chords):
                raise WordingError(f"{where}: `over` names no next chord, as in `ii:4 V:4 I:8`")
            change += over.chords[chord].beats * TICKS
            tick = _at_change(tick, round(change), where, land=device.kind == "land")
            chord += 1
        elif device.kind == "land":
            tick = -(-tick // BAR_TICKS) * BAR_TICKS
        if device.kind == "hold" and not sounded:
            raise WordingError(f"{where}: no note stands right before it to be held")
        sounded = not device.is_silent
        pace = device.ticks if device.kind == "pace" else pace
        found.append(Place(tick, pace))
        tick += _lasts(device, pace)
    return found


def _lasts(device: Device, pace: int) -> int:
    """Return the ticks a device takes; a hold takes what it adds to the note before."""
    if device.kind == "rest":
        return device.ticks or pace
    return device.ticks - pace if device.kind == "hold" else pace * nominal_notes(device)


def _at_change(tick: int, change: int, where: str, *, land: bool) -> int:
    """Return the tick at which the line goes on, on the next chord."""
    if tick > change:
        late = (tick - change) / TICKS
        raise WordingError(f"{where}: the line is {late:g} beats past that change, shorten it")
    return change if land or change - tick > LOOSE_TICKS else tick
