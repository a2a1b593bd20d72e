"""Which channel, program and percussion key each part uses.

Channels count from 0 (percussion is channel 10 to a musician, 9 here); programs count from 0
(printed lists count from 1). Source: General MIDI 1 sound set and percussion key map (MIDI
Manufacturers Association), as in the tables of the pretty_midi library. Channel 0 is left to the
player, whose keyboard usually sends on it: on a sound module shared by both, a damper pedal holds
the notes of its own channel alone.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

from jam.events import Part

COMPANION: Final = 3
MELODY: Final = 3
BASS: Final = 1
COMPING: Final = 2
DRUMS: Final = 9
CLICK: Final = 9

CHANNELS: Final = MappingProxyType[Part, int](
    {
        "companion": COMPANION,
        "melody": MELODY,
        "bass": BASS,
        "comping": COMPING,
        "drums": DRUMS,
        "click": CLICK,
    }
)
"""Channel of each part, from 0, where the setup names no other."""

PROGRAMS: Final = MappingProxyType[Part, int](
    {
        "companion": 66,  # Tenor Sax
        "melody": 66,
        "bass": 32,  # Acoustic Bass
        "comping": 4,  # Electric Piano 1
    }
)
"""General MIDI program of each pitched part, from 0; a style's own program goes before it."""

KICK: Final = 36  # Bass Drum 1
SIDE_STICK: Final = 37
SNARE: Final = 38  # Acoustic Snare
HAT_CLOSED: Final = 42
HAT_PEDAL: Final = 44
CRASH: Final = 49  # Crash Cymbal 1
RIDE: Final = 51  # Ride Cymbal 1
BLOCK_HIGH: Final = 76  # Hi Wood Block
BLOCK_LOW: Final = 77  # Low Wood Block
