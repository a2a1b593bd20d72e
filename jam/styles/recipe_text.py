"""A phrase recipe: an exercise as a line of degrees and devices, read from YAML.

    name: late-climb
    about: Begins after the beat, climbs into the ninth.
    over: minor
    starts: and of 2
    line: [step above 5, arpeggio 5 to 11, turn round 9, thirds 9 down to 3, rest]

The same keys stand in a file of ``styles/recipes`` and in a style's own list of recipes. The
wordings are in `jam.styles.recipe_words`, what it may be meant for in `jam.styles.recipe_over`.
``starts`` is a place in the bar, counted from where its first chord begins (see
`jam.styles.recipe_places`); notes are eighths until the line says otherwise. A line may be one
sentence as well: ``from the and of 2: step above 5, arpeggio 5 to 11``.
"""

from __future__ import annotations

import re
from functools import cached_property
from typing import Annotated, Any, Literal, get_args

from pydantic import (
    AfterValidator,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationError,
    ValidationInfo,
    WithJsonSchema,
    field_validator,
    model_validator,
)
from pydantic.config import JsonDict
from pydantic_core import InitErrorDetails, PydanticCustomError

from jam.harmony.changes import Changes
from jam.styles.recipe_over import Over, read_over
from jam.styles.recipe_places import (
    BAR_TICKS,
    STARTS_MEND,
    LineError,
    Place,
    Start,
    lasts,
    places_of,
    read_start,
)
from jam.styles.recipe_said import completed, sentence
from jam.styles.recipe_words import TICKS, Device, WordingError, item_schema, read_device
from jam.styles.values import Part, Words
from jam.yaml_text import load_marked, validate_data

Vary = Literal["approaches", "order", "rhythm", "opening"]
"""What may vary: neighbours from the other side or by the other step; the order of an arpeggio's
inner notes; eighths caught up in a triplet; the first note left out."""

VARIES: tuple[Vary, ...] = get_args(Vary)


def _start(text: object) -> str:
    words = str(text) if isinstance(text, int) and not isinstance(text, bool) else text
    if not isinstance(words, str):
        raise WordingError(f"{text!r} is no place in a bar: {STARTS_MEND}")
    read_start(words)
    return re.sub(r"^(?:from |on )?(?:the )?", "", " ".join(words.split()))


def _item(text: str) -> str:
    return read_device(text).words


def _items(line: object) -> object:
    if isinstance(line, str):
        line = sentence(line)[1]
    if line == []:
        raise WordingError("The line is empty: write a device, as in `degree 5`")
    return completed(line) if isinstance(line, list) else line


def _over(text: str) -> str:
    read_over(text)
    return " ".join(text.split())


StartWords = Annotated[str | int, AfterValidator(_start)]
LineItem = Annotated[str, AfterValidator(_item), WithJsonSchema(item_schema())]
Line = Annotated[
    list[LineItem],
    BeforeValidator(_items, json_schema_input_type=list[LineItem] | str),
    Field(min_length=1, max_length=64),
]
OverWords = Annotated[str, AfterValidator(_over)]


_SILENT = r"^\s*(?:rest|hold|in|on the next)\b"
_CHECKED_TOO: JsonDict = {
    "properties": {"line": {"contains": {"not": {"pattern": _SILENT}}}},
    "if": {"not": {"required": ["over"], "properties": {"over": {"pattern": r"^\s*[b#]?[IViv]"}}}},
    "then": {
        "properties": {
            "line": {"contains": {"pattern": r"^\s*land"}, "minContains": 0, "maxContains": 1}
        }
    },
}
"""What a schema can say of the line as a whole: it sounds, and over a family it lands once."""


def _mistake(message: str, value: object, *place: str | int) -> ValidationError:
    """Return an error that knows its place, as pydantic's own do."""
    kind = PydanticCustomError("recipe", "{message}", {"message": message})
    return ValidationError.from_exception_data(
        "LineRecipe", [InitErrorDetails(type=kind, loc=place, input=value)]
    )


class LineRecipe(Part):
    """A stock phrase as a line of devices; what it means is worked out once."""

    model_config = ConfigDict(json_schema_extra={"allOf": [_CHECKED_TOO]})

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
    line: Line = Field(
        description="the devices in order, each a few words; or one sentence with commas"
    )
    varied: list[Vary] = Field(
        default=list(VARIES),
        description="what may vary: approaches, order, rhythm, opening; empty: nothing",
    )

    @model_validator(mode="before")
    @classmethod
    def _said_in_front(cls, data: Any) -> Any:
        """Take where it begins from the front of a line that is one sentence."""
        if not isinstance(data, dict) or not isinstance(data.get("line"), str):
            return data
        start, _ = sentence(data["line"])
        if start is None:
            return data
        if "starts" in data:
            mend = "Where it begins is in front of the line, and `starts` says it too: keep one"
            raise _mistake(mend, data["line"], "line")
        try:
            read_start(start)
        except WordingError as error:
            raise _mistake(str(error), data["line"], "line") from None
        return {**data, "starts": start}

    @field_validator("line")
    @classmethod
    def _holds_together(cls, line: list[str], info: ValidationInfo) -> list[str]:
        if "over" not in info.data or "starts" not in info.data:
            return line
        devices = [read_device(item) for item in line]
        try:
            places_of(devices, read_over(info.data["over"]), read_start(str(info.data["starts"])))
        except LineError as error:
            raise _mistake(str(error), line[error.item], error.item) from None
        return line

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
        """Return how long it is in all from the bar line of its first chord, in whole bars; silence
        at its end does not count."""
        rows = zip(self.devices, self.places, strict=True)
        sounding = (row for row in rows if row[0].kind == "hold" or not row[0].is_silent)
        end = max(place.tick + lasts(device, place.pace) for device, place in sounding)
        end = max(end, 1, round(self._own_beats * TICKS))
        return -(-end // BAR_TICKS) * BAR_TICKS / TICKS

    def own_changes(self, tonic: str) -> Changes:
        """Return the chords it is meant for, set on ``tonic``, from beat 0 on."""
        rows = zip(self.devices, self.places, strict=True)
        landing = next((place.tick for device, place in rows if device.kind == "land"), None)
        return self.meant_for.changes(tonic, None if landing is None else landing / TICKS)

    @property
    def _own_beats(self) -> float:
        return sum(own.beats for own in self.meant_for.chords)


def load_recipe(text: str, source: str) -> LineRecipe:
    """Return the recipe that a file's ``text`` describes; ``source`` is its name in errors.

    Raises InputError with file, line, item and the nearest wording there is.
    """
    data, lines = load_marked(text, source)
    return validate_data(LineRecipe, data, source, lines)
