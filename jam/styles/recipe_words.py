"""The words a recipe's line is made of: each wording as a row of one table, and what it stands for.

A line is a list of devices. Those of time set the pace, rest, hold or wait for a change; all others
play notes, one a step of the pace. Degrees count from the root of the chord: 8 is the root an
octave up, 9 lies above it; ``low 7`` lies an octave down. A plain number is the chord's own degree,
a sign fixes it (``b9``, ``#11``), and so does ``natural`` (see `jam.players.soloist`).

Lengths are in ticks (see `jam.styles.recipe_lengths`); other ways to say the same are in
`jam.styles.recipe_said`. Turn (upper neighbour, note, lower neighbour, note) and enclosure (a step
above, a half step below, target): common practice.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from jam.styles.recipe_lengths import PACES, TICKS, WordingError, read_beats, read_times
from jam.styles.recipe_said import (
    OPEN_RUNS,
    PLAIN_DEGREE,
    SAID,
    in_plain_words,
    is_open_run,
    nearest,
    pattern,
    tidy,
)

__all__ = [
    "HIGHEST",
    "MAJOR",
    "PACES",
    "TICKS",
    "WORDINGS",
    "Degree",
    "Device",
    "Kind",
    "Sign",
    "Wording",
    "WordingError",
    "is_worded",
    "item_schema",
    "nominal_notes",
    "read_beats",
    "read_degree",
    "read_device",
]

HIGHEST = 15
"""The highest degree number: two octaves above the root."""

Kind = Literal[
    "pace", "rest", "hold", "next", "land", "degrees", "step", "chromatic", "arpeggio",
    "broken", "scale", "half steps", "thirds", "turn", "enclose", "leap", "repeat",
]  # fmt: skip

SILENT: tuple[Kind, ...] = ("pace", "rest", "hold", "next")
"""Devices that play no note of their own."""

Sign = Literal["", "b", "#", "natural"]
MAJOR = (0, 2, 4, 5, 7, 9, 11)
"""Semitones of the natural degrees 1 to 7 above the root, as chord symbols count them."""


@dataclass(frozen=True, slots=True)
class Degree:
    """A degree of a chord as it is written: its number, its sign, an octave lower or not."""

    number: int
    sign: Sign = ""
    low: bool = False

    @property
    def letter(self) -> int:
        """Return the degree within the octave, 1 to 7."""
        return (self.number - 1) % 7 + 1

    @property
    def height(self) -> int:
        """Return the steps above the root, negative below it."""
        return self.number - 1 - 7 * self.low

    @property
    def name(self) -> str:
        """Return it without its octave's word: ``b9``."""
        return f"natural {self.number}" if self.sign == "natural" else f"{self.sign}{self.number}"

    def __str__(self) -> str:
        return f"low {self.name}" if self.low else self.name


@dataclass(frozen=True, slots=True)
class Device:
    """One item of a line. Which fields count is the kind's business.

    ``ticks`` is a pace, or the length of a rest or hold (0: one step of the pace); ``up`` the way a
    run or leap goes, or the side a neighbour lies on; ``times`` how often a note is struck.
    """

    kind: Kind
    words: str
    degrees: tuple[Degree, ...] = ()
    up: bool = True
    ticks: int = 0
    times: int = 1

    @property
    def is_silent(self) -> bool:
        """Tell whether it plays no note."""
        return self.kind in SILENT


@dataclass(frozen=True, slots=True)
class Wording:
    """A row of the grammar: how it is written, an example, and what it plays."""

    form: str
    example: str
    meaning: str
    kind: Kind
    up: bool | None = None


_RUNS: tuple[tuple[str, Kind, str, str], ...] = (
    ("arpeggio", "arpeggio", "5 11", "every other degree: 5 7 9 11"),
    ("broken arpeggio", "broken", "5 11", "the same in zigzag: 5 9 7 11"),
    ("scale", "scale", "1 5", "the scale of the chord, from one to the other"),
    ("half steps", "half steps", "5 7", "every half step from one to the other"),
    ("thirds", "thirds", "3 9", "the scale in broken thirds, the last one ending there"),
)


