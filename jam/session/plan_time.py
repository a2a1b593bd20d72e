"""The time of a render: which clock, the map of beats to seconds, the metre, the end.

Second 0 of the session is tick 0 of its files; beat 0 is the first downbeat.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor

from jam.charts.metres import METRES, metre_of
from jam.charts.model import Chart
from jam.core.setup import ClockKind, GivenBeat
from jam.errors import InputError
from jam.events import CLOCK, Input, Intent, MidiIn
from jam.log import rounded
from jam.session.midi_file import MetreChange, MidiFileData
from jam.session.options import RenderOptions
from jam.session.resources import read_text
from jam.session.time_files import read_beats
from jam.transport.metre import Metre
from jam.transport.timeline import BeatTime, TempoMap, Timeline

CLOCKS: tuple[ClockKind, ...] = ("file", "given", "taps", "midi", "internal")
"""The clocks of a render that are here."""

TICKS_A_BEAT = 24
"""MIDI clock ticks to the quarter note (MIDI 1.0 Detailed Specification)."""

COUNT_OFF_TAPS = 4
"""Taps before the first downbeat."""

DEFAULT_BPM = 120.0
_FIRST_TICK = (0xFA,)
_TICK = (0xF8,)
_NO_DOWNBEAT = 2


@dataclass(frozen=True)
class TimePlan:
    """``time`` is the map as far as it is known beforehand, ``beats`` what ``--beats`` held.

    ``remark`` tells the user what was taken otherwise than the file says it.
    """

    clock: ClockKind
    time: BeatTime
    metre: Metre
    tempo_bpm: float
    beats: tuple[GivenBeat, ...] = ()
    bars: tuple[MetreChange, ...] = ()
    remark: str = ""

    def given_beats(self, end_sec: float) -> tuple[GivenBeat, ...]:
        """Return the beats that the core is given beforehand, up to two bars past the end."""
        if self.clock == "given":
            return self.beats
        if self.clock != "file":
            return ()
        last = ceil(self.time.beat(end_sec) + 2 * self.metre.bar_beats)
        return tuple(
            GivenBeat(rounded(self.time.sec(float(beat))), self._place(beat))
            for beat in range(max(2, last))
        )

    def inputs(self, end_sec: float) -> list[Input]:
        """Return what the clock itself sends: taps, or MIDI clock."""
        if self.clock == "taps":
            return [Intent(beat.sec, "tap") for beat in self.beats[_first_tap(self.beats) :]]
        if self.clock != "midi":
            return []
        ticks = range(ceil(self.time.beat(end_sec) * TICKS_A_BEAT))
        sent: list[Input] = [MidiIn(0.0, CLOCK, _FIRST_TICK)]
        sent += [MidiIn(self.time.sec(tick / TICKS_A_BEAT), CLOCK, _TICK) for tick in ticks]
        return sent

    def _place(self, beat: int) -> int:
        """Return the number of ``beat`` in its bar.

        Where bars are no whole number of quarters (9/8) no beat is called 1, and the core counts
        regular bars from beat 0.
        """
        change = next((c for c in reversed(self.bars) if c.beat <= beat), self.bars[0])
        if change.metre.bar_beats % 1.0:
            return _NO_DOWNBEAT
        return floor((beat - change.beat) % change.metre.bar_beats) + 1


def plan_time(
    options: RenderOptions, chart: Chart | None, leading: MidiFileData | None
) -> TimePlan:
    """Return the time of a render; ``leading`` is the file whose tempo map counts."""
    clock = _clock(options, leading)
    beats: tuple[GivenBeat, ...] = ()
    if options.beats is not None:
        beats = read_beats(read_text(options.beats), str(options.beats))
    metre = _metre(options, chart, leading, beats)
    bpm = options.tempo_bpm or (chart.tempo_bpm if chart is not None else None)
    if clock in ("file", "midi") and leading is not None:
        time = TempoMap.through(leading.tempo_points)
        said = chart is not None or options.metre is not None
        none = not said and not _says_a_metre(leading)
        bars = (MetreChange(0.0, metre),) if said or none else leading.metres
        remark = f"{leading.source} is in {leading.metres[0].metre}: taken for {metre}."
        return TimePlan(
            clock, time, metre, time.bpm_at(0.0), bars=bars, remark=remark if none else ""
        )
    if clock in ("given", "taps"):
        points = _points(beats, clock)
        return TimePlan(clock, points, metre, points.bpm_at(0.0), beats)
    if bpm is None:
        bpm = DEFAULT_BPM if leading is None else TempoMap.through(leading.tempo_points).bpm_at(0.0)
    return TimePlan(clock, Timeline(bpm), metre, bpm)


def _clock(options: RenderOptions, leading: MidiFileData | None) -> ClockKind:
    clock = options.clock
    if clock is None:
        clock = "given" if options.beats else "file" if leading is not None else "internal"
    source = f"--clock {clock}"
    if clock == "notes":
        raise InputError(source, "this clock is not here yet", f"Take {', '.join(CLOCKS)}.")
    if clock in ("given", "taps") and options.beats is None:
        raise InputError(source, "there are no beats", "Name a file of beats with --beats.")
    if clock not in ("given", "taps") and options.beats is not None:
        mend = "Leave --beats out, or take --clock given or taps."
        raise InputError(source, "this clock does not take the beats of --beats", mend)
    if clock == "file" and leading is None:
        raise InputError(source, "there is no file", "Name one with --band or --player.")
    tempo = options.tempo_bpm
    if tempo is not None and (clock in ("given", "taps", "file") or (clock == "midi" and leading)):
        where = "the beats" if clock in ("given", "taps") else "the tempo map of the file"
        mend = "Leave it out, or take --clock internal."
        raise InputError(f"--tempo {tempo:g}", f"the tempo comes from {where}", mend)
    return clock


def _metre(
    options: RenderOptions,
    chart: Chart | None,
    leading: MidiFileData | None,
    beats: Sequence[GivenBeat],
) -> Metre:
    """Return the metre: as typed, else the chart's, else of the beats, else of the file."""
    if options.metre is not None:
        metre = _playable(options.metre, f"--metre {options.metre}")
        if chart is not None and metre.bar_beats != chart.metre.bar_beats:
            problem = f"the chart {chart.title!r} is in {chart.metre}"
            raise InputError(f"--metre {options.metre}", problem, "Leave it out.")
        return metre if chart is None else chart.metre
    if chart is not None:
        if leading is not None:
            _longest_metre(leading)
        return chart.metre
    if beats:
        ones = [index for index, beat in enumerate(beats) if beat.beat_in_bar == 1]
        lengths = Counter(b - a for a, b in pairwise(ones))
        length = lengths.most_common(1)[0][0] if lengths else 4
        return _playable(f"{length}/4", str(options.beats))
    if leading is not None:
        return metre_of_file(leading)
    return Metre()


