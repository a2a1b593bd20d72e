"""What sounds within a stretch of beats, weighed by pitch class; and its lowest note.

An onset counts most, a note held on counts by how long it sounds; loud counts more than soft, the
very high register less (it is melody). The lowest note counts as a bass the deeper it lies: fully
from A2 down, not at all where left-hand voicings live. A bass that walks counts half: it passes
through other notes than the root. Beats are quarter notes, pitches MIDI numbers.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from itertools import pairwise
from math import inf

ONSET_WEIGHT, HELD_WEIGHT = 0.8, 0.5
MOST_WEIGHT = 1.4
"""No pitch class weighs more, however often it is struck."""

MELODY_FROM, MELODY_SHARE = 79, 0.6
BASS_FULL, BASS_NONE = 45, 57
BASS_BELOW = 47
"""A note at or below this pitch is a bass note (B2: the low end of left-hand voicings)."""

BASS_MEMORY_BEATS = 8.0
WALK_NOTES, WALKING_SHARE = 3, 0.5


@dataclass(frozen=True, slots=True)
class Evidence:
    """``weights`` by pitch class; ``bass`` is the lowest pitch (None: silence)."""

    weights: list[float]
    bass: int | None
    bass_weight: float


@dataclass(slots=True)
class _Note:
    pitch: int
    loudness: float
    start: float
    end: float


class Sounding:
    """The notes that sound, and those of the present stretch that have ended."""

    def __init__(self) -> None:
        self._notes: list[_Note] = []
        self._bass: deque[tuple[float, int]] = deque(maxlen=WALK_NOTES)

    def __bool__(self) -> bool:
        return bool(self._notes)

    def begin(self, pitch: int, velocity: int, beat: float) -> None:
        """Take an onset; the same pitch, if it sounds, ends there."""
        self.end(pitch, beat)
        if pitch <= BASS_BELOW:
            self._bass.append((beat, pitch % 12))
        register = MELODY_SHARE if pitch >= MELODY_FROM else 1.0
        self._notes.append(_Note(pitch, register * (0.5 + velocity / 160), beat, inf))

    def has_bass(self, beat: float) -> bool:
        """Return whether a note of the bass register began within the last two bars or so."""
        return bool(self._bass) and beat - self._bass[-1][0] <= BASS_MEMORY_BEATS

    def walks(self, beat: float) -> bool:
        """Return whether the bass moves to another pitch class on every beat or so."""
        if len(self._bass) < WALK_NOTES or beat - self._bass[0][0] > WALK_NOTES + 0.5:
            return False
        return all(a[1] != b[1] for a, b in pairwise(self._bass))

    def end(self, pitch: int, beat: float) -> None:
        """End ``pitch`` if it sounds."""
        for note in self._notes:
            if note.pitch == pitch and note.end == inf:
                note.end = beat

    def end_all(self, beat: float) -> None:
        """End whatever sounds."""
        for note in self._notes:
            note.end = min(note.end, beat)

    def forget_before(self, beat: float) -> None:
        """Forget what ended by ``beat``."""
        self._notes = [note for note in self._notes if note.end > beat]

    def between(self, start: float, now: float, full_beats: float) -> Evidence:
        """Return what sounded from ``start`` to ``now``; ``full_beats`` held count as whole."""
        weights = [0.0] * 12
        bass_share = WALKING_SHARE if self.walks(now) else 1.0
        lowest: _Note | None = None
        for note in self._notes:
            if note.start > now:
                continue
            sounded = min(note.end, now) - max(note.start, start)
            if sounded < 0:
                continue
            weight = HELD_WEIGHT * sounded / full_beats
            if note.start >= start:
                weight += ONSET_WEIGHT
            if note.pitch <= BASS_BELOW:
                weight *= bass_share
            name = note.pitch % 12
            weights[name] = min(MOST_WEIGHT, weights[name] + note.loudness * weight)
            if sounded > 0.05 * full_beats and (lowest is None or note.pitch < lowest.pitch):
                lowest = note
        if lowest is None:
            return Evidence(weights, None, 0.0)
        depth = (BASS_NONE - lowest.pitch) / (BASS_NONE - BASS_FULL)
        return Evidence(weights, lowest.pitch, bass_share * min(1.0, max(0.0, depth)))
