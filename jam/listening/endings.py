"""Does a phrase end open, like a question, or closed?

Each sign leaves the ending open by a share of its own, and the signs add up like independent
chances. Closed are a resting degree (1, less so 3 and 5), the tonic or the chord that a dominant
has just gone to, a strong beat, a long note, a fall at the end; open are the tensions and 7ths, a
dominant that still has to resolve (the half cadence), an off-beat, a short note, a rise at the end
(textbook theory: authentic and half cadence; "up asks, down answers" is common practice). The
shares are the author's.

Beats are quarter notes.
"""

from __future__ import annotations

from collections.abc import Sequence

from jam.harmony.changes import Changes
from jam.harmony.chord import Chord
from jam.harmony.keys import Key
from jam.listening.phrase import GridNote
from jam.transport.metre import Bars

OPEN_FROM = 0.5
"""An ending of this openness or more is an open one."""
DEGREES = {
    "1": 0.0, "3": 0.2, "b3": 0.2, "5": 0.25, "b5": 0.25, "#5": 0.25, "6": 0.5, "13": 0.6,
    "9": 0.6, "b7": 0.75, "7": 0.75, "11": 0.8,
}  # fmt: skip
ANY_OTHER_DEGREE = 0.9
DEGREE_SHARE, CHORD_SHARE, PLACE_SHARE, LENGTH_SHARE, RISE_SHARE = 0.75, 0.6, 0.2, 0.15, 0.15
LONG_BEATS = 1.5


def openness(
    notes: Sequence[GridNote],
    changes: Changes,
    bars: Bars,
    *,
    key: Key | None = None,
    blues: bool = False,
) -> float:
    """Return how open the ending of ``notes`` (at least one) is, 0 (closed) to 1.

    Without a chord under the last note only place, length and direction speak.
    """
    last = notes[-1]
    closed = 1.0
    if last.degree:
        closed *= 1.0 - DEGREE_SHARE * DEGREES.get(last.degree, ANY_OTHER_DEGREE)
        closed *= 1.0 - CHORD_SHARE * _unresolved(last, changes, key, blues=blues)
    closed *= 1.0 - PLACE_SHARE * _place(last, bars)
    closed *= 1.0 - LENGTH_SHARE * max(0.0, 1.0 - last.beats / LONG_BEATS)
    closed *= 1.0 - RISE_SHARE * _rise(notes)
    return 1.0 - closed


def _unresolved(note: GridNote, changes: Changes, key: Key | None, *, blues: bool) -> float:
    """Return how much the chord on which a phrase stops wants to go on, 0 to 1."""
    index = changes.index_at(note.beat)
    if note.role == "anticipation":
        index += 1
    chord = changes[index].chord
    before = changes[index - 1].chord if index else None
    following = changes[index + 1].chord if index + 1 < len(changes) else None
    if key is not None and chord.root == key.tonic and (blues or chord.kind != "dominant"):
        return 0.0
    if chord.kind in ("dominant", "sus"):
        if blues or (following is not None and not _falls_to(chord, following)):
            return 0.4
        return 1.0
    if chord.kind in ("half_diminished", "diminished", "augmented"):
        return 0.9
    if before is not None and before.kind in ("dominant", "sus") and _falls_to(before, chord):
        return 0.0
    return 0.4 if chord.kind == "minor" else 0.15


def _falls_to(chord: Chord, following: Chord) -> bool:
    """Tell whether the root falls a fifth, or a half step as a tritone substitute does."""
    return (chord.root - following.root) % 12 in (7, 1)


def _place(note: GridNote, bars: Bars) -> float:
    bar, beat = bars.at(note.beat)
    if note.off_beat:
        return 0.7
    half = bars.length(bar) / 2.0
    strong = beat < 1e-6 or (half % 1.0 == 0.0 and half > 1.0 and abs(beat - half) < 1e-6)
    return 0.0 if strong else 0.4


def _rise(notes: Sequence[GridNote]) -> float:
    if len(notes) < 2 or notes[-1].pitch == notes[-2].pitch:
        return 0.5
    return 1.0 if notes[-1].pitch > notes[-2].pitch else 0.0
