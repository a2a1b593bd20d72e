"""Chords behind the soloist: shells and rootless positions, led smoothly, off the beat.

A chord struck up to an eighth before a change, off the pulse, is the chord to come; any other is
let go when its own chord ends. Ballads are held, N.C. is left empty, and less intensity leaves
more room. Voicings: `jam.harmony.voicings`; rhythms: `comping_figures`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from jam.events import PartNote
from jam.harmony.changes import Change
from jam.harmony.voicings import FORMS, rootless, shell
from jam.players import comping_figures as figures
from jam.players.band import Span
from jam.players.channels import COMPING
from jam.players.comping_figures import Figure, Hit
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
    within,
)

LOWEST: Final = 48
"""C3, an octave under middle C (60)."""
HIGHEST: Final = 69
"""A4: the top note stays in the octave above middle C, out of the soloist's way."""

_MIDDLE: Final = 58
_PUSH_BEATS: Final = 0.6
_GAP_BEATS: Final = 0.05


class Comping:
    """The accompanist. It remembers its last voicing and the figure of the bar."""

    def __init__(self) -> None:
        self._voicing: tuple[int, ...] = ()
        self._bar: int | None = None
        self._figure: Figure = ()

    def play(self, span: Span) -> Sequence[PartNote]:
        """Return the notes that begin in the span, chord by chord, low to high."""
        if not len(span.changes):
            return []
        notes = []
        for bar in bars_of(span):
            for hit in self._hits(span, bar):
                if within(span, hit.beat) and hit.beat < close_of(span) - EPSILON:
                    notes += self._strike(span, hit)
        if holds_ending(span):
            assert span.ending is not None
            hit = Hit(span.ending, last_note_beats(span))
            notes += self._strike(span, hit)
        return notes

    def _hits(self, span: Span, bar: BarPlace) -> list[Hit]:
        """Return the bar's chords as session beats, each let go before the next or the bar line."""
        if is_ballad(span):
            hits = _held(span, bar)
        else:
            if bar.number != self._bar:
                self._bar, self._figure = bar.number, self._choose(span)
            hits = [Hit(bar.start + hit.beat, hit.beats) for hit in self._figure]
        hits = [hit for hit in hits if hit.beat < bar.end - EPSILON]
        ends = [*(hit.beat for hit in hits[1:]), bar.end]
        return [
            Hit(hit.beat, min(hit.beats, end - hit.beat - _GAP_BEATS))
            for hit, end in zip(hits, ends, strict=False)
        ]

    def _choose(self, span: Span) -> Figure:
        """Return a figure other than the last, as busy as the intensity asks for."""
        table = [figure for figure in _table(span) if figure != self._figure]
        wanted = 0.6 + 2.0 * span.intensity
        weights = np.array([1.0 / (0.3 + (len(figure) - wanted) ** 2) for figure in table])
        return table[int(span.rng.choice(len(table), p=weights / weights.sum()))]

    def _strike(self, span: Span, hit: Hit) -> list[PartNote]:
        meant, gives_way = _meant(span, hit.beat)
        if meant.chord.is_none or span.changes.at(hit.beat + SNAP_BEATS).chord.is_none:
            return []
        beats = min(hit.beats, gives_way - hit.beat)
        if span.ending is not None and hit.beat < span.ending:
            beats = min(beats, span.ending - hit.beat)
        self._voicing = lead(self._voicing, meant)
        level = 58 + round(24 * (span.intensity - 0.5)) + int(span.rng.integers(-4, 5))
        velocity = max(1, min(127, level))
        return [
            PartNote("comping", COMPING, hit.beat, beats, pitch, velocity)
            for pitch in self._voicing
        ]


def lead(before: tuple[int, ...], change: Change) -> tuple[int, ...]:
    """Return the voicing of a chord that moves least from ``before`` (empty: none before)."""
    found = [v for v in _candidates(change) if v[0] >= LOWEST and v[-1] <= HIGHEST]
    return min(found or [_fitted(shell(change.chord))], key=lambda v: (_movement(before, v), v))


def _candidates(change: Change) -> list[tuple[int, ...]]:
    """Return both rootless positions in three octaves."""
    voicings = [rootless(change.chord, form, change.function) for form in FORMS]
    return [tuple(p + shift for p in voicing) for voicing in voicings for shift in (-12, 0, 12)]


def _fitted(voicing: tuple[int, ...]) -> tuple[int, ...]:
    """Return a voicing with each note moved by octaves into the register."""
    return tuple(sorted({LOWEST + (p - LOWEST) % 12 for p in voicing}))


def _movement(before: tuple[int, ...], after: tuple[int, ...]) -> float:
    """Return the semitones moved in all, plus a little for leaving the middle."""
    off_middle = abs(sum(after) / len(after) - _MIDDLE)
    if not before:
        return off_middle
    moved = sum(min(abs(a - b) for b in before) for a in after)
    moved += sum(min(abs(a - b) for a in after) for b in before)
    return moved + 0.5 * off_middle


def _table(span: Span) -> tuple[Figure, ...]:
    if is_compound(span.metre):
        return figures.COMPOUND
    if span.metre.bar_beats == 3.0:
        return figures.WALTZ
    return figures.STRAIGHT if span.feel == "straight" else figures.SWING


def _held(span: Span, bar: BarPlace) -> list[Hit]:
    """Return a held chord for each change of a bar, or one for the bar."""
    beats = [bar.start]
    for change in changes_between(span.changes, bar.start, bar.end - SNAP_BEATS):
        if change.beat - beats[-1] > SNAP_BEATS:
            beats.append(change.beat)
    ends = [*beats[1:], bar.end]
    return [Hit(b, end - b - _GAP_BEATS) for b, end in zip(beats, ends, strict=True)]


def _meant(span: Span, beat: float) -> tuple[Change, float]:
    """Return the change that a chord struck on ``beat`` belongs to, and where that one ends.

    Off the pulse, it is the coming one when that is an eighth away, give or take a hair.
    """
    meant = span.changes.at(beat + SNAP_BEATS)
    coming = span.changes.after(beat + SNAP_BEATS)
    _, into = span.bars.at(beat)
    off_pulse = (into + EPSILON) % span.metre.pulse_beats > 2 * EPSILON
    if coming is not None and off_pulse and coming.beat - beat < _PUSH_BEATS:
        meant, coming = coming, span.changes.after(coming.beat)
    return meant, np.inf if coming is None else coming.beat
