"""Small files for renders: a player's and a band's MIDI, beats and changes, all invented."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

import mido

TICKS = 480

Note = tuple[float, float, int]
"""Beat, length in beats, pitch."""


def line(first_beat: float, last_beat: float) -> list[Note]:
    """Return a phrase of two bars on, two bars off, up and down the scale of C."""
    steps = (0, 2, 4, 7, 9, 7, 4, 2)
    return [
        (beat, 0.4, 60 + steps[number % 8])
        for number in range(int(first_beat * 2), int(last_beat * 2))
        if (beat := number / 2.0) % 8.0 < 7.0 and number % 8 != 7
    ]


def shells(symbol_pitches: Sequence[tuple[int, ...]], bar_beats: float = 4.0) -> list[Note]:
    """Return held chords, one a bar."""
    return [
        (number * bar_beats, bar_beats - 0.1, pitch)
        for number, pitches in enumerate(symbol_pitches)
        for pitch in pitches
    ]


def write_midi(
    path: Path,
    tracks: dict[str, Iterable[Note]],
    *,
    tempi: Sequence[tuple[float, float]] = ((0.0, 120.0),),
    metres: Sequence[tuple[float, int, int]] = (),
    channel: int = 0,
) -> Path:
    """Write a MIDI file with these tracks; tempi in bpm and metres from their beats on."""
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS)
    events = [
        (beat, mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm))) for beat, bpm in tempi
    ]
    events += [
        (beat, mido.MetaMessage("time_signature", numerator=upper, denominator=lower))
        for beat, upper, lower in metres
    ]
    file.tracks.append(_track("", events))
    for name, notes in tracks.items():
        events = []
        for beat, beats, pitch in notes:
            on = mido.Message("note_on", note=pitch, velocity=80, channel=channel)
            off = mido.Message("note_on", note=pitch, velocity=0, channel=channel)
            events += [(beat, on), (beat + beats, off)]
        file.tracks.append(_track(name, events))
    file.save(path)
    return path


def _track(name: str, events: list[tuple[float, object]]) -> mido.MidiTrack:
    track = mido.MidiTrack()
    if name:
        track.append(mido.MetaMessage("track_name", name=name))
    now = 0
    for beat, message in sorted(events, key=lambda event: event[0]):
        tick = round(beat * TICKS)
        track.append(message.copy(time=tick - now))  # type: ignore[attr-defined]
        now = tick
    return track


def write_beats(
    path: Path, count: int, bpm: float = 120.0, *, bar: int = 4, first: int = 1
) -> Path:
    """Write a file of regular beats; the first has the number ``first`` in its bar."""
    rows = [f"{k * 60.0 / bpm:.6f} {(k + first - 1) % bar + 1}\n" for k in range(count)]
    path.write_text("".join(rows), encoding="utf-8")
    return path


def write_changes(path: Path, symbols: Sequence[str], each_sec: float = 2.0) -> Path:
    """Write a file of changes, one every so many seconds."""
    rows = [f"{number * each_sec} {symbol}\n" for number, symbol in enumerate(symbols)]
    path.write_text("".join(rows), encoding="utf-8")
    return path
