"""Standard MIDI Files as a session takes them: messages in seconds, the tempo map, the metre.

Beats are quarter notes from the file's first tick, seconds run from the same tick, channels run
from 0 to 15. All channel messages are kept as they stand (a note-on of velocity 0 too), in order
of time. Whatever cannot be used is one `InputError`.

The standard's defaults: 120 bpm and 4/4 until the file says otherwise (Standard MIDI Files 1.1).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from difflib import get_close_matches
from operator import itemgetter
from pathlib import Path
from typing import NamedTuple

from jam.errors import InputError
from jam.session.midi_chunks import tracks_of
from jam.session.midi_events import Track, read_track
from jam.transport.metre import Metre
from jam.transport.timeline import TempoMap, Timeline

LONGEST_SEC = 3 * 3600.0
SLOWEST_BPM, FASTEST_BPM = 4.0, 600.0

_DEFAULT_BPM = 120.0
_NOTE_ON = 0x90


class TimedMessage(NamedTuple):
    """A channel message at second ``t_sec``; ``track`` counts from 1, as in a list of tracks."""

    t_sec: float
    track: int
    track_name: str
    data: tuple[int, ...]


class MetreChange(NamedTuple):
    """From ``beat`` on the bars are as ``metre`` says."""

    beat: float
    metre: Metre


@dataclass(frozen=True)
class MidiFileData:
    """What a file holds; ``source`` names it in errors.

    ``tempo_points`` are ``(beat, sec)``, two or more: the first tick, each change of tempo, and
    one beat after the last of them. ``length_sec`` is the second of the last message. ``markers``
    are ``(beat, text)`` of all tracks, in order.
    """

    source: str
    ticks_per_beat: int
    track_names: tuple[str, ...]
    tempo_points: tuple[tuple[float, float], ...]
    metres: tuple[MetreChange, ...]
    messages: tuple[TimedMessage, ...]
    length_sec: float
    markers: tuple[tuple[float, str], ...] = ()


def read_midi(path: Path) -> MidiFileData:
    """Return what the file at ``path`` holds; raises InputError if it cannot be played."""
    source = str(path)
    ticks_per_beat, bodies = tracks_of(_bytes(path, source), source)
    tracks = [read_track(body, number, source) for number, body in enumerate(bodies, start=1)]
    stretches = _stretches(tracks, ticks_per_beat, source)
    time = TempoMap(stretches)
    end_tick = max((track.end_tick for track in tracks), default=0)
    _refuse_endless(time.sec(end_tick / ticks_per_beat), source)
    messages = _in_seconds(tracks, ticks_per_beat, time)
    data = MidiFileData(
        source=source,
        ticks_per_beat=ticks_per_beat,
        track_names=tuple(track.name for track in tracks),
        tempo_points=_points(stretches),
        metres=_metres(tracks, ticks_per_beat, source),
        messages=messages,
        length_sec=messages[-1].t_sec if messages else 0.0,
        markers=tuple(
            (tick / ticks_per_beat, text)
            for tick, text in sorted(marker for track in tracks for marker in track.markers)
        ),
    )
    return _with_notes(data, "it holds no notes", "Name a file in which somebody plays.")


def select(
    data: MidiFileData, *, track: str | None = None, channel: int | None = None
) -> MidiFileData:
    """Return ``data`` with the messages of one track, of one channel (0 to 15), or of both alone.

    ``track`` is the name of a track or, if none is called so, its number from 1. Raises
    InputError if there is no such track, or no notes in it.
    """
    messages: Iterable[TimedMessage] = data.messages
    what = []
    if track is not None:
        numbers = _tracks_called(data, track)
        messages = (m for m in messages if m.track in numbers)
        what.append(f"track {track!r}")
    if channel is not None:
        messages = (m for m in messages if m.data[0] & 0x0F == channel)
        what.append(f"channel {channel + 1}")
    chosen = replace(data, messages=tuple(messages))
    return _with_notes(chosen, f"there are no notes in {' and '.join(what)}", _has(data))


def _tracks_called(data: MidiFileData, track: str) -> frozenset[int]:
    """Return the numbers of the tracks of that name (letter case does not matter) or number."""
    wanted = track.strip().casefold()
    names = [name.strip().casefold() for name in data.track_names]
    found = frozenset(number for number, name in enumerate(names, start=1) if name == wanted)
    if found:
        return found
    if wanted.isascii() and wanted.isdigit() and 1 <= int(wanted) <= len(names):
        return frozenset({int(wanted)})
    near = get_close_matches(wanted, [name for name in names if name], 1)
    guess = f"Did you mean {data.track_names[names.index(near[0])]!r}? " if near else ""
    raise InputError(data.source, f"there is no track {track!r} in it", guess + _has(data))


def _has(data: MidiFileData) -> str:
    """Return the tracks that hold notes, for a mend."""
    with_notes = sorted({m.track for m in data.messages if _is_note(m)})
    listed = ", ".join(f"{number} {data.track_names[number - 1]!r}" for number in with_notes[:12])
    return f"Tracks with notes: {listed}."


def _is_note(message: TimedMessage) -> bool:
    return message.data[0] & 0xF0 == _NOTE_ON and message.data[2] > 0


def _with_notes(data: MidiFileData, problem: str, mend: str) -> MidiFileData:
    if not any(_is_note(message) for message in data.messages):
        raise InputError(data.source, problem, mend)
    return data


def _bytes(path: Path, source: str) -> bytes:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        raise InputError(source, "there is no such file", "Check the name.") from None
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError(source, f"it cannot be read ({reason})", "Name a MIDI file.") from None


def _stretches(tracks: list[Track], ticks_per_beat: int, source: str) -> tuple[Timeline, ...]:
    """Return the tempo map of all tracks together; of two changes on a tick the last holds."""
    changes = {tick: tempo for track in tracks for tick, tempo in track.tempos}
    stretches = [Timeline(_DEFAULT_BPM)]
    for tick in sorted(changes):
        beat = tick / ticks_per_beat
        line = Timeline(_bpm(changes[tick], beat, source), beat, stretches[-1].sec(beat))
        if beat == 0:
            stretches.clear()
        stretches.append(line)
    return tuple(stretches)


def _bpm(microseconds: int, beat: float, source: str) -> float:
    bpm = 60_000_000 / microseconds if microseconds > 0 else float("inf")
    if not SLOWEST_BPM <= bpm <= FASTEST_BPM:
        raise InputError(
            source,
            f"its tempo at beat {beat:g} is {bpm:.4g} bpm ({microseconds} microseconds a beat)",
            f"Set it between {SLOWEST_BPM:g} and {FASTEST_BPM:g} bpm",
        )
    return bpm


def _points(stretches: tuple[Timeline, ...]) -> tuple[tuple[float, float], ...]:
    last = stretches[-1]
    end = (last.origin_beats + 1.0, last.sec(last.origin_beats + 1.0))
    return (*((s.origin_beats, s.origin_sec) for s in stretches), end)


def _metres(tracks: list[Track], ticks_per_beat: int, source: str) -> tuple[MetreChange, ...]:
    changes = {tick: (upper, lower) for track in tracks for tick, upper, lower in track.metres}
    metres = []
    for tick in sorted(changes):
        beat, (upper, lower) = tick / ticks_per_beat, changes[tick]
        if not (1 <= upper <= 64 and 1 <= lower <= 64):
            problem = f"its metre at beat {beat:g} is {upper}/{lower}"
            raise InputError(source, problem, "Write a time signature as in 4/4 or 12/8.")
        metres.append(MetreChange(beat, Metre(upper, lower)))
    if not metres or metres[0].beat > 0:
        metres.insert(0, MetreChange(0.0, Metre()))
    return tuple(metres)


def _refuse_endless(end_sec: float, source: str) -> None:
    if end_sec > LONGEST_SEC:
        minutes = round(end_sec / 60)
        problem = f"it lasts {minutes // 60} h {minutes % 60:02} min"
        raise InputError(source, problem, f"Cut it: {LONGEST_SEC / 3600:g} hours can be played.")


def _in_seconds(
    tracks: list[Track], ticks_per_beat: int, time: TempoMap
) -> tuple[TimedMessage, ...]:
    """Return all messages in order of time; on the same tick in order of the tracks."""
    timed = [
        (tick, track.number, track.name, data) for track in tracks for tick, data in track.messages
    ]
    timed.sort(key=itemgetter(0))
    return tuple(
        TimedMessage(time.sec(tick / ticks_per_beat), number, name, data)
        for tick, number, name, data in timed
    )
