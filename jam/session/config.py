"""The configuration: ports, parts, latencies, cues, levels, set-ups, read from ``config/jam.yaml``.

A *set-up* is a name for anything that the configuration can say: what it says goes before what
stands outside, key by key (a cue, as a whole). What does not fit together is told all at once,
each with its line.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated, Any, Literal

from pydantic import Field

from jam.charts.metres import TEMPO_BPM
from jam.errors import InputError
from jam.listening.who import HeardPart, Split, SplitKind
from jam.session.clashes import Learnt, Places, clashes
from jam.session.options import LiveTurnChoice
from jam.session.piece import AsWord, Channel, LatencyMs, OnOff, Piece, Pitch
from jam.session.routing import LevelControls, Levels, Parts, Ports, Sound, ThruTo
from jam.session.triggers import Cues, Trigger
from jam.yaml_text import Path, did_you_mean, load_marked, path_text, validate_data

Melody = Literal["chart", "companion", "player", "none"]

LOWEST_BPM, HIGHEST_BPM = TEMPO_BPM
"""Tempi that can be asked for, in quarter notes a minute."""


class Latency(Piece):
    """Milliseconds from sending to hearing."""

    midi_out_ms: LatencyMs = 0.0
    sound_ms: LatencyMs = 0.0


def _pedals() -> dict[str, Trigger]:
    return {"take it": Trigger(control=66), "lay out": Trigger(control=67)}


class SplitAt(Piece):
    """How one keyboard is divided; ``at`` is the lowest MIDI pitch of the upper hand, ``other``
    says whose the side is that is not the line."""

    kind: SplitKind = "off"
    at: Pitch = 60
    other: Literal["comping", "band"] = "comping"


class HeardOn(Piece):
    """The channel of each part, from 1, for a port that carries several; ``any`` tells nothing."""

    line: Channel | Literal["any"] = "any"
    comping: Channel | Literal["any"] = "any"
    band: Channel | Literal["any"] = "any"


class Wiring(Piece):
    """All that a set-up may say; what is left out is as the defaults here say.

    ``tempo`` is in quarter notes a minute. ``rhythm_section`` is the built-in one: ``auto`` lets
    it play with the companion's own clock. ``melody`` says who plays the heads: ``chart`` leaves
    it to the chart.
    """

    about: str = ""
    style: str = "bop"
    chart: str | None = None
    tempo: Annotated[float, Field(ge=LOWEST_BPM, le=HIGHEST_BPM)] | None = None
    clock: Literal["internal", "midi", "taps"] = "internal"
    time: Literal["follow", "hold"] = "follow"
    turns: Annotated[LiveTurnChoice, AsWord] = "4"
    first: Literal["player", "companion"] = "player"
    melody: Melody = "chart"
    rhythm_section: Literal["auto", "on", "off"] = "auto"
    click: OnOff = "off"
    turn_signal: OnOff = "off"
    damper_starts: bool = True
    ports: Ports = Ports()
    parts: Parts = Parts()
    thru: ThruTo = ThruTo()
    sound: Sound = Sound()
    latency: Latency = Latency()
    cues: Cues = Field(default_factory=_pedals)
    level_controls: LevelControls = LevelControls()
    split: SplitAt = SplitAt()
    channels: HeardOn = HeardOn()
    levels: Levels = Levels()

    def cue_map(self) -> dict[tuple[str, int], str]:
        """Return what `jam.core.setup.Setup` takes: message and number to the name of the cue."""
        return {trigger.message: name for name, trigger in self.cues.items()}

    def heard_channels(self) -> tuple[tuple[int, HeardPart], ...]:
        """Return pairs of a channel (0 to 15) and the part that plays on it."""
        named: tuple[tuple[HeardPart, int | Literal["any"]], ...] = (
            ("line", self.channels.line),
            ("comping", self.channels.comping),
            ("band", self.channels.band),
        )
        return tuple((number - 1, part) for part, number in named if number != "any")

    def keyboard_split(self) -> Split:
        """Return the split as the core takes it."""
        split = self.split
        return Split(split.kind, split.at, self.heard_channels(), split.other)


class Config(Wiring):
    """A whole configuration: ``setup`` names the set-up in use when nobody says, if any."""

    setup: str | None = None
    setups: dict[str, dict[str, Any]] = Field(default_factory=dict)

    def named(self, setup: str, asked_by: str = "--setup") -> str:
        """Return a set-up's name as it stands in the file; raises InputError if there is none."""
        known = {plain(name): name for name in self.setups}
        if plain(setup) in known:
            return known[plain(setup)]
        mend = did_you_mean(plain(setup), [*known.values()] or ["none at all"])
        raise InputError(f"{asked_by} {setup}", "there is no such set-up", mend)

    def with_setup(self, setup: str | None) -> Config:
        """Return the configuration as the set-up of that name has it, without the others."""
        if setup is None:
            return self.model_copy(update={"setups": {}})
        name = self.named(setup)
        return Config.model_validate({**self.under(name), "setup": name, "setups": {name: {}}})

    def said_by(self, setup: str | None) -> frozenset[str]:
        """Return the keys (of the outermost level) that a set-up says itself."""
        return frozenset(self.setups[self.named(setup)] if setup is not None else ())

    def under(self, name: str) -> dict[str, Any]:
        """Return the plain values of a set-up, over those that stand outside."""
        outside = self.model_dump(mode="json", exclude={"setup", "setups"})
        return overlaid(outside, self.setups[name])


