"""What each voice is made of: one table of plain numbers (terms in `jam.sound.recipe`).

`as_table` gives the same numbers as plain lists and mappings, for other players of the same
recipes. The numbers are our own, set by ear and by measure.
"""

from __future__ import annotations

from dataclasses import asdict
from types import MappingProxyType
from typing import Final, Literal

from jam.events import Part
from jam.players import channels
from jam.sound.instruments import INSTRUMENT_PLACES, INSTRUMENT_VOICES, TENOR, instrument_voice
from jam.sound.recipe import Band, Glide, Partial, Place, Recipe

SoundPart = Part | Literal["player", "band"]
"""Who is heard: the parts of the companion's side, the player, and a band that was recorded."""


_PLAYER = Recipe(
    # A bright electric piano: tine and bell over a firm fundamental.
    partials=(
        Partial(1.0, 1.0, 3.2),
        Partial(1.003, 0.25, 3.6),
        Partial(2.0, 0.60, 2.2, 0.4),
        Partial(3.0, 0.42, 1.6, 0.7),
        Partial(4.0, 0.26, 1.2, 0.9),
        Partial(5.0, 0.22, 0.9, 1.1),
        Partial(7.02, 0.20, 0.4, 1.3),
        Partial(14.1, 0.14, 0.18, 1.6),
    ),
    bands=(Band(1800.0, 6000.0, 0.03, 0.03, 1.0),),
    attack_sec=0.0015,
    release_sec=0.09,
    ring_per_octave=0.72,
    soft_above_hz=6500.0,
)

_EPIANO = Recipe(
    # A mellow electric piano for chords: little above the third partial.
    partials=(
        Partial(1.0, 1.0, 3.6),
        Partial(1.002, 0.3, 3.2),
        Partial(2.0, 0.42, 2.0, 0.5),
        Partial(3.0, 0.17, 1.3, 0.8),
        Partial(4.0, 0.12, 0.9, 1.0),
        Partial(9.0, 0.07, 0.14, 1.4),
    ),
    bands=(Band(700.0, 2400.0, 0.015, 0.03, 1.0),),
    attack_sec=0.003,
    release_sec=0.11,
    ring_per_octave=0.75,
    soft_above_hz=3400.0,
)

_BASS = Recipe(
    # A plucked string: woody attack, harmonics that die before the fundamental, finger noise.
    partials=(
        Partial(1.0, 0.75, 2.6),
        Partial(2.001, 1.0, 2.0, 0.2),
        Partial(3.003, 0.75, 1.4, 0.4),
        Partial(4.008, 0.5, 1.0, 0.7),
        Partial(5.015, 0.34, 0.7, 0.9),
        Partial(6.025, 0.24, 0.5, 1.1),
        Partial(8.06, 0.14, 0.3, 1.4),
    ),
    bands=(Band(300.0, 1300.0, 0.2, 0.05, 0.6), Band(1800.0, 3600.0, 0.08, 0.03, 1.0)),
    attack_sec=0.004,
    release_sec=0.06,
    ring_per_octave=0.8,
    soft_above_hz=1500.0,
    glide=Glide(start_semitones=0.2, settle_sec=0.03),
)

_RIDE = Recipe(
    # Stick on metal: a clear ping, inharmonic partials and a wash that stays low.
    partials=(
        Partial(1.0, 0.10, 1.1, 0.3),
        Partial(1.47, 0.12, 1.0, 0.3),
        Partial(2.09, 0.13, 0.9, 0.3),
        Partial(2.56, 0.10, 0.8, 0.4),
        Partial(3.39, 0.09, 0.7, 0.5),
        Partial(4.16, 0.07, 0.6, 0.6),
        Partial(5.43, 0.06, 0.5, 0.7),
    ),
    bands=(
        Band(2600.0, 6500.0, 0.45, 0.05, 0.3),
        Band(4200.0, 9500.0, 0.22, 0.9, 0.5),
        Band(8000.0, 14000.0, 0.12, 0.45, 0.8),
    ),
    attack_sec=0.0008,
    whole_sec=1.2,
    fixed_hz=742.0,
    takes=4,
)

_CRASH = Recipe(
    partials=(Partial(1.0, 0.06, 1.6), Partial(1.72, 0.06, 1.5), Partial(2.83, 0.05, 1.2)),
    bands=(Band(1800.0, 6000.0, 0.3, 1.4, 0.4), Band(5000.0, 13000.0, 0.3, 1.8, 0.5)),
    attack_sec=0.002,
    whole_sec=2.4,
    fixed_hz=510.0,
    takes=2,
)

_HAT_CLOSED = Recipe(
    partials=(),
    bands=(Band(6000.0, 13500.0, 0.5, 0.11, 0.4), Band(3200.0, 6000.0, 0.14, 0.05, 0.6)),
    attack_sec=0.0008,
    whole_sec=0.16,
    takes=4,
)

_HAT_PEDAL = Recipe(
    # The foot's chick: lower and shorter than the stick, with a thud of felt under it.
    partials=(Partial(1.0, 0.12, 0.04),),
    bands=(Band(3000.0, 9000.0, 0.6, 0.09, 0.2), Band(1200.0, 3000.0, 0.12, 0.04, 0.3)),
    attack_sec=0.0012,
    whole_sec=0.14,
    fixed_hz=310.0,
    takes=4,
)

