"""The MIDI ports and sound devices of this machine, and what the configuration makes of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from jam.errors import JamError, PortError
from jam.ports.names import find, first, is_own
from jam.ports.quiet import quiet
from jam.ports.systems import open_system
from jam.ports.wishes import AUTO, NONE, VIRTUAL, PartWish, Wishes
from jam.session.config import Config
from jam.session.live_wishes import wishes_of
from jam.session.resources import find_config
from jam.session.sound_devices import sound_outputs


@dataclass(frozen=True, slots=True)
class Machine:
    """What is there. ``system`` is empty where there is no MIDI; ``troubles`` say why."""

    system: str = ""
    has_virtual: bool = False
    inputs: tuple[str, ...] = ()
    outputs: tuple[str, ...] = ()
    devices: tuple[str, ...] = ()
    troubles: tuple[str, ...] = ()


def look(wanted: str = AUTO) -> Machine:
    """Return what is there; whatever fails is one of the troubles, with its mend."""
    machine = Machine()
    troubles = []
    try:
        with quiet():
            midi = open_system(wanted)
            try:
                machine = Machine(
                    midi.name, midi.has_virtual, tuple(midi.inputs()), tuple(midi.outputs())
                )
            finally:
                midi.close()
    except JamError as error:
        troubles.append(f"MIDI: {error}")
    try:
        machine = replace(machine, devices=tuple(sound_outputs()))
    except PortError as error:
        troubles.append(f"sound: {error}")
    return replace(machine, troubles=tuple(troubles))


def ports_text(home: Path | None = None, setup: str | None = None) -> str:
    """Return all of it in plain lines; ``setup`` names a set-up other than the usual one."""
    config = find_config(home=home).value
    config = config.with_setup(setup if setup is not None else config.setup)
    machine = look(config.ports.system)
    return "\n".join(_lines(machine, config))


def _lines(machine: Machine, config: Config) -> Iterator[str]:
    yield from machine.troubles
    if machine.system:
        own = "can be made" if machine.has_virtual else "cannot be made"
        yield f"MIDI system: {machine.system}; ports of our own (virtual) {own}"
        yield from _listed("in:", machine.inputs)
        yield from _listed("out:", machine.outputs)
    yield from _listed("sound:", machine.devices)
    wishes = wishes_of(config, 0, 0)
    named = f" with the set-up `{config.setup}`" if config.setup else ""
    yield f"What the configuration makes of it{named}:"
    for role, pattern in wishes.inputs:
        word = "cues" if role == "cue" else role
        yield f"  {word:<10} {_meant(pattern, machine.inputs, machine, wishes.name, role)}"
    for part in wishes.parts:
        yield f"  {part.part:<10} {_goes(part, machine, wishes)}"
    if wishes.thru.to != "off":
        yield f"  your keys  passed on to {wishes.thru.to}, channel {wishes.thru.channel + 1}"


def _listed(head: str, names: Sequence[str]) -> Iterator[str]:
    for number, name in enumerate(names or ("none",)):
        yield f"  {'' if number else head:<7}{name}"


def _meant(pattern: str, names: Sequence[str], machine: Machine, client: str, role: str) -> str:
    if pattern == VIRTUAL:
        return _own(client, role, machine)
    try:
        if pattern == AUTO:
            name = first(names, client)
        else:
            name = find(pattern, [name for name in names if not is_own(name, client)])
    except PortError as error:
        return str(error)
    if name is not None:
        return name if pattern == AUTO else f"{name} (`{pattern}`)"
    if pattern == AUTO and machine.system:
        return f"{_own(client, role, machine)}, until a port is there"
    return f"nothing that fits `{pattern}` is there: it is taken when it is"


def _own(client: str, role: str, machine: Machine) -> str:
    if not machine.has_virtual:
        return "nothing: this system has no ports of our own"
    return f"a port of our own, {client}:{role}"


def _goes(part: PartWish, machine: Machine, wishes: Wishes) -> str:
    sounds = part.sound is not None and bool(machine.devices)
    places = []
    if sounds and part.sound is not None:
        left, right = part.sound
        places.append(f"built-in sound, outputs {left + 1} and {right + 1}")
    if part.port not in (NONE, AUTO) or (part.port == AUTO and not sounds):
        channel = f", channel {part.channel + 1}" if part.channel is not None else ""
        outputs = machine.outputs
        if part.port == AUTO and first(outputs, wishes.name) is None:
            places.append("nothing yet: neither sound nor a MIDI output is there")
        else:
            name = _meant(part.port, outputs, machine, wishes.name, "out")
            places.append(f"{name}{channel}")
    elif part.sound is not None and not sounds:
        places.append("nothing: there is no sound device")
    return " and ".join(places) or "nowhere"
