"""Ride, hi-hat and a light kick: time, plainly kept.

Patterns are tables of strokes in beats from the bar line, on the written grid (swing is applied
later). Ride "ding, ding-a, ding, ding-a" with the foot on 2 and 4, feathered kick, jazz waltz,
side stick in two bars over even eighths: common practice. Keys: General MIDI percussion map.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from jam.events import PartNote
from jam.players import channels
from jam.players.band import Span
from jam.players.places import (
    EPSILON,
    BarPlace,
    bars_of,
    close_of,
    holds_ending,
    is_ballad,
    is_compound,
    last_note_beats,
    pulses,
    within,
)

RIDE: Final = channels.RIDE
HAT: Final = channels.HAT_PEDAL
KICK: Final = channels.KICK
STICK: Final = channels.SIDE_STICK

_LENGTH_BEATS: Final = 0.25
_FAST_BPM: Final = 240.0


class Stroke(NamedTuple):
    """``beat`` counts from the bar line."""

    beat: float
    key: int
    velocity: int


Pattern = tuple[Stroke, ...]


def _pattern(*rows: tuple[int, int, Sequence[float]]) -> Pattern:
    """Return the strokes of ``(key, velocity, beats)`` rows."""
    return tuple(Stroke(beat, key, velocity) for key, velocity, beats in rows for beat in beats)


_FEATHER = (KICK, 26, (0, 1, 2, 3))
_FOOT = (HAT, 72, (1, 3))

SWING: Final = _pattern(
    (RIDE, 78, (0, 2)), (RIDE, 86, (1, 3)), (RIDE, 62, (1.5, 3.5)), _FOOT, _FEATHER
)
SWING_FAST: Final = _pattern((RIDE, 76, (0, 2)), (RIDE, 84, (1, 3)), (RIDE, 58, (3.5,)), _FOOT)
BALLAD: Final = _pattern((RIDE, 56, (0, 1, 2, 3)), (RIDE, 42, (3.5,)), (HAT, 58, (1, 3)))
WALTZ: Final = _pattern(
    (RIDE, 82, (0,)), (RIDE, 74, (1, 2)), (RIDE, 58, (1.5,)), (HAT, 68, (1,)), (KICK, 34, (0,))
)
STRAIGHT: Final = (
    _pattern(
        (RIDE, 70, (0, 1, 2, 3)),
        (RIDE, 54, (0.5, 1.5, 2.5, 3.5)),
        (HAT, 66, (1, 3)),
        (KICK, 48, (0, 2)),
        (KICK, 40, (1.5, 3.5)),
        (STICK, 62, (0, 1.5, 3)),
    ),
    _pattern(
        (RIDE, 70, (0, 1, 2, 3)),
        (RIDE, 54, (0.5, 1.5, 2.5, 3.5)),
        (HAT, 66, (1, 3)),
        (KICK, 48, (0, 2)),
        (KICK, 40, (1.5, 3.5)),
        (STICK, 62, (1, 2.5)),
    ),
)
"""Two bars, even and odd."""

_CHATTER_BEATS: Final = (0.5, 1.5, 2.5, 3.5)


class Drums:
    """The drummer; it keeps no state."""

    def play(self, span: Span) -> Sequence[PartNote]:
        """Return the strokes that begin in the span, in order."""
        notes = []
        for bar in bars_of(span):
            for stroke in sorted((*_strokes(span, bar), *_chatter(span, bar))):
                beat = bar.start + stroke.beat
                fits = within(span, beat) and stroke.beat < bar.beats - EPSILON
                if fits and beat < close_of(span) - EPSILON:
                    notes.append(_note(span, beat, stroke.key, stroke.velocity))
        if holds_ending(span):
            notes += _ending(span)
        return notes


def _strokes(span: Span, bar: BarPlace) -> Pattern:
    if is_compound(span.metre):
        return _compound(span, bar)
    if span.metre.denominator == 4 and span.metre.numerator == 3:
        return WALTZ
    if span.metre.denominator == 4 and span.metre.numerator in (2, 4):
        if span.feel == "straight":
            return STRAIGHT[bar.number % 2]
        if is_ballad(span):
            return BALLAD
        return SWING_FAST if span.bpm > _FAST_BPM else SWING
    return _plain(span, bar)


def _compound(span: Span, bar: BarPlace) -> Pattern:
    """Ride on each pulse with the eighth before the next, foot on every second pulse."""
    places = [beat - bar.start for beat in pulses(bar, span.metre)]
    return _pattern(
        (RIDE, 76, places), (RIDE, 56, [place + 1.0 for place in places]),
        (HAT, 70, places[1::2]), (KICK, 34, places[::2]),
    )  # fmt: skip


def _plain(span: Span, bar: BarPlace) -> Pattern:
    """Any other metre: ride and foot on the pulses, told apart by the bar's first."""
    places = [beat - bar.start for beat in pulses(bar, span.metre)]
    return _pattern((RIDE, 74, places), (HAT, 68, places[1::2]), (KICK, 40, places[:1]))


def _chatter(span: Span, bar: BarPlace) -> Pattern:
    """Now and then a soft snare between the beats; more of it when the music is hot."""
    if span.feel == "straight" or is_ballad(span) or is_compound(span.metre):
        return ()
    if span.rng.random() > 0.5 * span.intensity:
        return ()
    beat = _CHATTER_BEATS[int(span.rng.integers(len(_CHATTER_BEATS)))]
    return (Stroke(beat, channels.SNARE, 34),)


def _note(span: Span, beat: float, key: int, velocity: int) -> PartNote:
    touch = round(24 * (span.intensity - 0.5)) + int(span.rng.integers(-3, 4))
    loudness = max(1, min(127, velocity + touch))
    return PartNote("drums", channels.DRUMS, beat, _LENGTH_BEATS, key, loudness)


def _ending(span: Span) -> list[PartNote]:
    assert span.ending is not None
    held, channel = last_note_beats(span), channels.DRUMS
    return [
        PartNote("drums", channel, span.ending, held, KICK, 64),
        PartNote("drums", channel, span.ending, held, channels.CRASH, 80),
    ]