def metre_of_file(data: MidiFileData) -> Metre:
    """Return the metre that lasts longest in a file; a shorter one must fill whole quarters.

    Raises InputError for one that cannot be played.
    """
    metre = _longest_metre(data)
    for change in data.metres:
        if len(data.metres) > 1 and change.metre.bar_beats % 1.0:
            problem = f"its metre at beat {change.beat:g} is {change.metre}, among others"
            mend = "Bars of changing metres must be whole quarters: give one with --metre."
            raise InputError(data.source, problem, mend)
    return metre


def _longest_metre(data: MidiFileData) -> Metre:
    if not _says_a_metre(data):
        return Metre()
    time = TempoMap.through(data.tempo_points)
    end = time.beat(data.length_sec)
    starts = [*(change.beat for change in data.metres), max(end, data.metres[-1].beat)]
    lengths = [b - a for a, b in pairwise(starts)]
    longest = data.metres[lengths.index(max(lengths))]
    return _playable(str(longest.metre), data.source)


def _says_a_metre(data: MidiFileData) -> bool:
    """Tell a file with bars from one that has none: some programs write 1/4 throughout."""
    return any(change.metre.bar_beats > 1.0 for change in data.metres)


def _playable(written: str, source: str) -> Metre:
    try:
        return metre_of(written)
    except ValueError as error:
        raise InputError(source, str(error), f"Metres: {', '.join(METRES)}.") from None


def _points(beats: Sequence[GivenBeat], clock: ClockKind) -> TempoMap:
    """Return the map through given beats; beat 0 is the first 1, of taps the one after four."""
    if clock == "taps":
        zero = _first_tap(beats) + COUNT_OFF_TAPS
    else:
        zero = next((i for i, beat in enumerate(beats) if beat.beat_in_bar == 1), 0)
    return TempoMap.through([(float(i - zero), beat.sec) for i, beat in enumerate(beats)])


def _first_tap(beats: Sequence[GivenBeat]) -> int:
    """Return the beat to tap first, so that a downbeat follows the four taps that count in."""
    ones = (
        index
        for index, beat in enumerate(beats)
        if beat.beat_in_bar == 1 and index >= COUNT_OFF_TAPS
    )
    return next(ones, COUNT_OFF_TAPS) - COUNT_OFF_TAPS
