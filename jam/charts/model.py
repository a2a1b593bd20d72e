"""What a tune is: changes in bars, melody, and the road map through them.

All beats are quarter notes. A chart is kept unrolled: repeats, first and second endings are
written out, so that one chorus is a plain run of bars; the last time through has a run of its own
(coda, tag).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from jam.harmony.chord import Chord
from jam.harmony.keys import Key
from jam.transport.metre import Metre

Feel = Literal["swing", "straight"]
Player = Literal["companion", "player", "none"]


@dataclass(frozen=True, slots=True)
class ChartChange:
    """``chord`` from ``beat`` (within its bar) on; ``passing`` chords are not landed on."""

    beat: float
    chord: Chord
    passing: bool = False


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar of the unrolled form. ``changes`` may be empty: the chord before goes on."""

    beats: float
    changes: tuple[ChartChange, ...]
    section: str


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


@dataclass(frozen=True, slots=True)
class RoadMap:
    """The way through the tune from count-in to last note.

    ``choruses`` is the number of choruses between head and head out; None goes on until the
    *last time* cue.
    """

    count_in_bars: int = 2
    head: Player = "none"
    choruses: int | None = None
    head_out: Player = "none"


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
