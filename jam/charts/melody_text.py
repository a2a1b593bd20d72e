"""Melody as it is typed: a line of words for notes, rests and holds, split at bar lines.

    pickup 1/8: C4 D F | A _ G F _ D C - | 1/4: F _ 1/8t: A G F 1/4: D

A word with a colon sets the length of all that follows, as a part of a whole note: ``1/4:`` a
quarter, ``1/8.:`` a dotted eighth, ``1/8t:`` an eighth of a triplet. A note is a capital with b or
# and an octave (C4 is middle C); without a number it lies in the octave of the note before. ``-``
is a rest; ``_`` holds the note before for one length more, over a bar line too. A bar that is
nothing but ``-`` or ``_`` is filled by it. ``pickup`` marks a first bar that comes before the
section's first downbeat.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from jam.charts.typed import Typed, TypedBar
from jam.errors import InputError

_LENGTH = re.compile(r"1/(1|2|4|8|16|32)(\.|t)?:$")
_NOTE = re.compile(r"([A-G])(b{0,2}|#{0,2})(-?\d)?$")
_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_LOW, _HIGH = 21, 108


@dataclass(frozen=True, slots=True)
class WrittenNote:
    """``beat`` in quarter notes from the section's first downbeat. ``pitch`` None: the note that
    sounded at the end of the text before goes on."""

    beat: float
    beats: float
    pitch: int | None


@dataclass(frozen=True, slots=True)
class WrittenMelody:
    """The notes of a section and the number of its bars, without the pickup."""

    notes: tuple[WrittenNote, ...]
    bars: int


def read_melody(typed: Typed, bar_beats: float) -> WrittenMelody:
    """Return the melody in ``typed``, for bars of ``bar_beats`` quarter notes.

    Raises InputError that names the bar (0 is the pickup) and the word, or the bar's length.
    """
    bars = typed.bars()
    if not bars:
        raise typed.error("there are no notes", "Write notes as in 1/8: C4 D E _, or leave it out.")
    reader = _Reader(typed, Fraction(bar_beats))
    pickup = bars[0].words[0] == "pickup"
    if pickup:
        reader.read_pickup(TypedBar(bars[0].words[1:], bars[0].line))
        bars = bars[1:]
    for number, bar in enumerate(bars, start=1):
        reader.read_bar(bar, number)
    return WrittenMelody(tuple(reader.written()), len(bars))


@dataclass(slots=True)
class _Sounding:
    at: Fraction
    length: Fraction
    pitch: int | None


class _Reader:
    """Reads bar after bar; the length and the octave last from one to the next."""

    def __init__(self, typed: Typed, bar_beats: Fraction) -> None:
        self.typed, self.bar_beats = typed, bar_beats
        self.length: Fraction | None = None
        self.octave: int | None = None
        self.notes: list[_Sounding] = []
        self.now = Fraction(0)
        self.rested = False

    def written(self) -> list[WrittenNote]:
        return [WrittenNote(float(n.at), float(n.length), n.pitch) for n in self.notes]

    def read_pickup(self, bar: TypedBar) -> None:
        self._read_words(bar, 0)
        if not 0 < self.now < self.bar_beats:
            mend = "A pickup is shorter than a bar: write a full bar without the word pickup."
            raise self.typed.error(f"the pickup lasts {_beats(self.now)}", mend, bar.line)
        for note in self.notes:
            note.at -= self.now
        self.now = Fraction(0)

    def read_bar(self, bar: TypedBar, number: int) -> None:
        start = self.now
        if bar.words in (("-",), ("_",)):
            self._place(bar.words[0], self.bar_beats, bar, number)
            return
        self._read_words(bar, number)
        filled = self.now - start
        if filled != self.bar_beats:
            problem = f"bar {number} of the melody lasts {_beats(filled)}"
            mend = f"It should last {_beats(self.bar_beats)}: check its lengths, rests and holds."
            raise self.typed.error(problem, mend, bar.line)

    def _read_words(self, bar: TypedBar, number: int) -> None:
        for word in bar.words:
            if word.endswith(":"):
                self.length = self._read_length(word, bar, number)
            elif self.length is None:
                mend = "Write a length before the first note, as in 1/8: for eighths."
                raise self._fail(f"`{word}` has no length", mend, bar, number)
            else:
                self._place(word, self.length, bar, number)

    def _read_length(self, word: str, bar: TypedBar, number: int) -> Fraction:
        match = _LENGTH.match(word)
        if match is None:
            mend = "Lengths are 1/1: 1/2: 1/4: 1/8: 1/16:, with a dot 1/4.: or a triplet 1/8t:"
            raise self._fail(f"`{word}` is no length", mend, bar, number)
        bend = {None: Fraction(1), ".": Fraction(3, 2), "t": Fraction(2, 3)}[match[2]]
        return Fraction(4, int(match[1])) * bend

    def _place(self, word: str, length: Fraction, bar: TypedBar, number: int) -> None:
        if word == "_":
            self._hold(length, bar, number)
        elif word == "-":
            self.rested = True
        else:
            self.notes.append(_Sounding(self.now, length, self._pitch(word, bar, number)))
            self.rested = False
        self.now += length

    def _hold(self, length: Fraction, bar: TypedBar, number: int) -> None:
        if self.rested:
            raise self._fail("`_` holds a rest", "Write - for a longer rest.", bar, number)
        if not self.notes:
            self.notes.append(_Sounding(self.now, length, None))
        else:
            self.notes[-1].length += length

    def _pitch(self, word: str, bar: TypedBar, number: int) -> int:
        match = _NOTE.match(word.replace("♭", "b").replace("♯", "#"))
        if match is None:
            mend = (
                "Notes are a capital with b or # and an octave, as in Bb4; - is a rest, _ a hold."
            )
            raise self._fail(f"`{word}` is no note", mend, bar, number)
        if match[3] is not None:
            self.octave = int(match[3])
        if self.octave is None:
            raise self._fail(f"`{word}` has no octave", f"Write {word}4, say.", bar, number)
        bend = match[2].count("#") - match[2].count("b")
        pitch = 12 * (self.octave + 1) + _STEPS[match[1]] + bend
        if not _LOW <= pitch <= _HIGH:
            mend = "Write notes from A0 to C8; C4 is middle C."
            raise self._fail(f"`{word}` lies outside the piano", mend, bar, number)
        return pitch

    def _fail(self, problem: str, mend: str, bar: TypedBar, number: int) -> InputError:
        place = f"bar {number} of the melody" if number else "the pickup"
        return self.typed.error(f"{place}: {problem}", mend, bar.line)


def _beats(length: Fraction) -> str:
    whole, part = divmod(length, 1)
    text = " ".join(str(p) for p in (whole, part) if p) or "0"
    return f"{text} beats"