def plain(name: str) -> str:
    """Let ``Two Hands``, ``two_hands`` and ``two-hands`` be one name."""
    return name.strip().lower().replace("_", " ").replace("-", " ")


def overlaid(outside: Mapping[str, Any], said: Mapping[str, Any]) -> dict[str, Any]:
    """Return ``outside`` with what is ``said`` before it, key by key, a cue as a whole."""
    merged = dict(outside)
    for key, value in said.items():
        before = merged.get(key)
        if key == "cues" and isinstance(before, Mapping) and isinstance(value, Mapping):
            merged[key] = {**before, **{plain(str(cue)): trigger for cue, trigger in value.items()}}
        elif isinstance(before, Mapping) and isinstance(value, Mapping):
            merged[key] = overlaid(before, value)
        else:
            merged[key] = value
    return merged


def load_config(
    text: str,
    source: str,
    *,
    setups: Mapping[str, Any] | None = None,
    learnt: Learnt | None = None,
) -> Config:
    """Return the configuration that ``text`` describes; ``source`` is its name in errors.

    ``setups`` are those that came with the program: they hold where ``text`` has none of the
    name. ``learnt`` are cues that go before those of ``text``. Raises InputError for anything
    that is no configuration or does not fit together.
    """
    data, lines = load_marked(text, source)
    config = validate_data(Config, data, source, lines)
    if learnt is not None:
        config = config.model_copy(update={"cues": learnt.over(config.cues)})
    places = Places(source, lines, learnt)
    refuse_clashes(config, places)
    for name in config.setups:
        _check_setup(config, name, places)
    hidden = {plain(name) for name in config.setups}
    shipped = {name: said for name, said in (setups or {}).items() if plain(name) not in hidden}
    config = config.model_copy(update={"setups": {**shipped, **config.setups}})
    if config.setup is not None:
        _check_usual(config, config.setup, source, lines[("setup",)])
    return config


def refuse_clashes(wiring: Wiring, places: Places, within: str = "") -> None:
    """Raise one InputError for all in ``wiring`` that does not fit together."""
    found = clashes(wiring.cues, wiring.level_controls, wiring.parts, wiring.thru, wiring.ports)
    if found:
        raise places.error(found, within)


def _check_usual(config: Config, setup: str, source: str, line: int) -> None:
    """Raise InputError when the set-up in use is none."""
    try:
        config.named(setup)
    except InputError as error:
        raise InputError(source, f"found {setup!r}", error.mend, line, "setup") from None


def _check_setup(config: Config, name: str, places: Places) -> None:
    """Raise InputError for a set-up that says what none may say, or does not fit together."""
    place: Path = ("setups", name)
    inside = {path[2:]: line for path, line in places.lines.items() if path[:2] == place}
    merged = config.under(name)
    try:
        whole = validate_data(Wiring, merged, places.source, inside)
    except InputError as error:
        field = f"{path_text(place)}.{error.field}" if error.field else path_text(place)
        raise InputError(error.source, error.problem, error.mend, error.line, field) from None
    refuse_clashes(whole, replace(places, lines={**places.lines, **inside}), path_text(place))
