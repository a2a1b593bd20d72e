"""From the options of `jam play` to the plan of a live session: the music, and what is opened.

What was said, and by whom, is weighed in `jam.session.live_choices`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

from jam.charts.metres import METRES, metre_of
from jam.charts.model import Chart, RoadMap
from jam.core.setup import Setup
from jam.errors import InputError
from jam.events import Part
from jam.ports.wishes import PARTS, Wishes
from jam.session.asked import CHART, key_of, turns_of
from jam.session.clashes import Places
from jam.session.config import Config, refuse_clashes
from jam.session.idioms import idioms_of
from jam.session.last_night import Choices
from jam.session.live_choices import NO_CHART, asked_by, choices_of, in_force
from jam.session.live_options import LiveOptions, ViewChoice
from jam.session.live_remarks import remarks_of
from jam.session.live_wishes import wishes_of
from jam.session.resources import Found, asked_style, find_chart, find_config, list_styles
from jam.session.resources import find_style as style_named
from jam.styles.profile import Style
from jam.transport.metre import Metre

COUNT_IN_BARS = 2
"""Bars of count-in without a chart (common practice)."""

USUAL_BPM = 120.0


@dataclass(frozen=True)
class LivePlan:
    """A live session before it is played.

    ``config`` is the configuration as it is in force, the set-up and all that was said included.
    ``style`` and ``chart`` are the names that the header gives (``chart`` None: without one),
    ``chart_path`` the file the chart was read from. ``level_controls`` says which parts the
    controllers set (None among them: the master). ``remarks`` are for the user to read.
    ``choices`` is what is to be kept for the next night. ``style_files`` are the files that the
    set-up's styles were read from, in their order.
    """

    setup: Setup
    config: Config
    wishes: Wishes
    style: str
    chart: str | None = None
    chart_path: Path | None = None
    level_controls: Mapping[int, tuple[Part | None, ...]] = field(default_factory=dict)
    remarks: tuple[str, ...] = ()
    choices: Choices = field(default_factory=Choices)
    view: ViewChoice = "auto"
    out_folder: Path | None = None
    home: Path | None = None
    style_files: tuple[Path, ...] = ()


def plan_live(options: LiveOptions) -> LivePlan:
    """Return the plan of a live session; raises InputError for what cannot be used."""
    wired = find_config(options.config, options.home)
    choices, remarks = choices_of(options, wired.value)
    config = in_force(options, choices, wired.value)
    refuse_clashes(config, Places(asked_by(options), {(): 1}))
    style = _style(choices, config, wired, options.home)
    chart = _chart(config, options.home)
    styles, unread = _styles(style, options.home)
    setup = _setup(options, config, chart, styles)
    lasting = {"style": style.entry, "chart": chart.entry if chart is not None else None}
    for key, entry in lasting.items():
        if entry is not None and entry.origin == "file" and getattr(choices, key) is not None:
            choices = choices.model_copy(update={key: str(entry.path.absolute())})
    return LivePlan(
        setup=setup,
        config=config,
        wishes=wishes_of(config, setup.seed, style.value.instrument.program - 1),
        style=style.entry.name,
        chart=chart.entry.name if chart is not None else None,
        chart_path=chart.entry.path if chart is not None else None,
        level_controls=config.level_controls.map(),
        remarks=(*remarks, *unread, *remarks_of(config, setup)),
        choices=choices,
        view=options.view,
        out_folder=options.out_folder,
        home=options.home,
        style_files=tuple(found.entry.path for found in styles),
    )


def seed_of(now: datetime) -> int:
    """Return the seed of a night: its date and time to the second, as a number."""
    return int(now.strftime("%Y%m%d%H%M%S"))


def _style(
    choices: Choices, config: Config, wired: Found[Config], home: Path | None
) -> Found[Style]:
    if config.style in (choices.style, wired.value.style):
        return asked_style(choices.style, wired, home)
    return style_named(config.style, home)


def _chart(config: Config, home: Path | None) -> Found[Chart] | None:
    """Return the chart that was named; else one of ours where the rhythm section needs one."""
    if config.chart == NO_CHART:
        return None
    if config.chart is not None:
        return find_chart(config.chart, home)
    alone = config.clock == "internal" and _with_band(config)
    return find_chart(CHART, home) if alone else None


def _with_band(config: Config) -> bool:
    if config.rhythm_section == "auto":
        return config.clock == "internal"
    return config.rhythm_section == "on"


def _styles(chosen: Found[Style], home: Path | None) -> tuple[list[Found[Style]], list[str]]:
    """Return the chosen style and all others after it, and what could not be read of those."""
    styles, remarks = [chosen], []
    for entry in list_styles(home):
        if entry.path == chosen.entry.path:
            continue
        try:
            style = style_named(str(entry.path), home)
            idioms_of((style,), home)
            styles.append(style)
        except InputError as error:
            remarks.append(f"A style is left out: {error}")
    return styles, remarks


def _setup(
    options: LiveOptions,
    config: Config,
    found: Found[Chart] | None,
    named: Sequence[Found[Style]],
) -> Setup:
    styles = tuple(style.value for style in named)
    chart = found.value if found is not None else None
    tempo_bpm = config.tempo or (chart.tempo_bpm if chart is not None else USUAL_BPM)
    turns = turns_of(config.turns, config.first, options.uneven, eager=options.eager)
    return Setup(
        seed=options.seed if options.seed is not None else seed_of(datetime.now()),
        style=styles[0],
        styles=styles,
        idioms=idioms_of(named, options.home),
        chart=chart,
        clock=config.clock,
        tempo_bpm=tempo_bpm,
        metre=_metre(options.metre, chart),
        feel=chart.feel if chart is not None else "swing",
        key=key_of(options.key, chart),
        turns=turns,
        road_map=_road_map(options, config, chart),
        split=config.keyboard_split(),
        with_band=_with_band(config),
        with_click=config.click == "on",
        autostart=False,
        cues=config.cue_map(),
        channels={part: config.parts.channel(part) - 1 for part in PARTS},
        turn_signal=config.turn_signal == "on",
        hold_tempo=config.time == "hold",
        damper_starts=config.damper_starts,
    )


def _metre(typed: str | None, chart: Chart | None) -> Metre:
    if typed is None:
        return chart.metre if chart is not None else Metre()
    try:
        metre = metre_of(typed)
    except ValueError as error:
        raise InputError(f"--metre {typed}", str(error), f"Metres: {', '.join(METRES)}.") from None
    if chart is not None and metre.bar_beats != chart.metre.bar_beats:
        problem = f"the chart {chart.title!r} is in {chart.metre}"
        raise InputError(f"--metre {typed}", problem, "Leave it out.")
    return metre if chart is None else chart.metre


def _road_map(options: LiveOptions, config: Config, chart: Chart | None) -> RoadMap:
    """Return the way through: a chart nobody has asked for is there for its changes alone."""
    counts = config.clock == "internal"
    if chart is None:
        if options.choruses is not None:
            problem = "there is no chart whose choruses could be counted"
            raise InputError(f"--choruses {options.choruses}", problem, "Name one with --chart.")
        return RoadMap(COUNT_IN_BARS if counts else 0)
    way = chart.road_map
    if not counts:
        way = replace(way, count_in_bars=0)
    if options.choruses is not None:
        way = replace(way, choruses=options.choruses)
    if config.melody != "chart":
        return replace(way, head=config.melody, head_out=config.melody)
    if config.chart is None:
        return replace(way, head="none", head_out="none")
    return way
