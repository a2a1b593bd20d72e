"""A lead sheet as plain values (what the MusicXML worker prints) made into a `Chart`.

    {"title": "..", "key": "Bb major", "metre": "4/4", "tempo_bpm": 120.0, "feel": "swing",
     "bars": [{"beats": 4.0, "section": "A", "changes": [[0.0, "Dm7"], [2.0, "G7"]]}],
     "melody": [[0.0, 1.5, 62]]}

Beats are quarter notes: of a change from its bar line, of a note from the first downbeat.
"""

from __future__ import annotations

from typing import Literal, TypedDict

from jam.charts.metres import METRES, TEMPO_BPM, metre_of
from jam.charts.model import Bar, Chart, ChartChange, MelodyNote, Passage
from jam.errors import InputError
from jam.harmony.chord import NO_CHORD
from jam.harmony.keys import parse_key
from jam.harmony.pitch import SymbolError
from jam.harmony.symbols import parse_chord


class SheetBar(TypedDict):
    beats: float
    section: str
    changes: list[tuple[float, str]]


class Sheet(TypedDict):
    """A lead sheet, unrolled."""

    title: str
    key: str
    metre: str
    tempo_bpm: float
    feel: Literal["swing", "straight"]
    bars: list[SheetBar]
    melody: list[tuple[float, float, int]]


def chart_of_sheet(sheet: Sheet, source: str) -> Chart:
    """Return the chart of a sheet read from ``source``.

    Raises InputError when its metre, tempo or a chord cannot be played.
    """
    try:
        metre = metre_of(sheet["metre"])
    except ValueError as error:
        raise InputError(source, str(error), "Metres: " + ", ".join(METRES) + ".") from None
    tempo_bpm = sheet["tempo_bpm"]
    low, high = TEMPO_BPM
    if not low <= tempo_bpm <= high:
        problem = f"a tempo of {tempo_bpm:g} quarter notes a minute cannot be played"
        raise InputError(source, problem, f"It lies between {low:g} and {high:g}.")
    bars = [_bar(bar, number, source) for number, bar in enumerate(sheet["bars"], start=1)]
    if not bars[0].changes or bars[0].changes[0].beat > 0:
        silent = (ChartChange(0.0, NO_CHORD), *bars[0].changes)
        bars[0] = Bar(bars[0].beats, silent, bars[0].section)
    melody = tuple(MelodyNote(beat, beats, pitch) for beat, beats, pitch in sheet["melody"])
    chorus = Passage(tuple(bars), melody)
    return Chart(
        title=sheet["title"],
        key=parse_key(sheet["key"]),
        metre=metre,
        tempo_bpm=tempo_bpm,
        feel=sheet["feel"],
        chorus=chorus,
        last=chorus,
        about=f"Read from {source}.",
    )


def _bar(bar: SheetBar, number: int, source: str) -> Bar:
    changes: list[ChartChange] = []
    for beat, symbol in bar["changes"]:
        try:
            chord = parse_chord(symbol)
        except SymbolError as error:
            near = f"The nearest that can be played is {error.nearest}." if error.nearest else ""
            problem = f"bar {number}: the chord {symbol} is unknown"
            mend = near or "Write a simpler chord there."
            raise InputError(source, problem, mend) from None
        if changes and changes[-1].beat == beat:
            changes.pop()
        changes.append(ChartChange(beat, chord))
    return Bar(bar["beats"], tuple(changes), bar["section"])
