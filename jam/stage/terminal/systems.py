"""A phrase as lines of text: chord, note name, degree and, in a reply, the mark of each role."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from rich.text import Text

from jam.stage.terminal.glyphs import COLOURS, Glyphs
from jam.stage.terminal.story import Note, Phrase, Story


@dataclass(frozen=True)
class _Column:
    note: Note
    bar: int
    chord: str
    mark: str

    @property
    def width(self) -> int:
        return 1 + max(len(self.chord), len(self.note.letter), len(self.note.degree), 1)


def systems(
    phrase: Phrase, story: Story, glyphs: Glyphs, width: int, most: int, beat: float
) -> list[Text]:
    """Return the phrase in at most ``most`` systems of lines, each ``width`` columns at most.

    Where there are more, the ones are shown that are sounding at ``beat`` and come after; once all
    is over, the last ones.
    """
    broken = _broken(_columns(phrase, story, glyphs), width)
    first = next((i for i, row in enumerate(broken) if row[-1].note.beat >= beat), len(broken))
    first = max(0, min(first, len(broken) - most))
    return [line for row in broken[first : first + most] for line in _lines(row)]


def count_systems(phrase: Phrase, story: Story, glyphs: Glyphs, width: int) -> int:
    """Return how many systems the whole phrase takes."""
    return len(_broken(_columns(phrase, story, glyphs), width))


def _columns(phrase: Phrase, story: Story, glyphs: Glyphs) -> list[_Column]:
    columns = []
    chord = ""
    for note, following in zip(phrase.notes, [*phrase.notes[1:], None], strict=True):
        upwards = following is not None and following.pitch > note.pitch
        mark = glyphs.mark(note.role, upwards=upwards)
        shown = note.chord if note.chord != chord else ""
        columns.append(_Column(note, story.bar(note.beat), shown, mark))
        chord = note.chord
    return columns


def _broken(columns: Sequence[_Column], width: int) -> list[list[_Column]]:
    """Break at bar lines where there is a choice."""
    bars: list[list[_Column]] = []
    for column in columns:
        if not bars or bars[-1][-1].bar != column.bar:
            bars.append([])
        bars[-1].append(column)
    rows: list[list[_Column]] = []
    for bar in bars:
        if rows and _width([*rows[-1], *bar]) <= width:
            rows[-1] += bar
            continue
        rows.append([])
        for column in bar:
            if rows[-1] and _width([*rows[-1], column]) > width:
                rows.append([])
            # Each line begins with the chord that its first note was judged by.
            first = not rows[-1]
            rows[-1].append(replace(column, chord=column.note.chord) if first else column)
    return rows


def _width(row: Sequence[_Column]) -> int:
    return sum(column.width for column in row) + 2 * sum(a.bar != b.bar for a, b in pairwise(row))


def _lines(row: Sequence[_Column]) -> list[Text]:
    chords, names, degrees, marks = Text(), Text(), Text(), Text()
    for index, column in enumerate(row):
        if index and row[index - 1].bar != column.bar:
            for line in (chords, names, degrees, marks):
                line.append("| ")
        width = column.width
        chords.append(f"{column.chord:<{width}}", "bold")
        names.append(f"{column.note.letter:<{width}}", "bold")
        degrees.append(f"{column.note.degree:<{width}}")
        marks.append(f"{column.mark:<{width}}", COLOURS.get(column.note.role, ""))
    has_marks = any(column.mark for column in row)
    return [chords, names, degrees, *([marks] if has_marks else [])]