def _runs() -> tuple[Wording, ...]:
    rows = []
    for word, kind, ends, meaning in _RUNS:
        low, high = ends.split()
        for between, up in (("to", None), ("up to", True), ("down to", False)):
            first, last = (high, low) if up is False else (low, high)
            plain = f"{word} {{degree}} {between} {{degree}}"
            rows.append(Wording(plain, f"{word} {first} {between} {last}", meaning, kind, up))
            if up is not None:
                way = "up" if up else "down"
                form = f"{word} {way} {{degree}} to {{degree}}"
                rows.append(Wording(form, f"{word} {way} {first} to {last}", meaning, kind, up))
    return tuple(rows)


_FROM_BELOW = "half step below, step above, 3"

WORDINGS: tuple[Wording, ...] = (
    Wording("degree {degree}", "degree 5", "that degree", "degrees"),
    Wording("degrees {degrees}", "degrees 1 2 3 5", "one after the other", "degrees"),
    Wording("step above {degree}", "step above 5", "the scale's next note above", "step", True),
    Wording("step below {degree}", "step below 5", "the next one below", "step", False),
    Wording("chromatic above {degree}", "chromatic above 3", "a half step up", "chromatic", True),
    Wording("chromatic below {degree}", "chromatic below 3", "one down", "chromatic", False),
    *_runs(),
    Wording("turn round {degree}", "turn round 9", "step above, 9, step below, 9", "turn"),
    Wording("enclose {degree}", "enclose 3", "step above, half step below, 3", "enclose", True),
    Wording("enclose {degree} from below", "enclose 3 from below", _FROM_BELOW, "enclose", False),
    Wording("leap up to {degree}", "leap up to 13", "the nearest 13 above", "leap", True),
    Wording("leap down to {degree}", "leap down to 5", "the nearest 5 below", "leap", False),
    Wording("repeat {degree} {times}", "repeat 5 twice", "struck that often", "repeat"),
    Wording("land on {degree}", "land on 3", "on the change, of the new chord", "land"),
    Wording("on the next chord", "on the next chord", "the rest is of the next chord", "next"),
    Wording("in {pace}", "in eighths", f"pace: {', '.join(PACES)}", "pace"),
    Wording("rest", "rest", "as long as a note of the pace", "rest"),
    Wording("rest for {beats}", "rest for half a beat", "as long as it says", "rest"),
    Wording("hold for {beats}", "hold for 2 beats", "the last note lasts that long", "hold"),
)
"""The grammar. Degrees: b, # (``flat``, ``sharp``) or ``natural`` before the number, ``low`` before
both; a line with a # in it needs quotes in YAML."""

_DEGREE = re.compile(r"(?:the )?(low )?(natural |sharp |flat |[b#])?([0-9]+)(?:st|nd|rd|th)?")
_SIGNS: dict[str, Sign] = {
    "b": "b", "flat ": "b", "#": "#", "sharp ": "#", "natural ": "natural",
}  # fmt: skip
_PATTERNS = [(pattern(row.form), row) for row in WORDINGS]


def read_device(text: str) -> Device:
    """Return the device that an item of a line says; raises WordingError."""
    words = tidy(text)
    for said in (words, in_plain_words(words)):
        for known, row in _PATTERNS:
            if match := known.fullmatch(said):
                return _checked(_build(row, said, match.groups()))
    raise WordingError(f"no device is worded so. {_mend(words)}")


def read_degree(text: str) -> Degree:
    """Return the degree that ``text`` names: ``5``, ``b9``, ``natural 11``, ``low 7``."""
    match = _DEGREE.fullmatch(text.strip())
    if match is None or len(match[3]) > 3 or not 1 <= int(match[3]) <= HIGHEST:
        raise WordingError(
            f"{text.strip()[:20]!r} is no degree: take 1 to {HIGHEST}, as in 5, b9, low 7"
        )
    return Degree(int(match[3]), _SIGNS.get(match[2] or "", ""), bool(match[1]))


