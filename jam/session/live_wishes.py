"""What the I/O process is to open, from the configuration as it is in force.

Channels and programs count from 1 in the configuration and from 0 here, output channels of the
sound device too.
"""

from __future__ import annotations

from jam.events import Part, Port
from jam.players.channels import PROGRAMS
from jam.ports.wishes import AUTO, NONE, PARTS, PartWish, SoundWish, ThruWish, Wishes
from jam.session.clashes import thru_port
from jam.session.config import Wiring
from jam.session.routing import SOUND, Route

_FIRST_PAIR = (0, 1)
_OF_THE_STYLE: tuple[Part, ...] = ("companion", "melody")


def wishes_of(config: Wiring, seed: int, program: int) -> Wishes:
    """Return the wishes of a configuration; ``program`` (from 0) is the reply style's."""
    sliders = {("control", number) for number in config.level_controls.map()}
    return Wishes(
        inputs=inputs_of(config),
        parts=tuple(part_wish(config, part, program) for part in PARTS),
        thru=ThruWish(
            config.thru.to,
            thru_port(config.parts, config.thru, config.ports),
            config.thru.channel - 1,
            config.thru.local_off,
            config.thru.level,
            tuple(sorted({*config.cue_map(), *sliders})),
        ),
        sound=SoundWish(config.sound.device, config.sound.block, config.levels.master, seed),
        midi_system=config.ports.system,
        midi_out_ms=config.latency.midi_out_ms,
        sound_ms=config.latency.sound_ms,
    )


def inputs_of(config: Wiring) -> tuple[tuple[Port, str], ...]:
    """Return the roles that have an input, with its pattern.

    A MIDI clock that nobody has named is looked for on the band's port, or else the player's.
    """
    ports = config.ports
    clock = ports.clock
    if clock == NONE and config.clock == "midi":
        clock = ports.band if ports.band != NONE else ports.player
    wished: tuple[tuple[Port, str], ...] = (
        ("player", ports.player),
        ("band", ports.band),
        ("clock", clock),
        ("cue", ports.cues),
    )
    return tuple((role, pattern) for role, pattern in wished if pattern != NONE)


def part_wish(config: Wiring, part: Part, program: int) -> PartWish:
    """Return where a part goes; ``program`` (from 0) is the reply style's."""
    route = config.parts.route(part)
    usual = program if part in _OF_THE_STYLE else PROGRAMS.get(part)
    wanted = {"auto": usual, "keep": None}
    return PartWish(
        part,
        _port(route, config.ports.out),
        _outputs(route, config.ports.out),
        config.levels.of(part),
        config.parts.channel(part) - 1,
        wanted[route.program] if isinstance(route.program, str) else route.program - 1,
    )


def _port(route: Route, out: str) -> str:
    if route.port != AUTO:
        return route.port
    return NONE if out == SOUND else out


def _outputs(route: Route, out: str) -> tuple[int, int] | None:
    """Return the pair of outputs: one that is named, else the first if no port is named."""
    if isinstance(route.sound, tuple):
        return route.sound[0] - 1, route.sound[1] - 1
    sounds = route.sound == AUTO and route.port == AUTO and out in (AUTO, SOUND)
    return _FIRST_PAIR if sounds else None
