"""The words a recipe's line is made of: each wording as a row of one table, and what it stands for.

A line is a list of devices. Those of time set the pace, rest, hold or wait for a change; all others
play notes, one a step of the pace. Degrees count from the root of the chord: 8 is the root an
octave up, 9 lies above it; ``low 7`` lies an octave down. A plain number is the chord's own degree,
a sign fixes it (``b9``, ``#11``), and so does ``natural`` (see `jam.players.soloist`).

Lengths are in ticks of a twelfth of a beat, which hold eighths, triplets and sixteenths exactly.
Turn (upper neighbour, note, lower neighbour, note) and enclosure (a step above, a half step
below, target): common practice.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from difflib import get_close_matches
from fractions import Fraction
from typing import Literal

TICKS = 12
"""Ticks in a beat."""

HIGHEST = 15
"""The highest degree number: two octaves above the root."""

Kind = Literal[
    "pace", "rest", "hold", "next", "land", "degrees", "step", "chromatic", "arpeggio",
    "broken", "scale", "half steps", "thirds", "turn", "enclose", "leap", "repeat",
]  # fmt: skip

SILENT: tuple[Kind, ...] = ("pace", "rest", "hold", "next")
"""Devices that play no note of their own."""

PACES = {"halves": 24, "quarters": 12, "eighths": 6, "triplets": 4, "sixteenths": 3}
"""Paces by name, in ticks a note; ``triplets`` are eighth-note triplets."""

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


class WordingError(ValueError):
    """An item of a line that cannot be read; its text names the mend."""


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

_PLAIN = r"(?:low )?(?:natural |sharp |flat |[b#])?\d+"
_SLOTS = {
    "degree": rf"((?:the )?{_PLAIN}(?:st|nd|rd|th)?)",
    "degrees": rf"({_PLAIN}(?:,? {_PLAIN})*)",
    "times": r"(twice|\w+ times)",
    "pace": f"({'|'.join(PACES)})",
    "beats": r"([\w./ ]+)",
}
_ORDER = ("degrees", "degree", "times", "pace", "beats")
_DEGREE = re.compile(r"(?:the )?(low )?(natural |sharp |flat |[b#])?(\d+)(?:st|nd|rd|th)?")
_SIGNS: dict[str, Sign] = {
    "b": "b", "flat ": "b", "#": "#", "sharp ": "#", "natural ": "natural",
}  # fmt: skip
_NUMBERS = {"a": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "eight": 8}
_PARTS = {"half": 2, "third": 3, "thirds": 3, "quarter": 4, "quarters": 4}
_MOST_TIMES = 16
_MOST_BEATS = 16


def _pattern(form: str) -> re.Pattern[str]:
    parts = re.split(r"\{(\w+)\}", form)
    return re.compile("".join(_SLOTS[p] if i % 2 else re.escape(p) for i, p in enumerate(parts)))


_PATTERNS = [(_pattern(row.form), row) for row in WORDINGS]


def read_device(text: str) -> Device:
    """Return the device that an item of a line says; raises WordingError."""
    words = " ".join(text.split()).replace("♭", "b").replace("♯", "#")
    for pattern, row in _PATTERNS:
        if match := pattern.fullmatch(words):
            return _checked(_build(row, words, match.groups()))
    raise WordingError(f"no device is worded so. {_nearest(words)}")


def read_degree(text: str) -> Degree:
    """Return the degree that ``text`` names: ``5``, ``b9``, ``natural 11``, ``low 7``."""
    match = _DEGREE.fullmatch(text.strip())
    if match is None or not 1 <= int(match[3]) <= HIGHEST:
        raise WordingError(
            f"{text.strip()!r} is no degree: take 1 to {HIGHEST}, as in 5, b9, low 7"
        )
    return Degree(int(match[3]), _SIGNS.get(match[2] or "", ""), bool(match[1]))


def read_beats(text: str) -> int:
    """Return in ticks a length in words: ``half a beat``, ``a third of a beat``, ``1.5 beats``."""
    words = text.strip()
    if words == "half a beat":
        return TICKS // 2
    beats: Fraction | None = None
    if match := re.fullmatch(r"(a|one|two|three) (third|thirds|quarter|quarters) of a beat", words):
        beats = Fraction(_NUMBERS[match[1]], _PARTS[match[2]])
    elif match := re.fullmatch(r"(\w+) and a half beats?", words):
        beats = _number(match[1], words) + Fraction(1, 2)
    elif match := re.fullmatch(r"(\S+) beats?", words):
        beats = _number(match[1], words)
    if beats is None or not 0 < beats <= _MOST_BEATS or (beats * TICKS).denominator != 1:
        raise _no_length(words)
    return int(beats * TICKS)


def _no_length(words: str) -> WordingError:
    return WordingError(
        f"{words!r} is no length: write half a beat, a third of a beat, 1 beat, 1.5 beats"
        f" (at most {_MOST_BEATS})"
    )


def _number(word: str, words: str) -> Fraction:
    try:
        return Fraction(_NUMBERS.get(word, word))
    except (ValueError, ZeroDivisionError):
        raise _no_length(words) from None


def _times(words: str) -> int:
    word = words.removesuffix(" times")
    times = 2 if word == "twice" else _NUMBERS.get(word, int(word) if word.isdecimal() else 0)
    if not 2 <= times <= _MOST_TIMES:
        raise WordingError(
            f"{words!r} will not do: write twice, 3 times, up to {_MOST_TIMES} times"
        )
    return times


def _build(row: Wording, words: str, found: tuple[str, ...]) -> Device:
    slots = re.findall(r"\{(\w+)\}", row.form)
    degrees: list[Degree] = []
    ticks, times = 0, 1
    for slot, text in zip(slots, found, strict=True):
        if slot == "degree":
            degrees.append(read_degree(text))
        elif slot == "degrees":
            degrees += [read_degree(one) for one in re.findall(_PLAIN, text)]
        elif slot == "times":
            times = _times(text)
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


def _nearest(words: str) -> str:
    """Return the known wording nearest to ``words``, with the user's own numbers in it."""
    numbers = re.findall(_PLAIN, words)
    known: dict[str, str] = {}
    for row in WORDINGS:
        known[_bare(row.example)] = row.example
    near = get_close_matches(_bare(words), known, n=1, cutoff=0.5)
    if not near:
        return "Write one such as `degree 5`, `arpeggio 5 to 11`, `enclose 3` or `rest for 1 beat`"
    example = known[near[0]]
    slots = re.findall(r"\d+", example)
    if numbers and len(numbers) == len(slots) and "beat" not in example:
        left = iter(numbers)
        example = re.sub(r"\d+", lambda _: next(left), example)
    return f"Did you mean `{example}`?"


def _bare(words: str) -> str:
    """Return the words without their numbers, to be compared."""
    return " ".join(
        re.sub(r"(?:natural |low )?[b#]?\d+(?:st|nd|rd|th)?", "0", words.lower()).split()
    )


def is_worded(words: str, row: Wording) -> bool:
    """Tell whether ``words`` are written as a row of the table has it."""
    return any(known is row and pattern.fullmatch(words) for pattern, known in _PATTERNS)
