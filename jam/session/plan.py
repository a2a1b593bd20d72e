"""From the options of `jam render` to the plan of a session.

With files to play along with, or a clock from outside, the music begins at once; without them the
chart's own road map holds, count-in and heads included.
"""

from __future__ import annotations

from dataclasses import replace
from math import ceil, inf

from jam.charts.model import Chart, RoadMap
from jam.core.form import Form
from jam.core.setup import Setup, TimedChange
from jam.errors import InputError
from jam.events import Input
from jam.listening.who import Split
from jam.session.asked import key_of, turns_of
from jam.session.idioms import idioms_of
from jam.session.options import RenderOptions
from jam.session.perform import Plan
from jam.session.plan_files import Files, read_files
from jam.session.plan_time import TimePlan, plan_time
from jam.session.resources import asked_style, find_chart, find_config, read_text
from jam.session.time_files import read_changes

DEFAULT_CHORUSES = 2
"""Choruses of a chart whose road map is open, when nothing else ends the session."""

_FREE_TAIL_BARS = 8
_CHORUS_BARS = 32
_CHANGES_TAIL_BARS = 4
_RING_SEC = 3.0


def plan_render(options: RenderOptions) -> Plan:
    """Return the plan of a render; raises InputError for what cannot be used or does not fit."""
    wired = find_config(options.config, options.home)
    config = wired.value
    style = asked_style(options.style, wired, options.home)
    found = find_chart(options.chart, options.home) if options.chart is not None else None
    chart = found.value if found is not None else None
    changes = _changes(options)
    files = read_files(options)
    time = plan_time(options, chart, files.leading)
    split = config.keyboard_split()
    split_at = split.pitch if options.split_at is None else options.split_at
    channels = options.channels or split.channels
    heard_band = files.player is not None and any(part != "comping" for _, part in channels)
    setup = Setup(
        seed=options.seed,
        style=style.value,
        styles=(style.value,),
        idioms=idioms_of((style,), options.home),
        chart=chart,
        timed_changes=changes,
        clock=time.clock,
        tempo_bpm=time.tempo_bpm,
        tap_beats=1.0 if time.clock == "taps" else None,
        metre=time.metre,
        feel=chart.feel if chart is not None else "swing",
        key=key_of(options.key, chart),
        turns=turns_of(options.turns, options.first, options.uneven, eager=options.eager),
        road_map=_road_map(options, chart, alone=files.leading is None and not time.beats),
        split=Split(options.split or split.kind, split_at, channels, split.other),
        with_band=options.with_band and files.band is None and not heard_band,
        cues=config.cue_map(),
    )
    end_beat, end_sec = _end(setup, time, files, changes)
    setup = replace(setup, end_beat=end_beat, given_beats=time.given_beats(end_sec))
    inputs: list[Input] = [*time.inputs(end_sec), *files.inputs()]
    return Plan(
        setup,
        config,
        style.entry.name,
        end_sec,
        tuple(inputs),
        found.entry.name if found is not None else None,
        found.entry.path if found is not None else None,
        time.remark,
    )


def _changes(options: RenderOptions) -> tuple[TimedChange, ...]:
    if options.changes is None:
        return ()
    if options.chart is not None:
        problem = "the changes come from a chart already"
        raise InputError(f"--changes {options.changes}", problem, "Leave one of the two out.")
    return read_changes(read_text(options.changes), str(options.changes))


def _road_map(options: RenderOptions, chart: Chart | None, *, alone: bool) -> RoadMap:
    """Return the way through; ``alone`` says that nothing is given that would end it."""
    if chart is None:
        if options.choruses is not None:
            problem = "there is no chart whose choruses could be counted"
            raise InputError(f"--choruses {options.choruses}", problem, "Name one with --chart.")
        return RoadMap(count_in_bars=0)
    if not alone:
        return RoadMap(0, "none", options.choruses, "none")
    choruses = options.choruses or chart.road_map.choruses or DEFAULT_CHORUSES
    count_in_bars = 0 if options.clock == "midi" else chart.road_map.count_in_bars
    return replace(chart.road_map, count_in_bars=count_in_bars, choruses=choruses)


def _end(
    setup: Setup, time: TimePlan, files: Files, changes: tuple[TimedChange, ...]
) -> tuple[float | None, float]:
    """Return the beat at which turns end (None: the road map says) and the last second."""
    bar_beats = time.metre.bar_beats
    last_beat = _last_beat(time, files, changes)
    if last_beat is None and setup.chart is None:
        mend = "Name what is played with --player, --band, --chart or --changes."
        raise InputError("render", "there is nothing to play to", mend)
    if last_beat is None:
        form = Form(setup)
        form.reach(inf)
        count_in_beats = form.road_map.count_in_bars * bar_beats
        return None, time.time.sec(form.end_beat + count_in_beats + bar_beats) + _RING_SEC
    whole = bar_beats * (setup.turns.bars if setup.turns.kind == "trade" else 1)
    end_beat = ceil(last_beat / whole - 1e-6) * whole + _tail_bars(setup) * bar_beats
    return end_beat, time.time.sec(end_beat) + _RING_SEC


def _last_beat(time: TimePlan, files: Files, changes: tuple[TimedChange, ...]) -> float | None:
    """Return the beat at which what was given is over, None if it has no end of its own."""
    if files.end_sec is not None:
        return time.time.beat(files.end_sec)
    if time.beats:
        return time.time.beat(time.beats[-1].sec)
    if changes:
        return time.time.beat(changes[-1].sec) + _CHANGES_TAIL_BARS * time.metre.bar_beats
    return None


def _tail_bars(setup: Setup) -> int:
    """Return how many bars the companion is given to answer what was said last."""
    match setup.turns.kind:
        case "trade":
            return setup.turns.bars
        case "chorus":
            return len(setup.chart.chorus.bars) if setup.chart is not None else _CHORUS_BARS
        case "free":
            return _FREE_TAIL_BARS
    return 0
