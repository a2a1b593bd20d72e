"""A phrase of the player's, described: its notes on the grid, its cells, its manner.

`describe` takes a phrase as it was played; `described` one whose notes are on the grid already.
Each note has a role against the chord it sounds on (`jam.listening.roles`), the ending is open or
closed (`jam.listening.endings`), and curves say how the phrase goes (`jam.listening.curves`).
Without changes every note is strong and has no degree, and no ending is called open.

Beats are quarter notes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from statistics import fmean, median

from jam.harmony.changes import Changes
from jam.harmony.keys import Key
from jam.listening.cells import cells_of
from jam.listening.curves import densities, shape_words, swell, tensions, turning_points
from jam.listening.endings import OPEN_FROM, openness
from jam.listening.grid import Grid, Placed, to_grid
from jam.listening.phrase import GridNote, LineNote, PhraseDescription
from jam.listening.roles import Judged, judged
from jam.transport.metre import Bars

FLAT_SEMITONES = 2.0
"""A phrase whose last third lies no further from its first than this is level."""
JOINED = 0.85
"""A note that sounds for this share of the time to the next is joined to it."""


def describe(
    notes: Sequence[LineNote],
    changes: Changes,
    bars: Bars,
    *,
    key: Key | None = None,
    blues: bool = False,
) -> PhraseDescription:
    """Return what characterises ``notes`` (a phrase in order of onset, one note at a time).

    ``key`` and ``blues`` tell the blue notes and the tonic. Raises ValueError when there are no
    notes.
    """
    if not notes:
        raise ValueError("a phrase needs a note")
    grid = to_grid(notes)
    rows = [(note.beat, note.beats, note.heard.pitch) for note in grid.notes]
    does = judged(rows, changes, beat_sec=grid.beat_sec, key=key, blues=blues)
    told = tuple(_on_grid(note, what) for note, what in zip(grid.notes, does, strict=True))
    return _summed(told, changes, bars, grid, key=key, blues=blues)


def described(
    notes: Sequence[GridNote],
    changes: Changes,
    bars: Bars,
    *,
    key: Key | None = None,
    blues: bool = False,
) -> PhraseDescription:
    """Return what characterises ``notes`` that are on the grid already (a reply of one's own).

    Their degrees and roles are judged anew. Raises ValueError when there are none.
    """
    if not notes:
        raise ValueError("a phrase needs a note")
    does = judged([(n.beat, n.beats, n.pitch) for n in notes], changes, key=key, blues=blues)
    told = tuple(
        replace(note, degree=what.degree, strong=what.strong, role=what.role, chord=what.chord)
        for note, what in zip(notes, does, strict=True)
    )
    return _summed(told, changes, bars, _grid_of(notes), key=key, blues=blues)


def _on_grid(note: Placed, what: Judged) -> GridNote:
    return GridNote(
        beat=note.beat,
        beats=note.beats,
        pitch=note.heard.pitch,
        velocity=note.heard.velocity,
        degree=what.degree,
        strong=what.strong,
        role=what.role,
        chord=what.chord,
        ornament=note.ornament,
        ornament_pitches=note.ornament_pitches,
        sounding=note.sounding,
        late_beats=note.struck - note.beat,
    )


def _grid_of(notes: Sequence[GridNote]) -> Grid:
    """Return how beats are divided by notes that are on the grid."""
    beats: dict[int, set[int]] = {}
    for note in notes:
        beat = int((note.beat + 1e-6) // 1)
        beats.setdefault(beat, set()).add(round((note.beat - beat) * 12))
    triplets = sum(bool(places & {4, 8}) and not places & {3, 9} for places in beats.values())
    fine = sum(bool(places - {0, 4, 6, 8}) for places in beats.values())
    return Grid((), None, 0.0, triplets / len(beats), fine / len(beats))


def _summed(
    notes: tuple[GridNote, ...],
    changes: Changes,
    bars: Bars,
    grid: Grid,
    *,
    key: Key | None,
    blues: bool,
) -> PhraseDescription:
    first, last = notes[0], notes[-1]
    end_beat = last.beat + last.beats
    pitches = [note.pitch for note in notes]
    velocities = [note.velocity for note in notes]
    inner = [note.sounding for note in notes[:-1]] or [1.0]
    turns = turning_points(notes)
    asks = openness(notes, changes, bars, key=key, blues=blues)
    return PhraseDescription(
        notes=notes,
        cells=cells_of(notes, bars),
        start_beat=first.beat,
        end_beat=end_beat,
        density=len(notes) / (end_beat - first.beat),
        low=min(pitches),
        high=max(pitches),
        velocity=fmean(velocities),
        contour=_contour(pitches),
        starts_off_beat=first.off_beat,
        ends_off_beat=last.off_beat,
        open_ending=bool(last.degree) and asks >= OPEN_FROM,
        triplets=grid.triplets,
        swing_ratio=grid.swing_ratio,
        openness=asks,
        shape=turns,
        shape_words=shape_words(turns),
        densities=densities(notes),
        tensions=tensions(notes),
        middle=median(pitches),
        velocity_range=max(velocities) - min(velocities),
        swell=swell(velocities),
        sounding=median(inner),
        legato=fmean(share >= JOINED for share in inner),
        off_beats=fmean(note.off_beat for note in notes),
        sixteenths=grid.sixteenths,
        lag_beats=grid.lag_beats,
    )


def _contour(pitches: Sequence[int]) -> int:
    third = max(1, len(pitches) // 3)
    rise = fmean(pitches[-third:]) - fmean(pitches[:third])
    return 0 if abs(rise) <= FLAT_SEMITONES else (1 if rise > 0 else -1)
