"""The companion's own phrase, described as a call would be, so that a solo can go on from it."""

from __future__ import annotations

from collections.abc import Sequence

from jam.events import PlannedNote
from jam.listening.cells import cells_of
from jam.listening.phrase import GridNote, PhraseDescription
from jam.transport.metre import Bars

_FEWEST = 3
_FLAT_SEMITONES = 1.0
"""A phrase that moves by less than this from first to last third has a flat contour."""


def describe_own(notes: Sequence[PlannedNote], bars: Bars) -> PhraseDescription | None:
    """Return the description of a reply, None if it is too short to have a shape."""
    if len(notes) < _FEWEST:
        return None
    grid = tuple(
        GridNote(
            n.beat, n.beats, n.pitch, n.velocity, n.degree, n.role in ("chord tone", "tension")
        )
        for n in notes
    )
    pitches = [n.pitch for n in notes]
    start, end = notes[0].beat, notes[-1].beat + notes[-1].beats
    return PhraseDescription(
        grid,
        cells_of(grid, bars),
        start,
        end,
        len(notes) / max(1.0, end - start),
        min(pitches),
        max(pitches),
        sum(n.velocity for n in notes) / len(notes),
        _contour(pitches),
        starts_off_beat=start % 1.0 > 0.01,
        ends_off_beat=notes[-1].beat % 1.0 > 0.01,
        open_ending=notes[-1].role != "chord tone",
        triplets=0.0,
        swing_ratio=None,
    )


def _contour(pitches: Sequence[int]) -> int:
    third = max(1, len(pitches) // 3)
    rise = sum(pitches[-third:]) / third - sum(pitches[:third]) / third
    return (rise > _FLAT_SEMITONES) - (rise < -_FLAT_SEMITONES)
