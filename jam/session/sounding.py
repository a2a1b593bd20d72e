"""What was heard in a session: every note of everybody, from the records of its log."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from jam.log import Record
from jam.sound.mixer import SoundNote, mix, tail_sec
from jam.sound.recipes import SoundPart
from jam.sound.wav import write_wav

_DRUMS = 9
"""Channel 10 of General MIDI, counted from 0."""

_SHORTEST_SEC = 0.01


@dataclass(frozen=True, slots=True)
class _Held:
    t: float
    part: SoundPart
    velocity: int


def sounding_notes(records: Iterable[Record]) -> list[SoundNote]:
    """Return the notes of player, band and companion, in order of their ends.

    A key struck again before its release ends the note before; what is still held after the last
    message ends with it.
    """
    notes: list[SoundNote] = []
    held: dict[tuple[str, int, int], _Held] = {}

    def end(key: tuple[str, int, int], t: float) -> None:
        note = held.pop(key, None)
        if note is not None:
            until = max(t, note.t + _SHORTEST_SEC)
            notes.append(SoundNote(note.t, until, note.part, key[2], note.velocity))

    last = 0.0
    for record in records:
        part = _part(record)
        if part is None or len(record["bytes"]) != 3:
            continue
        status, pitch, value = record["bytes"]
        if status & 0xF0 not in (0x80, 0x90):
            continue
        last = max(last, record["t"])
        key = (record["port"], status & 0x0F, pitch)
        end(key, record["t"])
        if status & 0xF0 == 0x90 and value > 0:
            held[key] = _Held(max(0.0, record["t"]), part, value)
    for key in list(held):
        end(key, last)
    return notes


def write_sound(path: Path, records: Iterable[Record], seed: int) -> None:
    """Write the session's sound to a WAV file; second 0 of the session is its first sample."""
    notes = sounding_notes(records)
    sound = mix(notes, max(1.0, tail_sec(notes)), rng=np.random.default_rng(seed))
    with path.open("wb") as stream:
        write_wav(sound, stream)


def _part(record: Record) -> SoundPart | None:
    """Return who is heard in a record, None if it is no message of a note."""
    if record["kind"] == "sent":
        part: SoundPart = record["part"]
        return part
    if record["kind"] != "in" or not record["bytes"]:
        return None
    if record["port"] == "band":
        return "drums" if record["bytes"][0] & 0x0F == _DRUMS else "band"
    return "player" if record["port"] == "player" else None
