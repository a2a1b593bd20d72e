"""Played lines to learn from: in a MIDI file over a chart or chord markers, or in a session's log.

Beats are quarter notes; in a file they are those of its tempo map, from its first tick.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from contextlib import suppress
from math import ceil
from pathlib import Path
from statistics import median

from jam.charts.changes import changes_of
from jam.charts.model import Chart
from jam.errors import InputError
from jam.harmony.changes import Change, Changes
from jam.harmony.symbols import SymbolError
from jam.idiom.learn import Played
from jam.listening.line import Line
from jam.listening.phrase import LineNote
from jam.listening.segmenter import RestRule, phrases
from jam.log import Log, Record
from jam.session.chord_labels import chord_of
from jam.session.exchanges import chord_named, exchanges, replies_of
from jam.session.folder import read_session
from jam.session.heard import last_chords, tempo_points
from jam.session.midi_file import MidiFileData, read_midi, select
from jam.session.plan_time import metre_of_file
from jam.transport.metre import Bars
from jam.transport.timeline import BeatTime, TempoMap, Timeline

Phrase = tuple[LineNote, ...]

_USUAL_BPM = 120.0
_PICKUP_BEATS = 1.0
"""So early in the other one's turn begins what belongs to one's own."""


def line_in_midi(
    path: Path,
    chart: Chart | None = None,
    *,
    from_bar: int = 1,
    track: str | None = None,
    channel: int | None = None,
) -> Played:
    """Return the line in a MIDI file.

    The top of the ``chart`` is bar ``from_bar`` of the file (from 1), and its chorus is played
    over and over; without one the file's markers name the chords. ``channel`` is 0 to 15. Raises
    InputError for what cannot be used.
    """
    data = read_midi(path)
    if track is not None or channel is not None:
        data = select(data, track=track, channel=channel)
    _refuse_several(data)
    time = TempoMap.through(data.tempo_points)
    bars = _bars_of(data, time)
    notes = _notes_of(data, time)
    if chart is not None:
        top = bars.start(from_bar - 1)
        if top > notes[-1].heard_beat:
            last, _ = bars.at(notes[-1].heard_beat)
            problem = f"the last note of {path} begins in bar {last + 1}"
            raise InputError(f"--from-bar {from_bar}", problem, "Take an earlier bar")
        bars = Bars(chart.metre.bar_beats, (top,))
        changes = _through(chart, top, notes[-1].heard_beat)
        pulse_beats = chart.metre.pulse_beats
    else:
        changes = _marked(data)
        pulse_beats = metre_of_file(data).pulse_beats
    bpm = median(time.bpm_at(note.heard_beat) for note in notes)
    found = phrases(notes, RestRule().rest_beats(bpm))
    return Played(tuple(found), changes, bpm, bars, pulse_beats)


def lines_in_session(folder: Path, *, companion: bool = False) -> list[Played]:
    """Return what the player (or the ``companion``) said in a session, over its chords: a line
    for each stretch in which the other one says nothing.

    Raises InputError if there is no session, or nobody said anything.
    """
    log = read_session(folder)
    calls, replies = _calls(log), _replies(log)
    own, others = (replies, calls) if companion else (calls, replies)
    if not own:
        who = "the companion" if companion else "the player"
        mend = "Name a session in which it plays." if companion else "Try it with --companion."
        raise InputError(str(folder), f"{who} says nothing in it", mend)
    chords = last_chords(log.records)
    changes = Changes([Change(b, chord_named(str(c["symbol"]))) for b, c in chords.items()])
    beats = log.of("beat")
    downbeats = sorted({r["beat"] for r in beats if r["beat_in_bar"] == 1})
    metre = (log.header.get("setup") or {}).get("metre") or {}
    bar_beats = metre.get("numerator", 4) * 4.0 / metre.get("denominator", 4)
    bars = Bars(bar_beats, tuple(downbeats) or (0.0,))
    bpm = median([record["bpm"] for record in beats] or [_USUAL_BPM])
    pulse_beats = metre.get("pulse_beats", 1.0)
    rest_beats = RestRule().rest_beats(bpm)
    return [
        Played(tuple(phrases(said, rest_beats)), changes, bpm, bars, pulse_beats)
        for said in _stretches(own, others)
    ]


def _stretches(own: Sequence[Phrase], others: Sequence[Phrase]) -> list[list[LineNote]]:
    """Return one's own notes in order, a list for each stretch that no other one begins in.

    A call or a reply is all that one said in a turn; where the rests in it are is another matter.
    """
    begun = sorted(turn[0].heard_beat for turn in others)
    found: dict[int, list[LineNote]] = {}
    for turn in sorted(own, key=lambda turn: turn[0].heard_beat):
        found.setdefault(bisect_left(begun, turn[0].heard_beat), []).extend(turn)
    return list(found.values())


def _refuse_several(data: MidiFileData) -> None:
    """Raise InputError where the notes come from several tracks or channels."""
    notes = [m for m in data.messages if m.data[0] & 0xF0 == 0x90]
    tracks = {m.track: m.track_name for m in notes}
    if len(tracks) > 1:
        listed = ", ".join(f"{number} {name!r}" for number, name in sorted(tracks.items()))
        raise InputError(
            data.source,
            "several tracks of it hold notes",
            f"Name the line's with --track: {listed}",
        )
    channels = sorted({m.data[0] & 0x0F for m in notes})
    if len(channels) > 1:
        listed = ", ".join(str(channel + 1) for channel in channels)
        raise InputError(
            data.source,
            "several channels of it hold notes",
            f"Name the line's with --channel: {listed}",
        )


def _bars_of(data: MidiFileData, time: BeatTime) -> Bars:
    """Return where the bars of a file begin, by its metres."""
    end = time.beat(data.length_sec)
    ends = [change.beat for change in data.metres[1:]] + [end]
    starts: list[float] = []
    for change, until in zip(data.metres, ends, strict=True):
        length = change.metre.bar_beats
        count = max(1, ceil((until - change.beat) / length - 1e-6))
        starts += [change.beat + number * length for number in range(count)]
    return Bars(data.metres[-1].metre.bar_beats, tuple(starts))


def _notes_of(data: MidiFileData, time: BeatTime) -> tuple[LineNote, ...]:
    line = _line_of([(message[0], message[3]) for message in data.messages], time)
    end = data.length_sec
    return line.notes_since(float("-inf"), end, time.beat(end))


def _line_of(messages: Iterable[tuple[float, Sequence[int]]], time: BeatTime) -> Line:
    """Return the line of MIDI messages, each with its second."""
    line = Line()
    for t, (status, *values) in messages:
        kind = status & 0xF0
        if kind == 0x90 and values[1] > 0:
            line.note_on(values[0], values[1], t, time.beat(t))
        elif kind in (0x80, 0x90):
            line.note_off(values[0], t, time.beat(t))
    return line


def _through(chart: Chart, top: float, last_beat: float) -> Changes:
    """Return the changes of a chart, chorus after chorus from ``top`` until ``last_beat``."""
    found: list[Change] = []
    start = top
    while start <= last_beat:
        found += changes_of(chart, chart.chorus, start)
        start += chart.chorus.beats
    return Changes(found or changes_of(chart, chart.chorus, top))


def _marked(data: MidiFileData) -> Changes:
    """Return the changes that the markers name; other markers are passed over."""
    found: dict[float, Change] = {}
    for beat, text in data.markers:
        with suppress(SymbolError):
            found[beat] = Change(beat, chord_of(text))
    if not found:
        problem = "no marker in it names a chord"
        mend = "Name the tune with --chart, or save it with a marker for each chord"
        raise InputError(data.source, problem, mend)
    return Changes(list(found.values()))


def _calls(log: Log) -> list[Phrase]:
    calls = [pair.call for pair in exchanges(log) if pair.call is not None]
    time = _time_of(log)
    said = [_phrase([(n["beat"], n) for n in call["notes"]], time) for call in calls]
    last = _last_turn(log, time, max([call["end"] for call in calls], default=0.0))
    return [*said, last] if last else said


def _last_turn(log: Log, time: BeatTime, since_sec: float) -> Phrase:
    """Return what the player said after ``since_sec`` in the turn in which the session ended: there
    is no call of it."""
    turns = log.of("turn")
    if not turns or turns[-1]["who"] == "companion":
        return ()
    since_beat = max(turns[-1]["beat"] - _PICKUP_BEATS, time.beat(since_sec))
    heard = [
        r for r in log.of("in") if r["port"] == "player" and r.get("channel_split") != "comping"
    ]
    line = _line_of([(record["t"], record["bytes"]) for record in heard], time)
    end = heard[-1]["t"] if heard else 0.0
    return line.notes_since(since_beat, end, time.beat(end))


def _replies(log: Log) -> list[Phrase]:
    """Return the replies, each note where it sounded: the log says where it was meant."""
    time = _time_of(log)
    return [_phrase([(time.beat(n["t"]), n) for n in r.notes], time) for r in replies_of(log)]


def _phrase(notes: Sequence[tuple[float, Record]], time: BeatTime) -> Phrase:
    """Return log notes, each with the beat on which it was heard, in order."""
    return tuple(
        LineNote(n["t"], time.sec(beat + n["beats"]), n["pitch"], n["velocity"], beat, n["beats"])
        for beat, n in sorted(notes, key=lambda pair: pair[0])
    )


def _time_of(log: Log) -> BeatTime:
    points = tempo_points(log.records)
    return TempoMap.through(points) if len(points) > 1 else Timeline(_USUAL_BPM)
