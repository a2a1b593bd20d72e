"""The terms a voice is described in.

A tone is a sum of partials that ring out on their own, a few noise bands for breath, finger and
metal, and ramps that keep the start and the end free of clicks. Levels are linear, frequencies in
hertz, times in seconds; ring times are to -60 dB.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Partial:
    """One sine. ``ratio`` times the fundamental; ``ring_sec`` is the time it takes to fall by
    60 dB; ``bright`` is how fast it fades with softer touch (exponent on velocity / 127)."""

    ratio: float
    level: float
    ring_sec: float
    bright: float = 0.0


@dataclass(frozen=True, slots=True)
class Band:
    """Noise between two frequencies, ringing out like a partial."""

    low_hz: float
    high_hz: float
    level: float
    ring_sec: float
    bright: float = 0.0


@dataclass(frozen=True, slots=True)
class Glide:
    """Pitch that moves: a wobble of ``cents`` at ``rate_hz`` that begins after ``delay_sec``, and
    a start ``start_semitones`` away that settles with time constant ``settle_sec``."""

    rate_hz: float = 0.0
    cents: float = 0.0
    delay_sec: float = 0.0
    start_semitones: float = 0.0
    settle_sec: float = 0.02


@dataclass(frozen=True, slots=True)
class Recipe:
    """A voice.

    ``fixed_hz`` replaces the note's own pitch (drums). ``ring_per_octave`` scales all ring times
    once per octave above middle C (inversely below it); ``soft_above_hz`` rounds off partials
    above that frequency. ``whole_sec`` makes a one-shot of that length that no release cuts
    short; otherwise a note lasts to its end and fades in ``release_sec``. ``takes`` is the number
    of different noises, so that repeated strokes are not copies.
    """

    partials: tuple[Partial, ...]
    bands: tuple[Band, ...] = ()
    attack_sec: float = 0.002
    release_sec: float = 0.08
    whole_sec: float | None = None
    fixed_hz: float | None = None
    ring_per_octave: float = 1.0
    soft_above_hz: float = 20000.0
    glide: Glide | None = None
    takes: int = 1


@dataclass(frozen=True, slots=True)
class Place:
    """Where a voice stands: ``gain_db`` in the mix, ``pan`` from -1 (left) to 1 (right), ``room``
    the share that goes into the room."""

    gain_db: float
    pan: float
    room: float
