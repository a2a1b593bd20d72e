"""The hard rules of a reply, checked on its notes alone.

Nothing of the soloist is used: which notes are strong on which chord is read from the chord
symbols by tables of the audit's own, and roles that the notes claim are ignored.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

from audit.chords import Sound, read

from jam.harmony.changes import Change
from jam.harmony.chord import Chord
from jam.players.soloist.request import ImpliedSpan, Request

EPS = 1e-5
BLUE_STEPS = (3, 6, 10)


class Timed(Protocol):
    """Anything that begins and lasts, in beats."""

    @property
    def beat(self) -> float: ...
    @property
    def beats(self) -> float: ...


class Pitched(Timed, Protocol):
    """A note on the grid."""

    @property
    def pitch(self) -> int: ...


@dataclass(frozen=True)
class Point:
    """A beat to land on, with the chord that begins (or goes on) there."""

    beat: float
    sound: Sound


def rest_beats(bpm: float) -> float:
    """Return the shortest rest to breathe in: half a beat or 250 ms, whichever is longer, less
    half a tick of the grid (a 24th of a beat), to which it is rounded."""
    return max(0.5, 0.25 * bpm / 60.0) - 1 / 24


def longest_breath_sec(notes: Sequence[Timed], bpm: float) -> float:
    """Return the longest stretch without a rest to breathe in, in seconds."""
    longest, begin = 0.0, notes[0].beat
    for index, note in enumerate(notes):
        end = note.beat + note.beats
        last = index + 1 == len(notes)
        if last or notes[index + 1].beat - end > rest_beats(bpm) - EPS:
            longest = max(longest, (end - begin) * 60.0 / bpm)
            begin = end if last else notes[index + 1].beat
    return longest


def changes_to_land_on(request: Request) -> list[Point]:
    """Return every structural change: another chord that lasts a pulse or more and is not
    marked passing (N.C. is no chord to land on)."""
    points, changes = [], request.changes
    for index, change in enumerate(changes):
        sound = read(change.chord.symbol)
        if change.passing or sound.silent:
            continue
        if index and read(changes[index - 1].chord.symbol).sounds_as(sound):
            continue
        after = changes[index + 1].beat if index + 1 < len(changes) else float("inf")
        if after - change.beat > request.pulse_beats - EPS:
            points.append(Point(change.beat, sound))
    return points


def seams(request: Request) -> list[Point]:
    """Return the two-bar seams of the form inside chords that last four bars or more, so far
    from both of their ends that the chord alone tells nothing new."""
    points, changes, bars = [], request.changes, request.bars
    for index, change in enumerate(changes):
        end = changes[index + 1].beat if index + 1 < len(changes) else request.window.end
        bar, _ = bars.at(change.beat)
        for seam in range(bar + bar % 2, bars.at(end)[0] + 1, 2):
            beat = bars.start(seam)
            two = 2 * bars.length(seam) - EPS
            if beat - change.beat > two and end - beat > two:
                points.append(Point(beat, read(change.chord.symbol)))
    return points


class Judge:
    """Judges a line, in order; the first ``given`` notes are taken as they are. Within the declared
    ``spans`` the chord they imply counts; the note after one must be strong at home."""

    def __init__(
        self,
        request: Request,
        notes: Sequence[Pitched],
        given: int = 0,
        spans: Sequence[ImpliedSpan] = (),
    ) -> None:
        self.request = request
        self.spans = spans
        self.notes = notes
        self.given = given
        self.pulse = request.pulse_beats
        begin, end = notes[0].beat, notes[-1].beat + notes[-1].beats
        inside = [p for p in changes_to_land_on(request) if begin - EPS < p.beat < end - EPS]
        self.changes = inside
        self.seams = [p for p in seams(request) if begin - EPS < p.beat < end - EPS]

    def breaches(self) -> list[str]:
        """Return every breach of H1 to H5 in words."""
        return [
            *self.landing(),
            *self.ending(),
            *self.approach(),
            *self.returning(),
            *self.window(),
            *self.body(),
        ]

    # --- what a note is ------------------------------------------------------------------

    def change(self, beat: float) -> Change:
        held = [c for c in self.request.changes if c.beat < beat + EPS]
        return held[-1] if held else self.request.changes[0]

    def strong(self, index: int) -> bool:
        note = self.notes[index]
        chord = self.implied(note.beat) or self.change(note.beat).chord
        return read(chord.symbol).passes(note.pitch)

    def implied(self, beat: float) -> Chord | None:
        """Return the chord that a declared span implies at ``beat``."""
        inside = (s.chord for s in self.spans if s.beat - EPS <= beat < s.beat + s.beats - EPS)
        return next(inside, None)

    def returning(self) -> Iterator[str]:
        for span in self.spans:
            end = span.beat + span.beats
            if span.beats > self.request.bars.bar_beats + EPS:
                yield f"H3 the span on {span.beat:g} lasts {span.beats:g} beats"
            back = next((i for i, note in enumerate(self.notes) if note.beat > end - EPS), None)
            if back is None or not (self.strong(back) or self.anticipates(back)):
                yield f"H3 the span on {span.beat:g} does not come home"

    def anticipates(self, index: int) -> bool:
        note = self.notes[index]
        coming = next((c for c in self.request.changes if c.beat > note.beat + EPS), None)
        if coming is None or coming.beat - note.beat > self.pulse + EPS:
            return False
        return read(coming.chord.symbol).passes(note.pitch)

    def leans(self, index: int) -> bool:
        """On or across a place to land, and gone by step to a strong note within a pulse."""
        note = self.notes[index]
        for point in [*self.changes, *self.seams]:
            first = note.beat > point.beat - EPS and not any(
                point.beat - EPS < other.beat < note.beat - EPS for other in self.notes
            )
            near = first and note.beat < point.beat + self.pulse + EPS
            across = note.beat < point.beat - EPS < point.beat + EPS < note.beat + note.beats
            if (near or across) and self.resolved(index, max(note.beat, point.beat)):
                return True
        return False

    def resolved(self, index: int, begin: float) -> bool:
        pitch = self.notes[index].pitch
        for later in range(index + 1, len(self.notes)):
            note = self.notes[later]
            if note.beat > begin + self.pulse + EPS:
                return False
            if 1 <= abs(note.pitch - pitch) <= 2 and (
                self.strong(later) or self.anticipates(later)
            ):
                return True
        return False

    def blue(self, index: int) -> bool:
        request, note = self.request, self.notes[index]
        if not request.blues:
            return False
        root = read(self.change(note.beat).chord.symbol).root
        tonic = request.key.tonic if request.key is not None else root
        return (note.pitch - tonic) % 12 in BLUE_STEPS

    # --- the rules -----------------------------------------------------------------------

    def landing(self) -> Iterator[str]:
        landed = 0
        for point in self.changes:
            met = self.met(point)
            landed += met not in ("silent", "weak")
            if met == "weak":
                yield f"H1 weak at the change on {point.beat:g}"
        if landed * 3 < len(self.changes) * 2 and not self.given:
            yield f"H1 lands on {landed} of {len(self.changes)} changes"
        for point in self.seams:
            if self.met(point) == "weak":
                yield f"H1 weak at the seam on {point.beat:g}"

    def met(self, point: Point) -> str:
        """Tell how the line meets a place to land on: strong, leaning, before, silent or weak."""
        for index, note in enumerate(self.notes):
            if note.beat + note.beats < point.beat + EPS:
                continue
            on = note.beat > point.beat - EPS
            if on and note.beat > point.beat + self.pulse + EPS:
                break
            if point.sound.passes(note.pitch):
                return "strong"
            # A note exactly a pulse later, with another chord there already, lands on that one.
            if on and note.beat > point.beat + self.pulse - EPS and self.another(point, note.beat):
                break
            if self.resolved(index, max(note.beat, point.beat)):
                return "leaning"
            return "given" if index < self.given else "weak"
        before = [i for i, note in enumerate(self.notes) if note.beat < point.beat - EPS]
        near = before and self.notes[before[-1]].beat > point.beat - self.pulse - EPS
        if near and point.sound.passes(self.notes[before[-1]].pitch):
            return "before"
        return "silent"

    def another(self, point: Point, beat: float) -> bool:
        return any(point.beat + EPS < change.beat < beat + EPS for change in self.request.changes)

    def ending(self) -> Iterator[str]:
        index = len(self.notes) - 1
        note = self.notes[index]
        if not (self.strong(index) or self.anticipates(index)):
            yield f"H2 ends on a weak {note.pitch} over {self.change(note.beat).chord.symbol}"
        for point in changes_to_land_on(self.request):
            under = note.beat + EPS < point.beat < note.beat + note.beats - EPS
            if under and not point.sound.passes(note.pitch):
                yield f"H2 last note turns weak on {point.beat:g}"

    def approach(self) -> Iterator[str]:
        limit = max(self.pulse / 2, 0.25 * self.request.bpm / 60.0)
        for index in range(self.given, len(self.notes) - 1):
            note = self.notes[index]
            if self.strong(index) or self.anticipates(index) or self.blue(index):
                continue
            if self.leans(index):
                continue
            where = f"{note.pitch} on {note.beat:g} over {self.change(note.beat).chord.symbol}"
            if note.beats > limit + EPS:
                yield f"H3 weak {where} lasts {note.beats:g} beats"
            if not self.steps_home(index):
                after = [n.pitch for n in self.notes[index + 1 : index + 4]]
                yield f"H3 weak {where} unresolved, then {after}"

    def steps_home(self, index: int) -> bool:
        """Tell whether one of the next three notes is a step away and strong."""
        return any(
            1 <= abs(self.notes[later].pitch - self.notes[index].pitch) <= 2
            and (self.strong(later) or self.anticipates(later))
            for later in range(index + 1, min(index + 4, len(self.notes)))
        )

    def window(self) -> Iterator[str]:
        window = self.request.window
        if not self.given and self.notes[0].beat < window.earliest - EPS:
            yield f"H4 begins on {self.notes[0].beat:g}, before {window.earliest:g}"
        end = self.notes[-1].beat + self.notes[-1].beats
        if end > window.latest + EPS:
            yield f"H4 ends on {end:g}, after {window.latest:g}"

    def body(self) -> Iterator[str]:
        instrument = self.request.style.instrument
        for note in self.notes:
            if not instrument.low <= note.pitch <= instrument.high:
                yield f"H5 {note.pitch} is outside {instrument.low} to {instrument.high}"
        for note, following in pairwise(self.notes):
            if note.beats <= 0 or note.beat + note.beats > following.beat + EPS:
                yield f"H5 the note on {note.beat:g} runs into the next"
        blown = longest_breath_sec(self.notes, self.request.bpm)
        if blown > instrument.breath_sec + 0.02:
            yield f"H5 {blown:.2f} s in one breath of {instrument.breath_sec:g}"
