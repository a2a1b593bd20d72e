"""What was heard of a phrase, and how it is described.

Beats are quarter notes since the session's first downbeat; ``heard_beat`` is where a note really
fell, ``beat`` where it belongs on the grid.
"""

from __future__ import annotations

from dataclasses import dataclass


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
    """A note on the grid. ``strong`` says it is a chord tone or available tension there."""

    beat: float
    beats: float
    pitch: int
    velocity: int
    degree: str
    strong: bool


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
