"""The session as a Standard MIDI File of type 1, for any score or sequencer program.

Second 0 is tick 0. The first track conducts: time signature, tempo map, one ASCII marker per
chord; then comes a track for each player. Notes lie at their seconds: ticks are found through the
tempo map *as written* (whole microseconds a beat), so that rounding never adds up. Where second 0
is not on a beat the first written beat is squeezed or stretched to end on one, and a pickup bar
puts beat 0 on a bar line.

Layout and events: Standard MIDI Files 1.1 (MIDI Manufacturers Association).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise, zip_longest
from math import ceil
from pathlib import Path

import mido

from jam.transport.metre import Metre
from jam.transport.timeline import TempoMap, Timeline

TICKS_PER_BEAT = 1920
"""A tick is a quarter of a millisecond at 120 bpm, one millisecond at 30."""

_SLOWEST_MICROSECONDS = 0xFF_FF_FF
_ON_A_BEAT = 1e-6
_Event = tuple[int, int, mido.Message]


@dataclass(frozen=True, slots=True)
class MidiNote:
    """A note from second ``t`` to second ``end``; ``channel`` runs from 0 to 15."""

    t: float
    end: float
    channel: int
    pitch: int
    velocity: int


@dataclass(frozen=True, slots=True)
class MidiTurn:
    """The pitch wheel of a channel, set at second ``t`` to a 14-bit value (centre 8192)."""

    t: float
    channel: int
    value: int


def write_session_midi(
    path: Path,
    tracks: Mapping[str, Sequence[MidiNote]],
    tempo_points: Sequence[tuple[float, float]],
    markers: Sequence[tuple[float, str]],
    metre: Metre,
    programs: Mapping[str, Mapping[int, int]] | None = None,
    wheels: Mapping[str, Sequence[MidiTurn]] | None = None,
) -> None:
    """Write ``tracks`` (by name) to ``path``.

    ``tempo_points`` are ``(beat, sec)``, two or more, rising; ``markers`` are ``(sec, text)``.
    ``programs`` give the General MIDI program (from 0) of a channel, by track, and ``wheels`` how
    pitch wheels were set.
    What lies before second 0 is put there. A pitch struck again on its channel while it sounds
    ends there first; of two struck on one tick the longer and the louder are kept as one.
    """
    first_beat, stretches = _written_stretches(tempo_points)
    time = TempoMap(tuple(line for line, _ in stretches))
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_BEAT)
    file.tracks.append(_conductor(stretches, first_beat, time, markers, metre))
    for name, notes in tracks.items():
        named = (programs or {}).get(name, {})
        sounds: list[_Event] = [
            (0, -1, mido.Message("program_change", channel=channel, program=program))
            for channel, program in sorted(named.items())
        ]
        turns = _turn_events((wheels or {}).get(name, ()), time)
        file.tracks.append(_track(name, [*sounds, *turns, *_note_events(notes, time)]))
    file.save(path)


def _written_stretches(
    points: Sequence[tuple[float, float]],
) -> tuple[float, list[tuple[Timeline, int]]]:
    """Return the beat that tick 0 stands for, and the tempo map in *written* beats from tick 0.

    Each stretch comes with its tempo in microseconds a beat, rounded; what the rounding left over
    goes into the next stretch, but for the last, which has no end.
    """
    marks = _marks(points)
    first_beat = marks[0][0]
    stretches: list[tuple[Timeline, int]] = []
    sec = 0.0
    for (beat, meant_sec), (next_beat, next_sec) in pairwise(marks):
        begun_sec = meant_sec if next_beat == marks[-1][0] else sec
        tempo = round(1e6 * (next_sec - begun_sec) / (next_beat - beat))
        tempo = max(1, min(_SLOWEST_MICROSECONDS, tempo))
        stretches.append((Timeline(6e7 / tempo, beat - first_beat, sec), tempo))
        sec += (next_beat - beat) * tempo / 1e6
    return first_beat, stretches


def _marks(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return ``(beat, sec)`` of every tempo to write, from the beat written at second 0 on.

    All beats are on ticks and rise. The first is whole: where second 0 falls between two beats,
    one beat is written from it to the beat after (to the one after that if it is very near).
    """
    time = TempoMap.through(points)
    at_zero = time.beat(0.0)
    if abs(at_zero - round(at_zero)) < _ON_A_BEAT:
        marks = [(float(round(at_zero)), 0.0)]
    else:
        whole = float(ceil(at_zero + 0.5))
        marks = [(whole - 1.0, 0.0), (whole, time.sec(whole))]
    for beat, _ in points:
        on_tick = round(beat * TICKS_PER_BEAT) / TICKS_PER_BEAT
        if on_tick > marks[-1][0]:
            marks.append((on_tick, time.sec(on_tick)))
    last = marks[-1][0] + 1.0
    return [*marks, (last, time.sec(last))]


