"""What does each note do against the chords that sounded? The roles of a reply, told of a call.

A strong note is a *chord tone* or a *tension*. Of the others, one struck off the beat at most half
a beat before a change that it sounds into, and strong there, is an *anticipation*; one on or across
a change that goes by step to a strong note within a beat is *leaning*; one of half a beat or 250 ms
at most that goes by step to a strong note within three notes is an *approach*; in a blues, one of
the blue notes is *blue*; the rest are *other*. Without changes, or on N.C., every note is strong
and has no role.

Beats are quarter notes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from jam.harmony.changes import Change, Changes
from jam.harmony.chord import NO_CHORD, Chord
from jam.harmony.functions import blue_tones
from jam.harmony.keys import Key
from jam.listening.phrase import HeardRole

ANTICIPATION_BEATS = 0.5
LEANING_BEATS = 1.0
APPROACH_BEATS, APPROACH_SEC, APPROACH_NOTES = 0.5, 0.25, 3
STEP = 2
_HAIR = 1e-6


@dataclass(frozen=True, slots=True)
class Judged:
    """What a note does: its degree and role against ``chord`` (a symbol)."""

    degree: str
    strong: bool
    role: HeardRole
    chord: str


Note = tuple[float, float, int]
"""(beat, beats, pitch) on the grid."""


def judged(
    notes: Sequence[Note],
    changes: Changes,
    *,
    beat_sec: float = 0.5,
    key: Key | None = None,
    blues: bool = False,
) -> list[Judged]:
    """Return what each note of a line does against ``changes``."""
    chords = [_chord_for(note, changes) for note in notes]
    strong = [chord.is_strong(note[2]) for note, (chord, _) in zip(notes, chords, strict=True)]
    short = max(APPROACH_BEATS, APPROACH_SEC / beat_sec) + _HAIR
    found = []
    for index, ((_, beats, pitch), (chord, ahead)) in enumerate(zip(notes, chords, strict=True)):
        role: HeardRole = ""
        if chord.is_none:
            pass
        elif ahead:
            role = "anticipation"
        elif strong[index]:
            role = "chord tone" if pitch % 12 in chord.tones else "tension"
        elif _leans(index, notes, strong, changes):
            role = "leaning"
        elif beats <= short and _resolves(index, notes, strong, APPROACH_NOTES):
            role = "approach"
        else:
            role = "blue" if blues and pitch % 12 in blue_tones(chord, key) else "other"
        symbol = "" if chord.is_none else chord.symbol
        found.append(Judged(chord.degree(pitch), strong[index], role, symbol))
    return found


def _chord_for(note: Note, changes: Changes) -> tuple[Chord, bool]:
    """Return the chord a note is judged against, and whether that is the one to come."""
    if not changes:
        return NO_CHORD, False
    beat, beats, pitch = note
    chord = changes.at(beat).chord
    if chord.is_strong(pitch) or abs(beat - round(beat)) < _HAIR:
        return chord, False
    following = changes.after(beat)
    if following is None:
        return chord, False
    ahead = following.beat - beat
    into = ahead <= ANTICIPATION_BEATS + _HAIR and beats >= ahead - _HAIR
    if into and following.chord.is_strong(pitch):
        return following.chord, True
    return chord, False


def _leans(index: int, notes: Sequence[Note], strong: Sequence[bool], changes: Changes) -> bool:
    beat, beats, _ = notes[index]
    change = _change_under(beat, beats, changes)
    if change is None or index + 1 == len(notes):
        return False
    soon = notes[index + 1][0] - max(beat, change.beat) <= LEANING_BEATS + _HAIR
    return soon and _resolves(index, notes, strong, 1)


def _change_under(beat: float, beats: float, changes: Changes) -> Change | None:
    """Return the change on which a note is struck or which it is held across."""
    present = changes.at(beat)
    if abs(present.beat - beat) < _HAIR:
        return present
    following = changes.after(beat)
    held = following is not None and following.beat < beat + beats - _HAIR
    return following if held else None


def _resolves(index: int, notes: Sequence[Note], strong: Sequence[bool], within: int) -> bool:
    """Tell whether a strong note a step away comes within so many notes."""
    pitch = notes[index][2]
    return any(
        strong[later] and 0 < abs(notes[later][2] - pitch) <= STEP
        for later in range(index + 1, min(index + 1 + within, len(notes)))
    )
