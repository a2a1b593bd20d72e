"""A phrase recipe in plain text: what it says, in words, and each round of a drill note by note."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from operator import itemgetter
from textwrap import wrap

from jam.harmony.spelling import spell
from jam.players.soloist.recipes import RecipeNote
from jam.players.soloist.slots import TICKS
from jam.session.drill import Drill, Round
from jam.styles.recipe_meaning import meaning_of
from jam.styles.recipe_text import LineRecipe

_WIDTH = 80
_HEAD = 9
_LONG_SEC = 180.0
_PLACES = {3: ".25", 4: ".33", 6: "&", 8: ".67", 9: ".75"}

QUIET = "Start quiet: turn the volume down before you begin and up from there."
HANDS = (
    "It lasts {minutes:.0f} minutes: take breaks, well before 45 minutes of playing at a stretch."
    " Stop when something hurts, tingles or goes numb, and ask a physician or a teacher who knows"
    " about musicians' health: they are qualified to advise you, this program is not."
)


def recipe_text(recipe: LineRecipe) -> str:
    """Return in words what a recipe says."""
    width = max(len(item) for item in recipe.line) + 2
    items = [f"  {d.words:<{width}}{meaning_of(d)}".rstrip() for d in recipe.devices]
    may_vary = ", ".join(recipe.varied) or "nothing"
    bars = f"{recipe.beats / 4:g} bar{'s' if recipe.beats > 4 else ''}"
    return "\n".join(
        [
            f"{recipe.name}: {recipe.about}",
            f"for {recipe.over}, {bars}; starts on {recipe.starts}; may vary: {may_vary}",
            "",
            *items,
        ]
    )


def drill_text(drill: Drill) -> str:
    """Return every round of the drill, note by note."""
    blocks = ["\n".join(_round(drill, one)) for one in drill.rounds]
    return "\n\n".join(blocks)


def cautions(length_sec: float) -> list[str]:
    """Return what to mind before playing along with so many seconds."""
    said = [QUIET]
    if length_sec >= _LONG_SEC:
        said += wrap(HANDS.format(minutes=length_sec / 60.0), _WIDTH)
    return said


def _round(drill: Drill, one: Round) -> list[str]:
    symbols = [c.chord.symbol for c in drill.changes.between(one.start, one.end)]
    lines = wrap(f"{one.tonic}: {' '.join(symbols)}", _WIDTH)
    for system in _systems([_column(drill, note) for note in one.notes]):
        lines += ["", *_rows(system)]
    return lines


def _column(drill: Drill, note: RecipeNote) -> tuple[str, ...]:
    beat = note.tick / TICKS
    bar, into = drill.bars.at(beat)
    whole = int(into + 1e-6)
    part = round((into - whole) * TICKS)
    place = f"{whole + 1}{_PLACES.get(part, f'+{part}/12' if part else '')}"
    return (str(bar), note.chord.symbol, place, spell(note.pitch, note.chord), note.degree)


def _systems(columns: Sequence[tuple[str, ...]]) -> Iterable[list[tuple[str, ...]]]:
    """Yield the columns in lines that fit, broken at bar lines where a bar fits on one."""
    system: list[tuple[str, ...]] = []
    for _, bar in groupby(columns, key=itemgetter(0)):
        for part in _parts(list(bar)):
            if system and _HEAD + _wide(system) + _wide(part) > _WIDTH:
                yield system
                system = []
            system = [*system, *part]
    if system:
        yield system


def _parts(bar: list[tuple[str, ...]]) -> Iterable[list[tuple[str, ...]]]:
    """Yield a bar's columns whole, or one by one where they are too many for a line."""
    if _HEAD + _wide(bar) <= _WIDTH:
        yield bar
    else:
        yield from ([column] for column in bar)


def _wide(columns: Sequence[tuple[str, ...]]) -> int:
    return sum(max(len(cell) for cell in column) + 1 for column in columns)


def _rows(system: Sequence[tuple[str, ...]]) -> list[str]:
    titles = ("bar", "chord", "beat", "note", "degree")
    widths = [max(len(cell) for cell in column) for column in system]
    rows = []
    for row, title in enumerate(titles):
        cells = []
        for place, (column, width) in enumerate(zip(system, widths, strict=True)):
            same = row < 2 and place and system[place - 1][: row + 1] == column[: row + 1]
            cells.append(f"{'' if same else column[row]:<{width}}")
        rows.append(f"{title:<{_HEAD}}{' '.join(cells)}".rstrip())
    return rows