def _conductor(
    stretches: Sequence[tuple[Timeline, int]],
    first_beat: float,
    time: TempoMap,
    markers: Sequence[tuple[float, str]],
    metre: Metre,
) -> mido.MidiTrack:
    events: list[_Event] = []
    pickup_beats = -first_beat % metre.bar_beats
    if pickup_beats:
        lower = max(4, metre.denominator)
        events.append((0, 0, _signature(round(pickup_beats * lower / 4), lower)))
    start = round(pickup_beats * TICKS_PER_BEAT)
    events.append((start, 0, _signature(metre.numerator, metre.denominator)))
    for number, (line, tempo) in enumerate(stretches):
        if number and tempo == stretches[number - 1][1]:
            continue
        tick = round(line.origin_beats * TICKS_PER_BEAT)
        events.append((tick, 1, mido.MetaMessage("set_tempo", tempo=tempo)))
    for sec, text in markers:
        ascii_text = text.encode("ascii", "replace").decode("ascii")
        events.append((_tick(sec, time), 2, mido.MetaMessage("marker", text=ascii_text)))
    return _track("conductor", events)


def _signature(upper: int, lower: int) -> mido.MetaMessage:
    return mido.MetaMessage("time_signature", numerator=upper, denominator=lower)


def _turn_events(turns: Sequence[MidiTurn], time: TempoMap) -> list[_Event]:
    """Return turns of the wheel: after the note-offs of their tick, before the note-ons."""
    return [
        (
            _tick(turn.t, time),
            1,
            mido.Message("pitchwheel", channel=turn.channel, pitch=turn.value - 8192),
        )
        for turn in turns
    ]


def _note_events(notes: Sequence[MidiNote], time: TempoMap) -> list[_Event]:
    """Return note-offs (before the note-ons of their tick) and note-ons."""
    events: list[_Event] = []
    for (channel, pitch), spans in sorted(_by_key(notes, time).items()):
        following = [on for on, _, _ in spans[1:]]
        for (on, off, velocity), limit in zip_longest(spans, following):
            off = off if limit is None else min(off, limit)
            events.append((on, 2, _message("note_on", channel, pitch, velocity)))
            events.append((off, 0, _message("note_off", channel, pitch, 0)))
    return events


def _by_key(
    notes: Sequence[MidiNote], time: TempoMap
) -> dict[tuple[int, int], list[tuple[int, int, int]]]:
    """Return ``(on tick, off tick, velocity)`` by channel and pitch, rising, one to a tick."""
    spans: dict[tuple[int, int], list[tuple[int, int, int]]] = {}
    for note in sorted(notes, key=lambda note: note.t):
        on = _tick(note.t, time)
        off = max(on + 1, _tick(note.end, time))
        here = spans.setdefault((note.channel, note.pitch), [])
        if here and here[-1][0] == on:
            _, other_off, other_velocity = here.pop()
            here.append((on, max(off, other_off), max(note.velocity, other_velocity)))
        else:
            here.append((on, off, note.velocity))
    return spans


def _message(kind: str, channel: int, pitch: int, velocity: int) -> mido.Message:
    return mido.Message(kind, channel=channel, note=pitch, velocity=velocity)


def _tick(sec: float, time: TempoMap) -> int:
    return max(0, round(time.beat(sec) * TICKS_PER_BEAT))


def _track(name: str, events: list[_Event]) -> mido.MidiTrack:
    """Return the track of that name, its events in order of tick and rank."""
    ascii_name = name.encode("ascii", "replace").decode("ascii")
    track = mido.MidiTrack([mido.MetaMessage("track_name", name=ascii_name)])
    now = 0
    for tick, _, message in sorted(events, key=lambda event: event[:2]):
        message.time = tick - now
        track.append(message)
        now = tick
    track.append(mido.MetaMessage("end_of_track"))
    return track
