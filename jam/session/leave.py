"""What a session leaves beside its log: a MIDI file, and the sound if it was asked for."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from jam.log import Record
from jam.players.channels import PROGRAMS
from jam.session.heard import HeardNote, heard_notes, heard_turns, last_chords, tempo_points
from jam.session.write_midi import MidiNote, MidiTurn, write_session_midi
from jam.sound.mixer import SoundNote, mix, tail_sec
from jam.sound.wav import write_wav
from jam.transport.metre import Metre

_TRACKS = {"player": "player", "companion": "companion", "melody": "companion"}


def leave_midi(
    path: Path, records: Sequence[Record], metre: Metre, tempo_bpm: float, program: int
) -> None:
    """Write the MIDI file; ``tempo_bpm`` stands where fewer than two beats were announced.

    ``program`` is the General MIDI program (from 0) of the companion.
    """
    sounds: dict[str, int] = {str(part): number for part, number in PROGRAMS.items()}
    sounds |= {"companion": program, "melody": program}
    programs: dict[str, dict[int, int]] = {"companion": {}, "band": {}}
    tracks: dict[str, list[MidiNote]] = {"player": [], "companion": [], "band": []}
    for note in heard_notes(records):
        name = _TRACKS.get(note.part, "band")
        track = tracks[name]
        if note.part in sounds:
            programs[name][note.channel] = sounds[note.part]
        track.append(MidiNote(note.t, note.end, note.channel, note.pitch, note.velocity))
    wheels: dict[str, list[MidiTurn]] = {}
    for turn in heard_turns(records):
        turns = wheels.setdefault(_TRACKS.get(turn.part, "band"), [])
        turns.append(MidiTurn(turn.t, turn.channel, turn.value))
    points = tempo_points(records)
    if len(points) < 2:
        points = [(0.0, 0.0), (1.0, 60.0 / tempo_bpm)]
    chords = last_chords(records).values()
    markers = [(chord["t"], chord["symbol"]) for chord in chords]
    write_session_midi(path, tracks, points, markers, metre, programs, wheels)


def leave_sound(path: Path, records: Sequence[Record], seed: int, program: int) -> None:
    """Write the WAV file; second 0 of the session is its first sample.

    ``program`` is the General MIDI program (from 0) of the companion.
    """
    notes = [_to_sound(note, program) for note in heard_notes(records)]
    sound = mix(notes, max(1.0, tail_sec(notes)), rng=np.random.default_rng(seed))
    with path.open("wb") as stream:
        write_wav(sound, stream)


def _to_sound(note: HeardNote, program: int) -> SoundNote:
    return SoundNote(note.t, note.end, note.part, note.pitch, note.velocity, note.bend, program)
