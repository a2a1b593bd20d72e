"""A phrase of the player's, described: its notes on the grid, its cells, its manner.

Each note is judged against the chord it sounds on; one struck off the beat, at most half a beat
before a change that it sounds into, is judged against the chord to come (an anticipation) where
only that one makes it strong. *Open* is a phrase whose last note is not a resting place: anything
but 1, 3 or 5 of its chord. Without changes every note is strong and has no degree.

Beats are quarter notes.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import fmean

from jam.harmony.changes import Changes
from jam.harmony.chord import NO_CHORD, Chord
from jam.listening.cells import cells_of
from jam.listening.grid import Placed, to_grid
from jam.listening.phrase import GridNote, LineNote, PhraseDescription
from jam.transport.metre import Bars

ANTICIPATION_BEATS = 0.5
RESTING_DEGREES = frozenset({"1", "b3", "3", "b5", "5", "#5"})
FLAT_SEMITONES = 2.0
"""A phrase whose last third lies no further from its first than this is level."""


def describe(notes: Sequence[LineNote], changes: Changes, bars: Bars) -> PhraseDescription:
    """Return what characterises ``notes`` (a phrase in order of onset, one note at a time).

    Raises ValueError when there are none.
    """
    if not notes:
        raise ValueError("a phrase needs a note")
    grid = to_grid(notes)
    placed = [_judged(note, changes) for note in grid.notes]
    first, last = placed[0], placed[-1]
    end_beat = last.beat + last.beats
    pitches = [note.pitch for note in placed]
    return PhraseDescription(
        notes=tuple(placed),
        cells=cells_of(placed, bars),
        start_beat=first.beat,
        end_beat=end_beat,
        density=len(placed) / (end_beat - first.beat),
        low=min(pitches),
        high=max(pitches),
        velocity=fmean(note.velocity for note in placed),
        contour=_contour(pitches),
        starts_off_beat=not _on_beat(first.beat),
        ends_off_beat=not _on_beat(last.beat),
        open_ending=bool(last.degree) and last.degree not in RESTING_DEGREES,
        triplets=grid.triplets,
        swing_ratio=grid.swing_ratio,
    )


def _judged(note: Placed, changes: Changes) -> GridNote:
    chord = _chord_for(note, changes)
    pitch = note.heard.pitch
    return GridNote(
        beat=note.beat,
        beats=note.beats,
        pitch=pitch,
        velocity=note.heard.velocity,
        degree=chord.degree(pitch),
        strong=chord.is_strong(pitch),
    )


def _chord_for(note: Placed, changes: Changes) -> Chord:
    if not changes:
        return NO_CHORD
    chord = changes.at(note.beat).chord
    following = changes.after(note.beat)
    if following is None or _on_beat(note.beat) or chord.is_strong(note.heard.pitch):
        return chord
    ahead = following.beat - note.beat
    into = ahead <= ANTICIPATION_BEATS + 1e-6 and note.beats >= ahead - 1e-6
    return following.chord if into and following.chord.is_strong(note.heard.pitch) else chord


def _on_beat(beat: float) -> bool:
    return abs(beat - round(beat)) < 1e-6


def _contour(pitches: Sequence[int]) -> int:
    third = max(1, len(pitches) // 3)
    rise = fmean(pitches[-third:]) - fmean(pitches[:third])
    return 0 if abs(rise) <= FLAT_SEMITONES else (1 if rise > 0 else -1)
