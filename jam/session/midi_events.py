"""The events of one track of a Standard MIDI File, in absolute ticks.

mido reads the bytes, strictly: a data byte out of range is an error and is not bent into one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from io import BytesIO
from typing import Any

import mido

from jam.errors import InputError

_HEADER = b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x60"
_SYSTEM = 0xF0


@dataclass
class Track:
    """``number`` counts from 1; ``tempos`` are ``(tick, microseconds a quarter)``, ``metres``
    ``(tick, upper, lower)``, ``markers`` ``(tick, text)``, ``messages`` the channel messages with
    their ticks."""

    number: int
    name: str = ""
    end_tick: int = 0
    tempos: list[tuple[int, int]] = field(default_factory=list)
    metres: list[tuple[int, int, int]] = field(default_factory=list)
    markers: list[tuple[int, str]] = field(default_factory=list)
    messages: list[tuple[int, tuple[int, ...]]] = field(default_factory=list)


def read_track(body: bytes, number: int, source: str) -> Track:
    """Return the events in the body of a track chunk; raises InputError if they make no sense."""
    chunk = _HEADER + b"MTrk" + len(body).to_bytes(4, "big") + body
    try:
        events = mido.MidiFile(file=BytesIO(chunk), clip=False).tracks[0]
    except Exception as error:  # mido lets many kinds through when the bytes make no sense
        reason = str(error) or "it ends in the middle of an event"
        raise InputError(
            source, f"track {number} is broken ({reason})", "Save it again where it was made."
        ) from None
    track = Track(number)
    for event in events:
        track.end_tick += event.time
        _take(track, event)
    return track


def _take(track: Track, event: Any) -> None:
    if not event.is_meta:
        data = tuple(event.bytes())
        if data[0] < _SYSTEM:
            track.messages.append((track.end_tick, data))
    elif event.type == "set_tempo":
        track.tempos.append((track.end_tick, event.tempo))
    elif event.type == "time_signature":
        track.metres.append((track.end_tick, event.numerator, event.denominator))
    elif event.type == "marker":
        track.markers.append((track.end_tick, event.text.strip()))
    elif event.type == "track_name" and not track.name:
        track.name = event.name.strip()
