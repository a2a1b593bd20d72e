"""The bass: walks, plays in two, or plays root and fifth.

On every change the first note is the chord's bass. Between changes it walks (`walking`); ballads
get half notes, even eighths get root and fifth, other metres a note a pulse. N.C. is a rest. What
was planned past the end of a span is kept, as long as the chord stays what it was.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

from jam.events import PartNote
from jam.harmony.changes import Change
from jam.harmony.chord import Chord
from jam.harmony.scales import scale_of
from jam.players.band import Span
from jam.players.channels import BASS
from jam.players.places import (
    EPSILON,
    SNAP_BEATS,
    BarPlace,
    bars_of,
    changes_between,
    close_of,
    holds_ending,
    is_ballad,
    is_compound,
    last_note_beats,
    pulses,
    steps,
    within,
)
from jam.players.walking import fifth_of, in_range, nearest, walk

Manner = Literal["walk", "two", "root and fifth"]

_MIDDLE: Final = 38
_SCALEWISE_BEATS: Final = 8.0
_VELOCITY: Final[dict[Manner, int]] = {"walk": 84, "two": 78, "root and fifth": 82}
_HELD_SHARE: Final = 0.94


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a note is played. ``first`` says that a new chord or a new bar begins there."""

    beat: float
    change: Change
    first: bool

    @property
    def chord(self) -> Chord:
        return self.change.chord


class Bass:
    """The bass player. It remembers its last two notes and what it means to play next."""

    def __init__(self) -> None:
        self._last: tuple[int, ...] = ()
        self._ahead: dict[float, tuple[Chord, int]] = {}

    def play(self, span: Span) -> Sequence[PartNote]:
        """Return the notes that begin in the span, in order of their beats."""
        if not len(span.changes):
            return []
        notes = []
        places = _places(span)
        for index, (place, following) in enumerate(pairwise(places)):
            if not within(span, place.beat) or place.beat > close_of(span) - EPSILON:
                continue
            if not place.chord.is_none:
                pitch = self._next_pitch(span, places[index:])
                until = min(following.beat, span.ending or following.beat)
                notes.append(_note(span, place, pitch, until))
        if holds_ending(span):
            notes += self._ending(span)
        self._ahead = {at: kept for at, kept in self._ahead.items() if at > span.end - 0.5}
        return notes

    def _next_pitch(self, span: Span, places: Sequence[_Place]) -> int:
        """Return the pitch for the first of ``places``, planning its stretch where needed."""
        place = places[0]
        chord, pitch = self._ahead.get(place.beat, (None, 0))
        kept = pitch if chord is not None and chord.same_as(place.chord) else None
        if place.first or kept is None:
            start = nearest(place.chord.bass, self._near()) if kept is None else kept
            self._plan(span, places, start)
        pitch = self._unlike_last(self._ahead[place.beat][1])
        self._last = (*self._last[-1:], pitch)
        return pitch

    def _plan(self, span: Span, places: Sequence[_Place], start: int) -> None:
        """Plan the stretch that begins with ``places[0]``, and where the one after it begins."""
        count = next(k for k in range(1, len(places) + 1) if k == len(places) or places[k].first)
        chord, change = places[0].chord, places[0].change
        goal = self._goal(span, places[0], places[count], start) if count < len(places) else None
        if _manner(span) == "walk":
            later = span.changes.after(places[0].beat)
            lasts = later is None or later.beat - change.beat > _SCALEWISE_BEATS
            scale = scale_of(chord, change.function)
            pitches = walk(start, count, chord, scale, goal, span.rng, scalewise=lasts)
        else:
            fifth = nearest(fifth_of(chord), start)
            pitches = [fifth if k in (1, 2) else start for k in range(count)]
        for place, pitch in zip(places, pitches, strict=False):
            self._ahead[place.beat] = (chord, pitch)
        if goal is not None:
            self._ahead[places[count].beat] = (places[count].chord, goal)

    def _goal(self, span: Span, place: _Place, following: _Place, start: int) -> int | None:
        """Return the pitch on which the next stretch begins: the bass of a new chord, any chord
        tone where the chord goes on."""
        chord = following.chord
        if chord.is_none:
            return None
        if not chord.same_as(place.chord):
            return nearest(chord.bass, start)
        if _manner(span) != "walk":
            return nearest(chord.bass, start)
        tones = sorted(p for p in range(start - 7, start + 8) if p % 12 in chord.tones)
        tones = [p for p in tones if in_range(p) and p != start]
        return tones[int(span.rng.integers(len(tones)))]

    def _ending(self, span: Span) -> list[PartNote]:
        assert span.ending is not None
        chord = span.changes.at(span.ending + SNAP_BEATS).chord
        if chord.is_none:
            return []
        pitch = self._unlike_last(nearest(chord.bass, self._near()))
        return [PartNote("bass", BASS, span.ending, last_note_beats(span), pitch, 86)]

    def _near(self) -> int:
        return self._last[-1] if self._last else _MIDDLE

    def _unlike_last(self, pitch: int) -> int:
        """Return ``pitch``, an octave away if it would be heard three times in a row."""
        if self._last != (pitch, pitch):
            return pitch
        return nearest(pitch % 12, pitch, avoid=pitch)


def _manner(span: Span) -> Manner:
    if is_ballad(span):
        return "two"
    return "root and fifth" if span.feel == "straight" else "walk"


def _places(span: Span) -> list[_Place]:
    """Return the places of the span's bars and the bar after: the pattern's and the changes'."""
    bars = list(bars_of(span, beyond=1))
    beats = {beat for bar in bars for beat in _pattern(span, bar)}
    for change in changes_between(span.changes, bars[0].start, bars[-1].end):
        if all(abs(change.beat - beat) > SNAP_BEATS for beat in beats):
            beats.add(change.beat)
    starts = {bar.start for bar in bars}
    places: list[_Place] = []
    for beat in sorted(beats):
        change = span.changes.at(beat + SNAP_BEATS)
        new = not places or not places[-1].chord.same_as(change.chord)
        places.append(_Place(beat, change, new or beat in starts))
    return places


def _pattern(span: Span, bar: BarPlace) -> list[float]:
    manner = _manner(span)
    if manner == "two":
        return pulses(bar, span.metre)[::2]
    if manner == "root and fifth" and bar.beats == 4.0 and not is_compound(span.metre):
        return [bar.start + beat for beat in (0.0, 1.5, 2.0, 3.5)]
    return steps(bar, max(1.0, span.metre.pulse_beats))


def _note(span: Span, place: _Place, pitch: int, until: float) -> PartNote:
    level = _VELOCITY[_manner(span)] + round(20 * (span.intensity - 0.5))
    velocity = max(1, min(127, level + int(span.rng.integers(-4, 5))))
    beats = _HELD_SHARE * (until - place.beat)
    return PartNote("bass", BASS, place.beat, beats, pitch, velocity)
