"""Cues of the user's own: listed, learnt by pressing them, assigned outright, forgotten."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter, sleep

from jam.core.setup import CUES
from jam.errors import InputError, PortError
from jam.ports.midi import MidiInput, MidiSystem
from jam.ports.names import is_own, is_through
from jam.session.learnt import learnt_text
from jam.session.press import PressEar
from jam.session.resources import CUES as CUES_FILE
from jam.session.resources import find_config, find_learnt, home_folder
from jam.session.triggers import Trigger, known_cue, trigger_of
from jam.yaml_text import did_you_mean

PATIENCE_SEC = 20.0
POLL_SEC = 0.002
NO_DAMPER = "That was the damper pedal, which stays a damper: press another."

Tell = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class CueLine:
    """A cue, what asks for it (empty: nothing) and the file that says so (empty: none)."""

    name: str
    trigger: str
    source: str


def list_cues(home: Path | None = None) -> list[CueLine]:
    """Return all cues there are, in the order of the core."""
    found, learnt = find_config(home=home), find_learnt(home)
    lines = []
    for name in CUES:
        trigger = found.value.cues.get(name)
        own = learnt is not None and name in learnt.cues
        source = learnt.source if own and learnt is not None else str(found.entry.path)
        lines.append(CueLine(name, str(trigger or ""), source if trigger or own else ""))
    return lines


def cue_named(text: str) -> str:
    """Return the cue of that name; raises InputError with the nearest one."""
    try:
        return known_cue(text)
    except ValueError:
        raise InputError(
            f"cue {text}", "there is no such cue", did_you_mean(text, list(CUES))
        ) from None


def typed_trigger(text: str) -> Trigger:
    """Return the trigger typed after ``--from``; raises InputError with what would do."""
    try:
        return trigger_of(text)
    except ValueError as error:
        problem, _, mend = str(error).partition(": ")
        raise InputError("--from", problem, f"{mend[:1].upper()}{mend[1:]}.") from None


def assign(name: str, trigger: Trigger, home: Path | None = None, *, instead: bool = False) -> str:
    """Let ``trigger`` ask for a cue from now on; return a line for the user.

    Where it asks for another cue already, an InputError says so; ``instead`` takes it away there.
    """
    config = find_config(home=home).value
    controls = config.level_controls.said()
    levels = [part for part, number in controls.items() if trigger.control == number]
    if levels:
        problem = f"{trigger} sets the level of `{levels[0]}`"
        raise InputError(f"cue {name}", problem, "Press another, or change level_controls.")
    others = [cue for cue, has in config.cues.items() if has == trigger and cue != name]
    if others and not instead:
        problem = f"{trigger} asks for `{others[0]}` already"
        mend = f"Press another, or say --instead to take it from `{others[0]}`."
        raise InputError(f"cue {name}", problem, mend)
    changes: dict[str, Trigger | None] = dict.fromkeys(others)
    path = _write({**changes, name: trigger}, home)
    taken = f", and no more for `{others[0]}`" if others else ""
    return f"{trigger} asks for `{name}` from now on{taken}. Kept in {path}"


def forget(name: str, home: Path | None = None) -> str:
    """Let nothing ask for a cue any more; return a line for the user."""
    if find_config(home=home).value.cues.get(name) is None:
        return f"Nothing asks for `{name}`."
    path = _write({name: None}, home)
    return f"Nothing asks for `{name}` any more. Kept in {path}"


def wait_for_press(
    system: MidiSystem,
    tell: Tell,
    *,
    clock: Callable[[], float] = perf_counter,
    rest: Callable[[float], None] = sleep,
) -> Trigger:
    """Listen to every input of ``system`` and return what was pressed.

    Raises PortError when there is no input, or when nothing is pressed for `PATIENCE_SEC`.
    """
    ports = _open_all(system)
    if not ports:
        raise PortError(
            "no MIDI input can be opened",
            'Plug one in, or say it: jam cue "take it" --from note:21',
        )
    try:
        tell(f"Listening to {', '.join(port.name for port in ports)}.")
        tell("Press the key, pedal, pad or program button now.")
        return _listen(ports, tell, clock, rest)
    finally:
        for port in ports:
            port.close()


def _listen(
    ports: Sequence[MidiInput],
    tell: Tell,
    clock: Callable[[], float],
    rest: Callable[[float], None],
) -> Trigger:
    began = clock()
    ear = PressEar(began)
    warned = False
    while clock() < began + PATIENCE_SEC:
        for port in ports:
            for message in port.poll():
                trigger = ear.hear(message.t, message.data)
                if trigger is not None:
                    return trigger
        if ear.damper and not warned:
            warned = True
            tell(NO_DAMPER)
        rest(POLL_SEC)
    mend = "Try again, or say it: jam cue NAME --from control:66"
    raise PortError(f"nothing was pressed for {PATIENCE_SEC:g} s", mend)


def _open_all(system: MidiSystem) -> list[MidiInput]:
    """Open every input that is no other program of ours; one of our own if there is none."""
    ports: list[MidiInput] = []
    for name in system.inputs():
        if not is_through(name) and not is_own(name, "phrase-turns"):
            with suppress(PortError):  # held by another program: the others may do
                ports.append(system.open_input(name))
    if not ports and system.has_virtual:
        ports.append(system.virtual_input("cue"))
    return ports


def _write(changes: dict[str, Trigger | None], home: Path | None) -> Path:
    """Keep changed cues beside those that were learnt before; the file is whole or as it was."""
    path = home_folder(home) / CUES_FILE
    learnt = find_learnt(home)
    before = dict(learnt.cues) if learnt is not None else {}
    fresh = path.with_name(f"{path.name}.{os.getpid()}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        fresh.write_text(learnt_text({**before, **changes}), encoding="utf-8", newline="\n")
        os.replace(fresh, path)
    except OSError as error:
        problem = f"cannot be written ({error.strerror or error})"
        raise InputError(str(path), problem, "Name another folder with --home.") from None
    return path
