"""Voices of the instruments a soloist may play, by General MIDI program: plain numbers, our own.

A voice is a sketch that is told from the others by what makes the instrument known: odd harmonics
of the clarinet, few of the flute, many of the trumpet, ringing bars, plucked strings, hammers.
Source of the programs: General MIDI 1 sound set (MIDI Manufacturers Association), from 0 here.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

from jam.sound.recipe import Band, Glide, Partial, Place, Recipe

TENOR: Final = "lead"
"""Name of the voice of a tenor saxophone, which plays whatever has no voice of its own."""


def harmonics(levels: tuple[float, ...], ring_sec: float, shorter: float) -> tuple[Partial, ...]:
    """Return harmonic partials; each rings ``shorter`` times as long as the one below it and is
    the brighter the higher it is."""
    return tuple(
        Partial(float(n), level, ring_sec * shorter ** (n - 1), 0.35 * (n - 1))
        for n, level in enumerate(levels, start=1)
    )


_TENOR = Recipe(
    # A soft reed: strong fundamental, gently falling harmonics, breath, late wobble.
    partials=harmonics((1.0, 0.62, 0.5, 0.34, 0.24, 0.16, 0.1, 0.06), ring_sec=22.0, shorter=0.86),
    bands=(Band(900.0, 3800.0, 0.05, 0.25, 0.4), Band(1500.0, 5200.0, 0.012, 12.0, 0.8)),
    attack_sec=0.014,
    release_sec=0.07,
    soft_above_hz=3000.0,
    glide=Glide(rate_hz=5.1, cents=11.0, delay_sec=0.28, start_semitones=-0.25, settle_sec=0.018),
)

_ALTO = Recipe(
    # The reed again, with more edge: the second harmonic leads, the upper ones carry on.
    partials=harmonics(
        (0.8, 1.0, 0.7, 0.55, 0.5, 0.36, 0.26, 0.18, 0.12, 0.08), ring_sec=22.0, shorter=0.9
    ),
    bands=(Band(1200.0, 4800.0, 0.05, 0.2, 0.4), Band(2000.0, 6500.0, 0.010, 12.0, 0.8)),
    attack_sec=0.011,
    release_sec=0.06,
    soft_above_hz=4600.0,
    glide=Glide(rate_hz=5.4, cents=12.0, delay_sec=0.26, start_semitones=-0.2, settle_sec=0.016),
)

_TRUMPET = Recipe(
    # Lips: harmonics that rise to the third and reach far up, hardly any breath.
    partials=harmonics(
        (0.55, 0.85, 1.0, 0.9, 0.75, 0.6, 0.5, 0.4, 0.3, 0.22, 0.15, 0.1), ring_sec=24.0,
        shorter=0.93,
    ),
    bands=(Band(1500.0, 6000.0, 0.03, 0.04, 0.8),),
    attack_sec=0.02,
    release_sec=0.05,
    soft_above_hz=5200.0,
    glide=Glide(rate_hz=5.3, cents=7.0, delay_sec=0.4, start_semitones=-0.35, settle_sec=0.014),
)  # fmt: skip

_TROMBONE = Recipe(
    # The same an octave darker, with a slower start.
    partials=harmonics(
        (0.5, 0.9, 1.0, 0.85, 0.6, 0.38, 0.22, 0.13, 0.08), ring_sec=24.0, shorter=0.9
    ),
    bands=(Band(600.0, 2400.0, 0.03, 0.05, 0.8),),
    attack_sec=0.03,
    release_sec=0.07,
    soft_above_hz=2000.0,
    glide=Glide(rate_hz=4.8, cents=8.0, delay_sec=0.4, start_semitones=-0.45, settle_sec=0.022),
)

_CLARINET = Recipe(
    # A stopped pipe: odd harmonics, next to nothing between them, no wobble.
    partials=harmonics(
        (1.0, 0.03, 0.6, 0.05, 0.34, 0.05, 0.18, 0.04, 0.09), ring_sec=26.0, shorter=0.93
    ),
    bands=(Band(1000.0, 4000.0, 0.02, 0.12, 0.5), Band(1500.0, 5000.0, 0.005, 12.0, 0.8)),
    attack_sec=0.018,
    release_sec=0.06,
    soft_above_hz=3200.0,
)

_FLUTE = Recipe(
    # A nearly pure tone in a stream of breath, with a wide wobble.
    partials=harmonics((1.0, 0.3, 0.11, 0.06, 0.02), ring_sec=26.0, shorter=0.9),
    bands=(Band(800.0, 5000.0, 0.12, 0.2, 0.2), Band(1200.0, 6000.0, 0.035, 12.0, 0.4)),
    attack_sec=0.03,
    release_sec=0.08,
    soft_above_hz=4500.0,
    glide=Glide(rate_hz=5.0, cents=18.0, delay_sec=0.2, start_semitones=-0.1, settle_sec=0.02),
)

_VIBRAPHONE = Recipe(
    # Bars tuned to the fourth harmonic, struck with yarn.
    partials=(
        Partial(1.0, 1.0, 5.0),
        Partial(1.0015, 0.35, 4.4),
        Partial(4.0, 0.24, 1.5, 0.7),
        Partial(9.9, 0.08, 0.3, 1.2),
    ),
    bands=(Band(600.0, 2400.0, 0.03, 0.02, 0.8),),
    attack_sec=0.002,
    release_sec=0.16,
    ring_per_octave=0.75,
    soft_above_hz=7000.0,
)

_GUITAR = Recipe(
    # A string over a hollow body, plucked near its middle: weak even harmonics, soon gone.
    partials=(
        Partial(1.0, 1.0, 2.6),
        Partial(2.001, 0.5, 2.0, 0.3),
        Partial(3.003, 0.42, 1.3, 0.5),
        Partial(4.006, 0.16, 0.9, 0.8),
        Partial(5.01, 0.2, 0.7, 0.9),
        Partial(6.015, 0.08, 0.5, 1.1),
        Partial(7.02, 0.09, 0.4, 1.2),
    ),
    bands=(Band(1400.0, 3600.0, 0.09, 0.03, 0.8),),
    attack_sec=0.002,
    release_sec=0.05,
    ring_per_octave=0.8,
    soft_above_hz=2100.0,
)

_PIANO = Recipe(
    # Stiff strings: partials that stray upwards, a knock of felt.
    partials=(
        Partial(0.9995, 0.5, 7.0),
        Partial(1.0005, 0.5, 4.0),
        Partial(2.002, 0.72, 4.5, 0.2),
        Partial(3.006, 0.5, 3.4, 0.4),
        Partial(4.014, 0.36, 2.6, 0.6),
        Partial(5.027, 0.28, 2.0, 0.8),
        Partial(6.045, 0.22, 1.6, 0.9),
        Partial(7.07, 0.17, 1.2, 1.1),
        Partial(8.1, 0.12, 1.0, 1.2),
    ),
    bands=(Band(500.0, 2600.0, 0.07, 0.04, 0.6),),
    attack_sec=0.0015,
    release_sec=0.1,
    ring_per_octave=0.7,
    soft_above_hz=3600.0,
)

INSTRUMENT_VOICES: Final = MappingProxyType(
    {
        TENOR: _TENOR,
        "alto saxophone": _ALTO,
        "trumpet": _TRUMPET,
        "trombone": _TROMBONE,
        "clarinet": _CLARINET,
        "flute": _FLUTE,
        "vibraphone": _VIBRAPHONE,
        "guitar": _GUITAR,
        "piano": _PIANO,
    }
)
"""Every voice of a soloist by name."""

INSTRUMENT_PLACES: Final = MappingProxyType(
    {
        TENOR: Place(-15.0, 0.18, 0.30),
        "alto saxophone": Place(-16.2, 0.18, 0.30),
        "trumpet": Place(-16.6, 0.18, 0.30),
        "trombone": Place(-15.8, 0.18, 0.30),
        "clarinet": Place(-14.0, 0.18, 0.30),
        "flute": Place(-13.8, 0.18, 0.35),
        "vibraphone": Place(-15.0, 0.18, 0.35),
        "guitar": Place(-12.5, 0.18, 0.25),
        "piano": Place(-14.0, 0.18, 0.25),
    }
)
"""Where they stand: all where the soloist stands, each as loud as the others in a line."""

_PROGRAMS: Final[tuple[tuple[range, str], ...]] = (
    (range(0, 4), "piano"),
    (range(8, 16), "vibraphone"),
    (range(24, 32), "guitar"),
    (range(56, 57), "trumpet"),
    (range(57, 59), "trombone"),
    (range(59, 64), "trumpet"),
    (range(64, 66), "alto saxophone"),
    (range(66, 68), TENOR),
    (range(68, 72), "clarinet"),
    (range(72, 80), "flute"),
)


def instrument_voice(program: int | None) -> str:
    """Return the name of the voice for a General MIDI program (from 0); the tenor for the rest."""
    for programs, name in _PROGRAMS:
        if program is not None and program in programs:
            return name
    return TENOR
