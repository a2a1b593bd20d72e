"""Both halves of a session as plain text of 100 columns, from its log alone.

For somebody at a desk, or who does not see the screen: each call and each reply with its bars and
chords; under the chords a row of places in the bar, of note names and of degrees; under a reply's
the role of each note and the moves with their reasons. ``2&`` is the off-beat eighth after the
second beat; other places are decimals (``2.33`` the second triplet of beat 2).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import groupby, pairwise

from jam.harmony.spelling import spell
from jam.log import Log, Record
from jam.session.exchanges import (
    Exchange,
    Places,
    Reply,
    call_on_grid,
    chord_named,
    exchanges,
)
from jam.styles.names import MOVES

WIDTH = 100
"""Columns of a line, at most."""

OF_THE_CALL = tuple(move for move in MOVES if move != "leave_space")
"""Moves that take something from the call, or from an earlier one."""

_ROLES = {
    "chord tone": "tone",
    "tension": "tens",
    "approach": "appr",
    "anticipation": "antic",
    "leaning": "lean",
    "blue": "blue",
    "free": "free",
}
_LABEL = 9
_ROWS = ("bar", "chord", "beat", "note", "degree", "role")


@dataclass
class _Column:
    """One note: what stands in each row; an empty row is left out of the system."""

    bar: int
    cells: dict[str, str] = field(default_factory=dict)

    @property
    def width(self) -> int:
        return max(len(cell) for cell in self.cells.values()) + 1


def session_text(log: Log) -> str:
    """Return the whole session as text, exchange by exchange."""
    header = log.header
    title = header["chart"] or "no chart"
    lines = [f"{title} - style {header['style']}, seed {header['seed']}, clock {header['clock']}"]
    if log.cut:
        lines.append("The log ends in the middle of a line: its end is missing.")
    lines += [
        "Roles: tone = chord tone, tens = tension, appr = approach, antic = anticipation,",
        "       lean = leaning, blue, free.",
    ]
    places = Places(log)
    for number, exchange in enumerate(exchanges(log), start=1):
        lines += ["", f"=== Exchange {number} " + "=" * 40, *exchange_text(exchange, places)]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def exchange_text(exchange: Exchange, places: Places) -> list[str]:
    """Return the lines of one call and its reply."""
    lines = []
    if exchange.call is not None and exchange.call["notes"]:
        notes = call_on_grid(exchange.call)
        lines += _half(f"Call {exchange.call['id']} (player)", notes, places)
    else:
        lines.append("No call.")
    if exchange.reply is None:
        return [*lines, "", "No reply."]
    reply = exchange.reply
    tail = f", tail planned anew {_times(reply.replanned)}" if reply.replanned else ""
    lines += ["", *_half(f"Reply {reply.id} (companion{tail})", reply.notes, places)]
    lines += _reasons(reply, places)
    return [*lines, *_wrapped(f"{'took':<{_LABEL}}", _taken(exchange).split(" "))]


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _half(title: str, notes: Sequence[Record], places: Places) -> list[str]:
    ordered = sorted(notes, key=lambda note: note["beat"])
    start, end = ordered[0]["beat"], max(note["beat"] + note["beats"] for note in ordered)
    first, last = places.bar(start)[0], places.bar(ordered[-1]["beat"])[0]
    bars = f"bar {first}" if first == last else f"bars {first}-{last}"
    count = f"{len(ordered)} note{'s' * (len(ordered) > 1)}"
    chords = " ".join(places.symbols(start, end))
    lines = _wrapped(f"{title}: {bars}, {count}, over ", chords.split(" "))
    columns = _columns(ordered, places)
    for system in _systems(columns):
        lines += ["", *_rows(system)]
    return lines


def _columns(notes: Sequence[Record], places: Places) -> list[_Column]:
    columns: list[_Column] = []
    shown: tuple[float, str] | None = None
    for note in notes:
        bar, place = places.bar(note["beat"])
        since, chord = places.change(note["beat"])
        judged = chord_named(note["chord"]) if "chord" in note else chord
        cells = {
            "bar": str(bar) if not columns or columns[-1].bar != bar else "",
            "chord": chord.symbol if shown != (since, chord.symbol) else "",
            "beat": _place(place),
            "note": spell(note["pitch"], judged),
            "degree": note.get("degree")
            or ("" if judged.is_none else judged.degree(note["pitch"])),
            "role": _ROLES.get(note.get("role", ""), ""),
        }
        shown = (since, chord.symbol)
        columns.append(_Column(bar, cells))
    return columns


def _place(place: float) -> str:
    """Return ``3``, ``3&`` or ``3.67``."""
    whole = int(place + 0.04)
    part = place - whole
    if abs(part) < 0.04:
        return str(whole)
    return f"{whole}&" if abs(part - 0.5) < 0.04 else f"{place:.2f}"


def _systems(columns: Sequence[_Column]) -> Iterable[list[_Column]]:
    """Yield runs of columns that fit on a line, broken at bar lines where there is a choice."""
    system: list[_Column] = []
    for _, group in groupby(columns, key=lambda column: column.bar):
        bar = list(group)
        if system and _LABEL + _width([*system, *bar]) > WIDTH:
            yield system
            system = []
        for column in bar:
            if _LABEL + _width([*system, column]) > WIDTH:
                yield system
                system = []
            system.append(column)
    yield system


def _width(columns: Sequence[_Column]) -> int:
    bar_lines = sum(a.bar != b.bar for a, b in pairwise(columns))
    return sum(column.width for column in columns) + 2 * bar_lines


def _rows(system: Sequence[_Column]) -> list[str]:
    lines = []
    for row in _ROWS:
        if not any(column.cells[row] for column in system):
            continue
        text = f"{row:<{_LABEL}}"
        for index, column in enumerate(system):
            if index and system[index - 1].bar != column.bar:
                text += "| "
            text += f"{column.cells[row]:<{column.width}}"
        lines.append(text.rstrip())
    return lines


def _reasons(reply: Reply, places: Places) -> list[str]:
    """Return a line for each run of one move: its reason, and what is particular to a note."""
    lines = [""]
    for (move, why), group in groupby(reply.notes, key=_move):
        notes = list(group)
        bar, place = places.bar(notes[0]["beat"])
        count = f"{len(notes)} note{'s' * (len(notes) > 1)}"
        words = [why]
        for note in notes:
            _, *more = note["why"].split("; ")
            name = spell(note["pitch"], chord_named(note["chord"]))
            words += [f"{name} {text}" for text in more]
        at = f"{bar}:{_place(place)}"
        lines += _wrapped(f"{at:<{_LABEL}}{move}, {count}: ", "; ".join(words).split(" "))
    for span in reply.spans:
        bar, place = places.bar(span["beat"])
        at = f"{bar}:{_place(place)}"
        lines.append(
            f"{at:<{_LABEL}}declared: {span['beats']:g} beats as if over {span['implied']}"
        )
    return lines


def _move(note: Record) -> tuple[str, str]:
    """Return the move of a note and the part of its reason that it shares with its neighbours."""
    return note["move"], note["why"].split("; ")[0]


def _taken(exchange: Exchange) -> str:
    """Return in one line what the reply took from its call: as it says, and as can be seen."""
    reply = exchange.reply
    assert reply is not None
    claimed = [note["move"] for note in reply.notes if note["move"] in OF_THE_CALL]
    runs = [move for move, _ in groupby(claimed)]
    names = [f"{move} x{runs.count(move)}" for move in OF_THE_CALL if move in runs]
    says = (
        f"{', '.join(names)} ({len(claimed)} of {len(reply.notes)} notes)" if names else "nothing"
    )
    call = exchange.call["notes"] if exchange.call is not None else []
    shared = shared_shape(_pitches(call), _pitches(reply.notes))
    if len(shared) < 2:
        return f"{says}; no shape of three notes is shared"
    steps = " ".join(f"{step:+d}" if step else "0" for step in shared)
    return f"{says}; longest shared shape {len(shared) + 1} notes ({steps})"


def _pitches(notes: Iterable[Record]) -> list[int]:
    return [note["pitch"] for note in sorted(notes, key=lambda note: note["beat"])]


def shared_shape(one: Sequence[int], other: Sequence[int]) -> tuple[int, ...]:
    """Return the longest run of intervals (semitones) that two lines of pitches share."""
    a = [q - p for p, q in pairwise(one)]
    b = [q - p for p, q in pairwise(other)]
    best: tuple[int, ...] = ()
    for i in range(len(a)):
        for j in range(len(b)):
            size = 0
            while i + size < len(a) and j + size < len(b) and a[i + size] == b[j + size]:
                size += 1
            if size > len(best):
                best = tuple(a[i : i + size])
    return best


def _wrapped(head: str, words: Sequence[str]) -> list[str]:
    """Return head and words on lines of `WIDTH` columns, later lines set in."""
    lines, line = [], head
    for word in words:
        if len(line) + len(word) > WIDTH and line.strip():
            lines.append(line.rstrip())
            line = " " * _LABEL
        line += word + " "
    return [*lines, line.rstrip()]