def _build(row: Wording, words: str, found: tuple[str, ...]) -> Device:
    slots = re.findall(r"\{(\w+)\}", row.form)
    degrees: list[Degree] = []
    ticks, times = 0, 1
    for slot, text in zip(slots, found, strict=True):
        if slot == "degree":
            degrees.append(read_degree(text))
        elif slot == "degrees":
            degrees += [read_degree(one) for one in re.findall(PLAIN_DEGREE, text)]
        elif slot == "times":
            times = read_times(text)
        else:
            ticks = PACES[text] if slot == "pace" else read_beats(text)
    up = row.up
    if up is None:
        up = len(degrees) < 2 or degrees[-1].height > degrees[0].height
    return Device(row.kind, words, tuple(degrees), up, ticks, times)


_RUN_KINDS = tuple(kind for _, kind, _, _ in _RUNS)


def _checked(device: Device) -> Device:
    """Return a run that leads where it says; raises WordingError for one that cannot."""
    if device.kind not in _RUN_KINDS:
        return device
    first, last = device.degrees
    distance = last.height - first.height
    if distance == 0 or (distance > 0) != device.up:
        side = "level with" if distance == 0 else "above" if distance > 0 else "below"
        raise WordingError(
            f"{last} lies {side} {first}: 8 is the root an octave up, 9 lies above it,"
            " `low 7` below the root"
        )
    if device.kind in ("arpeggio", "broken") and distance % 2:
        raise WordingError(
            f"every other degree from {first} on does not come to {last}:"
            " write them out, as in `degrees 1 3 5 8`"
        )
    if device.kind == "thirds" and abs(distance) < 2:
        raise WordingError(f"there is no third from {first} to {last}: go further")
    return device


def nominal_notes(device: Device) -> int:
    """Return how many notes a device plays where the scale has seven notes."""
    if device.is_silent:
        return 0
    if device.kind in _RUN_KINDS:
        first, last = device.degrees
        distance = abs(last.height - first.height)
        if device.kind == "half steps":
            return abs(_plain_semitones(last) - _plain_semitones(first)) + 1
        return {"scale": distance + 1, "thirds": 2 * (distance - 1)}.get(
            device.kind, distance // 2 + 1
        )
    fixed = {"degrees": len(device.degrees), "turn": 4, "enclose": 3, "repeat": device.times}
    return fixed.get(device.kind, 1)


def _plain_semitones(degree: Degree) -> int:
    sign = {"b": -1, "#": 1}.get(degree.sign, 0)
    return MAJOR[degree.letter - 1] + 12 * (degree.height // 7) + sign


def _mend(words: str) -> str:
    """Return what to write in the place of ``words``."""
    if re.match(r"(?:from|begin|start)", words):
        return "Where a line begins has a key of its own, as in `starts: and of 2`"
    said = in_plain_words(words)
    if is_open_run(said):
        run, _, end = said.rpartition(" to ")
        way = run.rpartition(" ")[2] if run.endswith((" up", " down")) else ""
        rows = (row for row in WORDINGS if run.startswith(row.form.partition(" {")[0]))
        shown = next(row.example for row in rows if f"}} {way} to".replace("  ", " ") in row.form)
        return f"Say where the run begins, as in `{shown.rpartition(' to ')[0]} to {end}`"
    paces = [f"in {pace}" for pace in PACES]
    near = nearest(words, [*(row.example for row in WORDINGS if row.kind != "pace"), *paces])
    if near is None:
        return "Write one such as `degree 5`, `arpeggio 5 to 11`, `enclose 3` or `rest for 1 beat`"
    return f"Did you mean `{near}`?"


def is_worded(words: str, row: Wording) -> bool:
    """Tell whether ``words`` are written as a row of the table has it."""
    return any(known is row and pattern.fullmatch(words) for pattern, known in _PATTERNS)


def item_schema() -> dict[str, object]:
    """Return the JSON Schema of an item of a line: a text in one of the wordings."""
    forms = [*(row.form for row in WORDINGS), *(form for form, _ in SAID), *OPEN_RUNS]
    said = "|".join(pattern(form).pattern for form in forms)
    number = f"0*(?:{'|'.join(str(one) for one in range(HIGHEST, 0, -1))})"
    said = said.replace("[0-9]+", number).replace("[b#]", "[b#♭♯]")
    said = said.replace("\\-", "-").replace("\\ ", " ").replace(" ", "\\s+")
    return {"type": "string", "pattern": rf"^\s*(?:{said})\s*$"}