_KICK = Recipe(
    partials=(Partial(1.0, 1.0, 0.32), Partial(1.6, 0.3, 0.12, 0.5)),
    bands=(Band(700.0, 2600.0, 0.08, 0.02, 0.9),),
    attack_sec=0.0015,
    whole_sec=0.4,
    fixed_hz=58.0,
    glide=Glide(start_semitones=9.0, settle_sec=0.02),
)

_SNARE = Recipe(
    partials=(Partial(1.0, 0.35, 0.16), Partial(1.58, 0.2, 0.11)),
    bands=(Band(1400.0, 7500.0, 0.5, 0.2, 0.5), Band(500.0, 1400.0, 0.15, 0.1)),
    attack_sec=0.001,
    whole_sec=0.28,
    fixed_hz=188.0,
    takes=4,
)

_SIDE_STICK = Recipe(
    partials=(Partial(1.0, 0.6, 0.06), Partial(2.3, 0.4, 0.04), Partial(3.9, 0.2, 0.03)),
    bands=(Band(1500.0, 5000.0, 0.2, 0.03, 0.3),),
    attack_sec=0.0006,
    whole_sec=0.1,
    fixed_hz=420.0,
    takes=2,
)

_CLICK_HIGH = Recipe(
    partials=(Partial(1.0, 1.0, 0.07), Partial(2.71, 0.25, 0.03)),
    attack_sec=0.001,
    whole_sec=0.09,
    fixed_hz=1180.0,
)

_CLICK_LOW = Recipe(
    partials=(Partial(1.0, 1.0, 0.06), Partial(2.71, 0.2, 0.025)),
    attack_sec=0.001,
    whole_sec=0.08,
    fixed_hz=880.0,
)

VOICES: Final = MappingProxyType(
    {
        **INSTRUMENT_VOICES,
        "player": _PLAYER,
        "electric piano": _EPIANO,
        "bass": _BASS,
        "ride": _RIDE,
        "crash": _CRASH,
        "hat closed": _HAT_CLOSED,
        "hat pedal": _HAT_PEDAL,
        "kick": _KICK,
        "snare": _SNARE,
        "side stick": _SIDE_STICK,
        "click high": _CLICK_HIGH,
        "click low": _CLICK_LOW,
    }
)
"""Every voice by name."""

PLACES: Final = MappingProxyType(
    {
        **INSTRUMENT_PLACES,
        "player": Place(-13.5, -0.22, 0.22),
        "electric piano": Place(-17.5, -0.35, 0.25),
        "bass": Place(-11.0, 0.0, 0.06),
        "ride": Place(-11.5, 0.30, 0.15),
        "crash": Place(-19.0, 0.30, 0.25),
        "hat closed": Place(-16.0, -0.28, 0.12),
        "hat pedal": Place(-12.5, -0.28, 0.12),
        "kick": Place(-8.0, 0.0, 0.08),
        "snare": Place(-13.0, 0.05, 0.25),
        "side stick": Place(-12.0, -0.1, 0.25),
        "click high": Place(-11.0, 0.0, 0.0),
        "click low": Place(-13.0, 0.0, 0.0),
    }
)
"""Where each voice stands in the mix."""

PART_VOICES: Final = MappingProxyType[SoundPart, str](
    {
        "companion": TENOR,
        "melody": TENOR,
        "player": "player",
        "band": "electric piano",
        "comping": "electric piano",
        "bass": "bass",
    }
)
"""Voice of each pitched part, for companion and melody where no program is said."""

_SOLOISTS: Final[tuple[SoundPart, ...]] = ("companion", "melody")

KEY_VOICES: Final = MappingProxyType(
    {
        35: "kick",
        channels.KICK: "kick",
        channels.SIDE_STICK: "side stick",
        channels.SNARE: "snare",
        40: "snare",
        channels.HAT_CLOSED: "hat closed",
        channels.HAT_PEDAL: "hat pedal",
        46: "hat closed",
        channels.CRASH: "crash",
        57: "crash",
        channels.RIDE: "ride",
        53: "ride",
        59: "ride",
        channels.BLOCK_HIGH: "click high",
        channels.BLOCK_LOW: "click low",
    }
)
"""Voice of each percussion key; any other key sounds as a side stick."""


def voice_of(part: SoundPart, pitch: int, program: int | None = None) -> str:
    """Return the name of the voice that plays ``pitch`` for ``part``.

    ``program`` is the General MIDI program (from 0) of companion and melody.
    """
    if part in _SOLOISTS:
        return instrument_voice(program)
    if part in ("drums", "click"):
        return KEY_VOICES.get(pitch, "side stick")
    return PART_VOICES[part]


def as_table() -> dict[str, dict[str, object]]:
    """Return voices, places and who uses them as plain values that JSON can carry."""
    return {
        "voices": {name: asdict(recipe) for name, recipe in VOICES.items()},
        "places": {name: asdict(place) for name, place in PLACES.items()},
        "parts": {str(part): name for part, name in PART_VOICES.items()},
        "programs": {str(program): instrument_voice(program) for program in range(128)},
        "keys": {str(key): name for key, name in KEY_VOICES.items()},
    }
