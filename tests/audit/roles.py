"""What is each note of a reply, by the audit's own ear?

*Strong*: chord tone or available tension of the chord in force where the note begins.
*Anticipation*: begins at most a pulse before a change and is strong on the coming chord.
*Leaning*: a weak note on or across a change that goes by step to a strong note within a pulse.
*Blue*: b3, b5 or b7 above the chord's root or the key's tonic, in a blues only. *Weak*: the
rest. Inside a declared span the implied chord stands in for the one in force.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from .chords import Sound
from .ground import EPS, Change
from .reading import Note, Reply, Session

Standing = Literal["strong", "anticipation", "leaning", "blue", "weak", "unjudged"]
BLUE_STEPS = (3, 6, 10)


@dataclass(frozen=True)
class Terms:
    """What the log does not say and the caller knows: numbers from chart and style.

    ``tonic`` is the key's pitch class, for blue notes; ``voices`` how many notes may sound at
    once; ``rest_sec`` the shortest silence in which one can breathe.
    """

    pulse_beats: float = 1.0
    low: int = 0
    high: int = 127
    breath_sec: float = 60.0
    blues: bool = False
    tonic: int | None = None
    voices: int = 1
    rest_sec: float = 0.2


@dataclass(frozen=True)
class Point:
    """A place to land on: a structural change, or a seam of a long chord."""

    beat: float
    sound: Sound
    known: float
    seam: bool = False


@dataclass(frozen=True)
class Judged:
    """A note with the chord it was judged against (None before the first chord)."""

    note: Note
    change: Change | None
    sound: Sound | None
    standing: Standing
    contested: bool = False
    roundabout: bool = False
    """Leaning, but resolved only after another note between."""


class Ear:
    """Judges the notes of one reply."""

    def __init__(self, session: Session, reply: Reply, terms: Terms) -> None:
        self.session = session
        self.terms = terms
        self.notes = reply.notes
        self.spans = [span for span in session.spans if span.reply == reply.id]
        self.points = self._points()
        self.judged: Sequence[Judged] = [self._judge(i) for i in range(len(self.notes))]

    def sound_at(self, beat: float, *, spans: bool = True) -> Sound | None:
        """Return the chord meant at ``beat``: in force, or implied by a declared span."""
        for span in self.spans if spans else ():
            if span.beat - EPS <= beat < span.end - EPS:
                return span.sound
        change = self.session.harmony.at(beat)
        return change.sound if change else None

    def strong(self, note: Note) -> bool:
        """Tell whether the note is a strong degree of the chord it begins on."""
        sound = self.sound_at(note.beat)
        return sound is not None and sound.passes(note.pitch)

    def anticipates(self, note: Note) -> bool:
        """Tell whether the note is strong on a chord that comes within a pulse."""
        coming = self.session.harmony.after(note.beat)
        if coming is None or coming.beat - note.beat > self.terms.pulse_beats + EPS:
            return False
        return coming.sound.passes(note.pitch)

    def resolution(self, index: int, start: float) -> int | None:
        """Return the index of the strong note, a step away from note ``index``, that comes
        within a pulse of beat ``start``; None when there is none."""
        pitch = self.notes[index].pitch
        for later in range(index + 1, len(self.notes)):
            note = self.notes[later]
            if note.beat > start + self.terms.pulse_beats + EPS:
                return None
            if 1 <= abs(note.pitch - pitch) <= 2 and self.strong(note):
                return later
        return None

    def leans(self, index: int) -> int | None:
        """Return the index of the note that resolves this one as a leaning note, or None.

        It must begin on a place to land, be the first note within a pulse after it, or sound
        across it.
        """
        note = self.notes[index]
        for point in self.points:
            first = note.beat > point.beat - EPS and not any(
                point.beat - EPS <= other.beat < note.beat - EPS for other in self.notes
            )
            near = first and note.beat <= point.beat + self.terms.pulse_beats + EPS
            if near or note.beat < point.beat - EPS < point.beat + EPS < note.end:
                found = self.resolution(index, max(note.beat, point.beat))
                if found is not None:
                    return found
        return None

    def _judge(self, index: int) -> Judged:
        note = self.notes[index]
        change = self.session.harmony.at(note.beat)
        sound = self.sound_at(note.beat)
        if sound is None or sound.silent:
            return Judged(note, change, sound, "unjudged")
        if sound.passes(note.pitch):
            return Judged(note, change, sound, "strong", contested=sound.contested(note.pitch))
        if self.anticipates(note):
            return Judged(note, change, sound, "anticipation")
        resolved = self.leans(index)
        if resolved is not None:
            return Judged(note, change, sound, "leaning", roundabout=resolved > index + 1)
        return Judged(note, change, sound, "blue" if self._blue(note, sound) else "weak")

    def _blue(self, note: Note, sound: Sound) -> bool:
        if not self.terms.blues:
            return False
        roots = [sound.root] if self.terms.tonic is None else [sound.root, self.terms.tonic]
        return any((note.pitch - root) % 12 in BLUE_STEPS for root in roots)

    def _points(self) -> list[Point]:
        """Return the places to land on from the first note's beat to before the last one's end:
        structural changes, and two-bar seams that lie two bars or more from any change."""
        if not self.notes:
            return []
        start, end = self.notes[0].beat, max(note.end for note in self.notes)
        points = []
        for change in self.session.harmony.changes:
            if change.sound.silent or change.end < start or change.beat > end:
                continue
            structural = change.end - change.beat > self.terms.pulse_beats - EPS
            if structural and not (change.passing or change.again):
                points.append(self._point(change, change.beat, seam=False))
            two_bars = 2 * self.session.beats.bar_beats()
            for beat in self.session.beats.seams(change.beat, change.end):
                if min(beat - change.beat, change.end - beat) > two_bars - EPS:
                    points.append(self._point(change, beat, seam=True))
        return [point for point in points if start - EPS <= point.beat < end - EPS]

    def _point(self, change: Change, beat: float, *, seam: bool) -> Point:
        return Point(beat, self.sound_at(beat) or change.sound, change.known, seam)
