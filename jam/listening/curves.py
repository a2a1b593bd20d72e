"""How does a phrase go? Its turning points, and how dense and tense it is from quarter to quarter.

The line's turning points are those of a zigzag that ignores swings smaller than a share of the
range: the contour that stays in the ear (contour reduction as an idea: Morris 1993, Music Theory
Spectrum 15(2); the zigzag is the author's plainer way). Tension is an author's mixture of how far
outside the notes are, how high they lie in the phrase, and how many there are.

Beats are quarter notes, pitches MIDI numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from statistics import fmean

from jam.listening.phrase import GridNote

TURN_SHARE, TURN_SEMITONES = 0.4, 3
"""A swing that counts is this share of the range, and so many semitones, at least."""
QUARTERS = 4
SWELL_VELOCITY = 6.0
"""First and last third differ in velocity by more than this if a phrase swells or fades."""
OUTSIDE = {
    "": 0.0, "chord tone": 0.0, "tension": 0.3, "anticipation": 0.4, "approach": 0.5,
    "leaning": 0.7, "blue": 0.6, "other": 1.0,
}  # fmt: skip
ALTERED = frozenset({"b9", "#9", "#11", "b13"})
ALTERED_OUTSIDE = 0.6
OUTSIDE_SHARE, HEIGHT_SHARE, ACTIVITY_SHARE = 0.5, 0.25, 0.25

Turn = tuple[float, int]
"""(beat, pitch)"""


def turning_points(notes: Sequence[GridNote]) -> tuple[Turn, ...]:
    """Return first note, turning points and last note as (beat, pitch)."""
    pitches = [note.pitch for note in notes]
    enough = max(TURN_SEMITONES, TURN_SHARE * (max(pitches) - min(pitches)))
    kept = {0, len(pitches) - 1}
    top = bottom = way = 0
    for index, pitch in enumerate(pitches):
        if pitch > pitches[top]:
            top = index
        if pitch < pitches[bottom]:
            bottom = index
        if way >= 0 and pitches[top] - pitch >= enough:
            kept.add(top)
            bottom, way = index, -1
        elif way <= 0 and pitch - pitches[bottom] >= enough:
            kept.add(bottom)
            top, way = index, 1
    return tuple((notes[index].beat, pitches[index]) for index in sorted(kept))


def shape_words(turns: Sequence[Turn]) -> str:
    """Return the way of a line in words: "rises, then falls"."""
    ways: list[str] = []
    for (_, before), (_, after) in pairwise(turns):
        if abs(after - before) < TURN_SEMITONES:
            continue
        way = "rises" if after > before else "falls"
        if not ways or ways[-1] != way:
            ways.append(way)
    if not ways:
        return "stays level"
    if len(ways) > 3:
        return "goes up and down"
    return ", then ".join(ways) if len(ways) < 3 else f"{ways[0]}, {ways[1]}, {ways[2]}"


def by_quarter(notes: Sequence[GridNote]) -> list[list[GridNote]]:
    """Return the notes of each quarter of the phrase by time."""
    start = notes[0].beat
    span = notes[-1].beat + notes[-1].beats - start
    quarters: list[list[GridNote]] = [[] for _ in range(QUARTERS)]
    for note in notes:
        quarters[min(QUARTERS - 1, int((note.beat - start) / span * QUARTERS))].append(note)
    return quarters


def densities(notes: Sequence[GridNote]) -> tuple[float, ...]:
    """Return notes a beat in each quarter of the phrase."""
    quarter = (notes[-1].beat + notes[-1].beats - notes[0].beat) / QUARTERS
    return tuple(len(part) / quarter for part in by_quarter(notes))


def tensions(notes: Sequence[GridNote]) -> tuple[float, ...]:
    """Return the tension, 0 to 1, in each quarter of the phrase; 0 where nothing is struck."""
    quarters = by_quarter(notes)
    pitches = [note.pitch for note in notes]
    low, width = min(pitches), max(1, max(pitches) - min(pitches))
    most = max(len(part) for part in quarters)
    return tuple(
        OUTSIDE_SHARE * fmean(_outside(note) for note in part)
        + HEIGHT_SHARE * fmean((note.pitch - low) / width for note in part)
        + ACTIVITY_SHARE * len(part) / most
        if part
        else 0.0
        for part in quarters
    )


def _outside(note: GridNote) -> float:
    if note.role == "tension" and note.degree in ALTERED:
        return ALTERED_OUTSIDE
    return OUTSIDE[note.role]


def swell(velocities: Sequence[int]) -> int:
    """Return 1 where the last third is louder than the first, -1 where softer, else 0."""
    third = max(1, len(velocities) // 3)
    rise = fmean(velocities[-third:]) - fmean(velocities[:third])
    return (rise > SWELL_VELOCITY) - (rise < -SWELL_VELOCITY)
