"""The memory of the player's line: which keys are down, and what was played since when.

Phrases end by keys, never by the damper pedal: a note ends when its key comes up. Double stops
and chords are reduced to their top note (under a pedal: to the voice that moves) when the line is
read; grace notes are kept. Seconds are
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

PEDAL_STROKES = 3


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

        Chords and double stops are reduced to one note (`top_line`).
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
    """Return ``notes`` in order of onset with every chord reduced to one note.

    That is the top note; under a pedal, held or struck again and again on top of a voice that
    moves, it is the highest that moves. The note that is kept begins with the first onset of its
    chord.
    """
    chords: list[list[LineNote]] = []
    for note in sorted(notes, key=lambda n: (n.t, n.pitch)):
        if chords and _blended(_top(chords[-1]), note):
            chords[-1].append(note)
        else:
            chords.append([note])
    pedals = _struck_again(chords)
    line = []
    for index, chord in enumerate(chords):
        top = _top(chord)
        if len(chord) > 1 and (index in pedals or _held_over(top, chords[index + 1 : index + 3])):
            top = _top([note for note in chord if note.pitch != top.pitch])
        line.append(_from_onset(top, chord[0]))
    return tuple(line)


def _top(chord: Sequence[LineNote]) -> LineNote:
    return max(chord, key=lambda n: n.pitch)


def _from_onset(note: LineNote, first: LineNote) -> LineNote:
    if note is first:
        return note
    beats = note.heard_beats + note.heard_beat - first.heard_beat
    return replace(note, t=first.t, heard_beat=first.heard_beat, heard_beats=beats)


def _held_over(top: LineNote, following: Sequence[Sequence[LineNote]]) -> bool:
    """Tell whether ``top`` sounds on above the next two strokes."""
    return len(following) == 2 and all(
        _top(chord).pitch < top.pitch and chord[0].t + TOGETHER_SEC < top.end for chord in following
    )


def _struck_again(chords: Sequence[Sequence[LineNote]]) -> set[int]:
    """Return the chords with a top note that is struck three times running on a moving voice."""
    found: set[int] = set()
    run: list[int] = []
    for index, chord in enumerate([*chords, ()]):
        if run and len(chord) > 1 and _top(chord).pitch == _top(chords[run[-1]]).pitch:
            run.append(index)
            continue
        under = {sorted(note.pitch for note in chords[i])[-2] for i in run}
        if len(run) >= PEDAL_STROKES and len(under) > 1:
            found.update(run)
        run = [index] if len(chord) > 1 else []
    return found


def _blended(first: LineNote, second: LineNote) -> bool:
    if second.t - first.t > TOGETHER_SEC or second.pitch == first.pitch:
        return False
    both = min(first.end, second.end) - second.t
    return both >= min(BLEND_SEC, 0.5 * (second.end - second.t))
