"""The memory of the player's line: which keys are down, and what was played since when.

Phrases end by keys, never by the damper pedal: a note ends when its key comes up. Double stops
and chords are reduced to their top note when the line is read; grace notes are kept. Seconds are
of the session, beats are quarter notes since its first downbeat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import inf

from jam.listening.phrase import LineNote

TOGETHER_SEC = 0.040
"""Onsets closer than this count as struck together (common practice; a rolled chord is wider)."""

BLEND_SEC = 0.080
"""Notes struck together that also sound together this long are a chord, otherwise a grace note."""


class Line:
    """The player's line as it is heard, note by note."""

    def __init__(self) -> None:
        self._ended: list[LineNote] = []
        self._down: dict[int, tuple[float, int, float]] = {}
        self._released_beat: float | None = None
        self.last_onset_beat: float | None = None

    def note_on(self, pitch: int, velocity: int, t: float, beat: float) -> None:
        """Take a key that goes down; a key struck again before its release ends there first."""
        self._end(pitch, t, beat)
        self._down[pitch] = (t, velocity, beat)
        self.last_onset_beat = beat

    def note_off(self, pitch: int, t: float, beat: float) -> None:
        """Take a key that comes up; one that is not down is ignored."""
        if self._end(pitch, t, beat):
            self._released_beat = beat

    @property
    def held(self) -> bool:
        """Whether a key is down."""
        return bool(self._down)

    def silence_beats(self, beat: float) -> float:
        """Return beats since the last release: 0 while a key is down, inf if nothing was heard."""
        if self._down:
            return 0.0
        return inf if self._released_beat is None else max(0.0, beat - self._released_beat)

    def notes_since(self, beat: float, now_sec: float, now_beat: float) -> tuple[LineNote, ...]:
        """Return the line's notes with ``heard_beat >= beat``, in order; held ones end now.

        Chords and double stops are reduced to their top note.
        """
        found = [note for note in self._ended if note.heard_beat >= beat]
        found += [
            LineNote(t, max(now_sec, t), pitch, velocity, onset, max(0.0, now_beat - onset))
            for pitch, (t, velocity, onset) in self._down.items()
            if onset >= beat
        ]
        return top_line(found)

    def forget_before(self, beat: float) -> None:
        """Forget ended notes that began before ``beat``."""
        self._ended = [note for note in self._ended if note.heard_beat >= beat]

    def release_all(self, t: float, beat: float) -> None:
        """End every held note (panic, a lost port)."""
        for pitch in tuple(self._down):
            self.note_off(pitch, t, beat)

    def _end(self, pitch: int, t: float, beat: float) -> bool:
        strike = self._down.pop(pitch, None)
        if strike is None:
            return False
        start, velocity, onset = strike
        length = max(0.0, beat - onset)
        self._ended.append(LineNote(start, max(t, start), pitch, velocity, onset, length))
        return True


def top_line(notes: Sequence[LineNote]) -> tuple[LineNote, ...]:
    """Return ``notes`` in order of onset with every chord reduced to its top note.

    The note that is kept begins with the first onset of its chord.
    """
    line: list[LineNote] = []
    for note in sorted(notes, key=lambda n: (n.t, n.pitch)):
        if line and _blended(line[-1], note):
            first = line[-1]
            top = max(first, note, key=lambda n: n.pitch)
            line[-1] = replace(
                top,
                t=first.t,
                heard_beat=first.heard_beat,
                heard_beats=top.heard_beats + top.heard_beat - first.heard_beat,
            )
        else:
            line.append(note)
    return tuple(line)


def _blended(first: LineNote, second: LineNote) -> bool:
    if second.t - first.t > TOGETHER_SEC or second.pitch == first.pitch:
        return False
    both = min(first.end, second.end) - second.t
    return both >= min(BLEND_SEC, 0.5 * (second.end - second.t))
