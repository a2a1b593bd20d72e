"""The chunks of a Standard MIDI File, checked before anything is made of them.

Header and layout: Standard MIDI Files 1.1 (MIDI Manufacturers Association). Chunks of unknown
kinds are passed over, as the standard demands; a file that ends before its chunks do is refused.
"""

from __future__ import annotations

import struct

from jam.errors import InputError

LARGEST_BYTES = 8_000_000
"""More than three hours of dense playing."""

_SAVE_AGAIN = "Save it again as a Standard MIDI File of type 0 or 1."


def tracks_of(raw: bytes, source: str) -> tuple[int, list[bytes]]:
    """Return ticks a quarter note and the bodies of the tracks; raises InputError."""
    if len(raw) > LARGEST_BYTES:
        size = f"it has {len(raw) / 1e6:.1f} MB"
        raise InputError(source, size, f"At most {LARGEST_BYTES / 1e6:.0f} MB can be played.")
    if not raw:
        raise InputError(source, "the file is empty", _SAVE_AGAIN)
    if raw[:4] != b"MThd":
        raise InputError(source, "it does not begin like a MIDI file", _SAVE_AGAIN)
    if len(raw) < 14:
        raise InputError(source, f"the file is cut off after {len(raw)} bytes", _SAVE_AGAIN)
    header, kind, count, division = struct.unpack(">4xLhhH", raw[:14])
    if kind not in (0, 1):
        what = "patterns without a common time" if kind == 2 else "unknown"
        raise InputError(source, f"it is of type {kind} ({what})", _SAVE_AGAIN)
    tracks = _bodies(raw, 8 + header, source)
    if len(tracks) < count:
        raise InputError(source, f"it holds {len(tracks)} of its {count} tracks", _SAVE_AGAIN)
    return _ticks_per_beat(division, source), tracks


def _ticks_per_beat(division: int, source: str) -> int:
    if division & 0x8000:
        frames = 256 - (division >> 8)
        raise InputError(
            source,
            f"it counts film frames ({frames} a second) instead of beats",
            "Save it with ticks a quarter note.",
        )
    if division == 0:
        raise InputError(source, "it has 0 ticks a quarter note.", _SAVE_AGAIN)
    return division


def _bodies(raw: bytes, at: int, source: str) -> list[bytes]:
    tracks: list[bytes] = []
    while at + 8 <= len(raw):
        kind, length = struct.unpack(">4sL", raw[at : at + 8])
        at += 8
        if kind == b"MTrk":
            if at + length > len(raw):
                problem = (
                    f"track {len(tracks) + 1} is cut off: "
                    f"{len(raw) - at} of its {length} bytes are there"
                )
                raise InputError(source, problem, _SAVE_AGAIN)
            tracks.append(raw[at : at + length])
        at += length
    return tracks
