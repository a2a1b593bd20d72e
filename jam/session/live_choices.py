"""Who has said what about a live session, and who goes first.

The command line, the set-up that is named there, last night, the configuration, its defaults.
Where the set-up itself comes from last night or the configuration, last night's choices go before
what it says. A tempo belongs to its chart: it does not outlast a change of chart.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from jam.errors import InputError
from jam.session.config import Config
from jam.session.last_night import Choices, SaidPorts, remembered
from jam.session.live_options import LiveOptions
from jam.session.resources import find_chart, find_style

NO_CHART = "none"
"""The chart of those who want none: the changes are heard."""


def choices_of(options: LiveOptions, config: Config) -> tuple[Choices, list[str]]:
    """Return what was said tonight and last night, without what is not there any more."""
    tonight = Choices(
        setup=config.named(options.setup) if options.setup is not None else None,
        chart=options.chart,
        style=options.style,
        tempo=options.tempo_bpm,
        turns=options.turns,
        clock=options.clock,
        ports=SaidPorts(
            player=options.player_in,
            band=options.band_in,
            clock=options.clock_in,
            cues=options.cues_in,
            out=options.out,
        ),
    )
    if options.anew:
        return tonight, []
    before, told = remembered(options.home)
    remarks = [told] if told else []
    looks: dict[str, Callable[[str], object]] = {
        "setup": config.named,
        "chart": lambda name: find_chart(name, options.home),
        "style": lambda name: find_style(name, options.home),
    }
    for key, look in looks.items():
        said = getattr(before, key)
        if said not in (None, NO_CHART) and getattr(tonight, key) is None:
            try:
                look(said)
            except InputError as error:
                remarks.append(f"Last night's {key} is left out: {error}")
                before = before.model_copy(update={key: None})
    both = tonight.over(before)
    if both != tonight:
        remarks.append("As last night, but for what you said (`jam play --anew` forgets it).")
    return both, remarks


def in_force(options: LiveOptions, choices: Choices, config: Config) -> Config:
    """Return the configuration with the set-up, last night and the options before it."""
    setup = choices.setup if choices.setup is not None else config.setup
    said = config.said_by(options.setup)
    whole = config.with_setup(setup)
    changes: dict[str, Any] = {}
    for key in ("chart", "style", "tempo", "turns", "clock"):
        typed = getattr(options, "tempo_bpm" if key == "tempo" else key)
        value = typed if typed is not None or key in said else getattr(choices, key)
        if value is not None:
            changes[key] = value
    if "tempo" not in changes and whole.chart not in (None, changes.get("chart", whole.chart)):
        changes["tempo"] = None
    changes |= _typed(options, whole)
    named = choices.ports.model_dump(exclude_none=True)
    if options.system is not None:
        named["system"] = options.system
    changes["ports"] = whole.ports.model_copy(update=named)
    return whole.model_copy(update=changes)


def _typed(options: LiveOptions, config: Config) -> dict[str, Any]:
    """Return what the options say about the rest of the configuration."""
    on = {True: "on", False: "off"}
    changes: dict[str, Any] = {
        "first": options.first,
        "melody": options.melody,
        "rhythm_section": None if options.with_band is None else on[options.with_band],
        "click": None if options.click is None else on[options.click],
        "turn_signal": None if options.turn_signal is None else on[options.turn_signal],
        "time": None if options.hold is None else "hold" if options.hold else "follow",
    }
    split = {"kind": options.split, "at": options.split_at}
    split = {key: value for key, value in split.items() if value is not None}
    changes["split"] = config.split.model_copy(update=split)
    return {key: value for key, value in changes.items() if value is not None}


def asked_by(options: LiveOptions) -> str:
    """Return what to name as the source of what does not fit together."""
    return f"--setup {options.setup}" if options.setup is not None else "jam play"
