"""What was heard of a phrase, and how it is described.

Beats are quarter notes since the session's first downbeat; ``heard_beat`` is where a note really
fell, ``beat`` where it belongs on the grid.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Ornament = Literal["", "grace", "slide", "mordent", "turn", "trill"]
HeardRole = Literal[
    "", "chord tone", "tension", "approach", "anticipation", "leaning", "blue", "other"
]
"""Roles as for a reply's notes; empty where no chord is known, ``other`` for the rest."""


@dataclass(frozen=True, slots=True)
class LineNote:
    """A note of the player's line as it was played. ``end`` is the release of its key."""

    t: float
    end: float
    pitch: int
    velocity: int
    heard_beat: float
    heard_beats: float


@dataclass(frozen=True, slots=True)
class GridNote:
    """A note on the grid. ``strong`` says it is a chord tone or available tension there.

    ``chord`` is the symbol it was judged against. ``ornament`` and ``ornament_pitches`` are what
    decorates it. ``sounding`` is the share of the time to the next note that it sounded (the last
    note: 1); ``late_beats`` is how much later than ``beat`` it was struck.
    """

    beat: float
    beats: float
    pitch: int
    velocity: int
    degree: str
    strong: bool
    role: HeardRole = ""
    chord: str = ""
    ornament: Ornament = ""
    ornament_pitches: tuple[int, ...] = ()
    sounding: float = 1.0
    late_beats: float = 0.0

    @property
    def off_beat(self) -> bool:
        """Whether it lies off the beat."""
        return abs(self.beat - round(self.beat)) > 1e-6


@dataclass(frozen=True, slots=True)
class Cell:
    """Three to seven notes that belong together.

    ``intervals`` are semitones from note to note, ``onsets`` beats from the cell's first note,
    ``lengths`` beats; ``beat_in_bar`` is where its first note stood. ``first`` is the index of
    that note in the description's notes.
    """

    first: int
    intervals: tuple[int, ...]
    onsets: tuple[float, ...]
    lengths: tuple[float, ...]
    beat_in_bar: float
    salience: float
    times: int = 1
    moved: tuple[int, ...] = ()
    tonal: bool = False

    def __len__(self) -> int:
        return len(self.onsets)


@dataclass(frozen=True, slots=True)
class PhraseDescription:
    """A call described: its notes on the grid and what characterises them.

    ``cells`` are in order of salience, the most characteristic first (it may be empty: noise, or
    fewer than three notes). ``density`` is notes a beat between first onset and last release;
    ``contour`` is -1, 0 or 1 from first to last third of the phrase; ``triplets`` is the share of
    beats with a triplet place; ``swing_ratio`` is None when too few off-beats were heard.

    ``openness`` is how much the ending asks for an answer, from 0 (closed) to 1 (open).
    ``shape`` are the turning points of the line as (beat, pitch), first and last note included, in
    words in ``shape_words``. ``densities`` (notes a beat) and ``tensions`` (0 to 1) are by quarter
    of the phrase. ``middle`` is the median pitch. ``velocity_range`` is loudest less softest,
    ``swell`` -1, 0 or 1: softer, level, louder towards the end. ``sounding`` is the median share of
    the time between notes that sounds, ``legato`` the share of notes joined to the next.
    ``off_beats`` is the share of notes off the beat, ``sixteenths`` of beats divided in four or
    more. ``lag_beats`` is how late the player lies.
    """

    notes: tuple[GridNote, ...]
    cells: tuple[Cell, ...]
    start_beat: float
    end_beat: float
    density: float
    low: int
    high: int
    velocity: float
    contour: int
    starts_off_beat: bool
    ends_off_beat: bool
    open_ending: bool
    triplets: float
    swing_ratio: float | None
    openness: float = 0.5
    shape: tuple[tuple[float, int], ...] = ()
    shape_words: str = ""
    densities: tuple[float, ...] = ()
    tensions: tuple[float, ...] = ()
    middle: float = 0.0
    velocity_range: int = 0
    swell: int = 0
    sounding: float = 1.0
    legato: float = 0.0
    off_beats: float = 0.0
    sixteenths: float = 0.0
    lag_beats: float = 0.0
