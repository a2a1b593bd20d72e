"""What does not fit together in a configuration: two things that want the same message.

A press must mean one thing: a cue's note, controller or program is its own, and no controller
sets a level as well. The player's keys, passed on, must not share a channel of a port with a part
of ours: the player's damper pedal would hold the companion's notes (MIDI 1.0: a controller holds
for its whole channel).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from jam.errors import InputError
from jam.ports.wishes import AUTO, NONE, PARTS, VIRTUAL
from jam.session.routing import SOUND, LevelControls, Parts, Ports, ThruTo
from jam.session.triggers import Message, Trigger, described
from jam.yaml_text import Lines, Path, path_text


@dataclass(frozen=True, slots=True)
class Clash:
    """``path`` is the key to mend; ``problem`` and ``mend`` are words for the user."""

    path: tuple[str, ...]
    problem: str
    mend: str


@dataclass(frozen=True, slots=True)
class Learnt:
    """The cues that were learnt by pressing them; None is the trigger of one that has none."""

    source: str
    cues: Mapping[str, Trigger | None]
    lines: Mapping[str, int]

    def over(self, cues: Mapping[str, Trigger]) -> dict[str, Trigger]:
        """Return ``cues`` with those learnt before them."""
        merged = {**cues, **self.cues}
        return {name: trigger for name, trigger in merged.items() if trigger is not None}


@dataclass(frozen=True, slots=True)
class Places:
    """Where the keys of a configuration stand: its own lines, and the file of learnt cues."""

    source: str
    lines: Lines
    learnt: Learnt | None = None

    def of(self, path: Path) -> tuple[str, int]:
        """Return file and line of a key, or of the nearest one above it."""
        learnt = self.learnt
        if learnt is not None and path[0] == "cues" and str(path[-1]) in learnt.lines:
            return learnt.source, learnt.lines[str(path[-1])]
        while path not in self.lines:
            path = path[:-1]
        return self.source, self.lines[path]

    def error(self, found: Sequence[Clash], within: str = "") -> InputError:
        """Return one error for all that was found; ``within`` is the path of the set-up."""
        first, *others = found
        source, line = self.of(first.path)
        mend = first.mend
        for other in others:
            place, row = self.of(other.path)
            mend += f" {f'Line {row}' if place == source else f'{place}:{row}'}: {other.problem}."
        field = path_text(first.path)
        if within and source == self.source:
            field = f"{within}.{field}"
        return InputError(source, first.problem, mend, line, field)


def clashes(
    cues: Mapping[str, Trigger], controls: LevelControls, parts: Parts, thru: ThruTo, ports: Ports
) -> list[Clash]:
    """Return all that does not fit together, in the order in which a reader meets it."""
    return [*shared_triggers(cues, controls), *_shared_channels(parts, thru, ports)]


def shared_triggers(cues: Mapping[str, Trigger], controls: LevelControls) -> Iterator[Clash]:
    """Yield every cue and level control that wants a message somebody before it has."""
    taken: dict[Message, str] = {}
    wanted: list[tuple[tuple[str, ...], Message, str]] = [
        (("cues", name), trigger.message, f"the cue `{name}`") for name, trigger in cues.items()
    ]
    wanted += [
        (("level_controls", name), ("control", number), f"the level of `{name}`")
        for name, number in controls.said().items()
    ]
    for path, message, who in wanted:
        if message in taken:
            problem = f"{described(message)} is for {taken[message]} already, and here for {who}"
            yield Clash(path, problem, "Give each one of its own.")
        taken.setdefault(message, who)


def midi_port(said: str, ports: Ports) -> str:
    """Return the MIDI port (a pattern) of something whose own port is ``said``."""
    port = ports.out if said == AUTO else said
    return NONE if port == SOUND else port


def _shared_channels(parts: Parts, thru: ThruTo, ports: Ports) -> Iterator[Clash]:
    if thru.to not in ("midi", "both"):
        return
    port = thru_port(parts, thru, ports)
    for part in PARTS:
        same = midi_port(parts.route(part).port, ports).lower() == port.lower() != NONE
        if same and parts.channel(part) == thru.channel:
            where = {AUTO: "the same port", VIRTUAL: "our own port"}.get(port, f"port {port}")
            problem = (
                f"your keys and the part `{part}` would share channel {thru.channel} of {where}:"
                " your damper pedal would hold its notes"
            )
            used = {parts.channel(other) for other in PARTS}
            free = next(number for number in range(1, 17) if number not in used)
            yield Clash(("thru", "channel"), problem, f"Channel {free} is free.")


def thru_port(parts: Parts, thru: ThruTo, ports: Ports) -> str:
    """Return the MIDI port (a pattern) that the player's own keys are passed on to."""
    said = thru.port if thru.port != AUTO else parts.route("companion").port
    return midi_port(said, ports)
