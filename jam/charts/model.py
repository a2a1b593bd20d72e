"""What a tune is: changes in bars, melody, and the road map through them.

All beats are quarter notes. A chart is kept unrolled: repeats, first and second endings are
written out, so that one chorus is a plain run of bars; the last time through has a run of its own
(coda, tag).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

from jam.harmony.chord import Chord
from jam.harmony.keys import Key
from jam.transport.metre import Metre

Feel = Literal["swing", "straight"]
Player = Literal["companion", "player", "none"]

TAG_BARS = 4
"""How many bars a tag plays once more (common practice)."""


@dataclass(frozen=True, slots=True)
class ChartChange:
    """``chord`` from ``beat`` (within its bar) on; ``passing`` chords are not landed on."""

    beat: float
    chord: Chord
    passing: bool = False


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar of the unrolled form. ``changes`` may be empty: the chord before goes on.

    ``opens`` says that a section begins here, though the one before may have the same name.
    """

    beats: float
    changes: tuple[ChartChange, ...]
    section: str
    opens: bool = False


@dataclass(frozen=True, slots=True)
class MelodyNote:
    """``beat`` counts from the first downbeat of the chorus (negative: a pickup)."""

    beat: float
    beats: float
    pitch: int


@dataclass(frozen=True, slots=True)
class Passage:
    """A run of bars with the melody over it."""

    bars: tuple[Bar, ...]
    melody: tuple[MelodyNote, ...] = ()

    @property
    def beats(self) -> float:
        """Length in quarter notes."""
        return sum(bar.beats for bar in self.bars)

    def opens(self, bar: int) -> bool:
        """Return whether a section begins with ``bar`` (from 0), or the passage has ended there."""
        if not 0 < bar < len(self.bars):
            return True
        return self.bars[bar].opens or self.bars[bar].section != self.bars[bar - 1].section

    def tagged(self, times: int) -> Passage:
        """Return the passage with its last four bars once more, ``times`` over."""
        again = self._from_a_chord(max(0, len(self.bars) - TAG_BARS))
        tag_beats, end = sum(bar.beats for bar in again), self.beats
        melody = list(self.melody)
        for time in range(1, times + 1):
            begin = end + (time - 1) * tag_beats
            melody = [replace(n, beats=min(n.beats, begin - n.beat)) for n in melody]
            melody += [
                replace(note, beat=note.beat + time * tag_beats)
                for note in self.melody
                if note.beat >= end - tag_beats
            ]
        return Passage((*self.bars, *(again * times)), tuple(melody))

    def _from_a_chord(self, first: int) -> tuple[Bar, ...]:
        """Return the bars from ``first`` on, with the chord that goes on there written out."""
        again = self.bars[first:]
        if not again or (again[0].changes and again[0].changes[0].beat == 0.0):
            return again
        held = [change for bar in self.bars[:first] for change in bar.changes][-1:]
        changes = (*(replace(change, beat=0.0) for change in held), *again[0].changes)
        return (replace(again[0], changes=changes), *again[1:])


@dataclass(frozen=True, slots=True)
class RoadMap:
    """The way through the tune from count-in to last note.

    ``choruses`` is the number of choruses between head and head out; None goes on until the
    *last time* cue. The last four bars of all are played ``tags`` times more; with a ``fermata``
    the last chord is held until it is cut off.
    """

    count_in_bars: int = 2
    head: Player = "none"
    choruses: int | None = None
    head_out: Player = "none"
    tags: int = 0
    fermata: bool = False


@dataclass(frozen=True)
class Chart:
    """A tune ready to be played.

    ``tempo_bpm`` is in quarter notes a minute, ``last`` is the chorus as it goes the last time
    (equal to ``chorus`` when there is neither coda nor tag), ``blues`` says that dominants are
    blues chords. ``about`` is a line or two in plain words.
    """

    title: str
    key: Key
    metre: Metre
    tempo_bpm: float
    feel: Feel
    chorus: Passage
    last: Passage
    road_map: RoadMap = field(default_factory=RoadMap)
    blues: bool = False
    about: str = ""
