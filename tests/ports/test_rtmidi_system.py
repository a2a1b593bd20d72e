"""Both bindings behind one system: the laws hold with made-up modules in the manner of each."""

from __future__ import annotations

import enum
import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field
from time import perf_counter
from types import SimpleNamespace
from typing import Any

import pytest
from midi_laws import MidiLaws, Rig

from jam.errors import PortError
from jam.ports.bindings import QUEUE_MESSAGES, Binding, PythonRtMidi, SupriyaMidi
from jam.ports.rtmidi_system import RtMidiSystem


@dataclass(eq=False)
class Jack:
    """A port of the made-up machine; messages with their moment wait in ``queue``."""

    name: str
    hears: bool
    queue: list[tuple[float, list[int]]] = field(default_factory=list)
    to: list[Jack] = field(default_factory=list)


class World:
    """The ports of a made-up machine, named as ALSA does, or as Windows does."""

    def __init__(self, *, numbered: bool = False) -> None:
        self.jacks: list[Jack] = []
        self.numbered = numbered
        self.client = itertools.count(128)

    def side(self, *, hears: bool) -> list[Jack]:
        return [jack for jack in self.jacks if jack.hears is hears]

    def module(self, *, supriya: bool) -> Any:
        """Return what ``import`` would: only what the binding in question has, in its manner."""
        world = self

        class MidiIn(Raw):
            def __init__(self, api: int, client: str, queue_size: int) -> None:
                super().__init__(world, client, hears=True)
                assert queue_size == QUEUE_MESSAGES

            def ignore_types(self, sysex: bool, timing: bool, active_sense: bool) -> None:
                self.ignored = sysex * [0xF0] + timing * [0xF8, 0xF1] + active_sense * [0xFE]

        class MidiOut(Raw):
            def __init__(self, api: int, client: str) -> None:
                super().__init__(world, client, hears=False)

        if supriya:
            apis = enum.IntEnum("RtMidiAPI", {"LINUX_ALSA": 2, "WINDOWS_MM": 4})
            return SimpleNamespace(
                MidiIn=MidiIn, MidiOut=MidiOut, RtMidiAPI=apis, get_compiled_apis=lambda: list(apis)
            )
        return SimpleNamespace(
            MidiIn=MidiIn,
            MidiOut=MidiOut,
            API_LINUX_ALSA=2,
            API_WINDOWS_MM=4,
            API_UNIX_JACK=3,
            get_compiled_api=lambda: [2, 4],
        )


class Raw:
    """An input or an output of either binding."""

    def __init__(self, world: World, client: str, *, hears: bool) -> None:
        self._world = world
        self._client = client
        self._hears = hears
        self._jack: Jack | None = None
        self._last = 0.0
        self.ignored: list[int] = []

    def get_ports(self) -> list[str]:
        names = [jack.name for jack in self._world.side(hears=not self._hears)]
        if self._world.numbered:
            return [f"{name} {i}" for i, name in enumerate(names)]
        return names

    def open_virtual_port(self, name: str) -> None:
        number = next(self._world.client)
        self._jack = Jack(f"{self._client}:{name} {number}:0", self._hears)
        self._world.jacks.append(self._jack)

    def open_port(self, port: int, name: str) -> None:
        other = self._world.side(hears=not self._hears)[port]
        if "busy" in other.name:
            raise RuntimeError("error creating the port.")
        self.open_virtual_port(name)
        assert self._jack is not None
        speaker, hearer = (other, self._jack) if self._hears else (self._jack, other)
        speaker.to.append(hearer)

    def send_message(self, message: Sequence[int]) -> None:
        assert self._jack is not None
        for jack in self._jack.to:
            jack.queue.append((perf_counter(), list(message)))

    def get_message(self) -> tuple[list[int], float] | None:
        assert self._jack is not None
        while self._jack.queue:
            at, data = self._jack.queue.pop(0)
            if data[0] in self.ignored:
                continue
            delta, self._last = at - self._last if self._last else 0.0, at
            return data, delta
        return None

    def close_port(self) -> None:
        for jack in self._world.jacks:
            jack.to = [other for other in jack.to if other is not self._jack]
        self._world.jacks = [jack for jack in self._world.jacks if jack is not self._jack]

    def delete(self) -> None:
        self._jack = None


BINDINGS = {"python-rtmidi": False, "supriya-midi": True}


def binding(world: World, *, supriya: bool = True) -> Binding:
    module = world.module(supriya=supriya)
    return SupriyaMidi(module) if supriya else PythonRtMidi(module)


@pytest.fixture(params=BINDINGS)
def rig(request: pytest.FixtureRequest) -> Rig:
    """Two programs on one made-up machine."""
    bound = binding(World(), supriya=BINDINGS[request.param])
    return Rig(RtMidiSystem(bound, "ALSA", "ours"), RtMidiSystem(bound, "ALSA", "theirs"), 0.0)


class TestThroughBindings(MidiLaws):
    """All of them, with either binding."""


@pytest.mark.parametrize("supriya", [False, True])
def test_what_a_binding_was_built_with(supriya: bool) -> None:
    """Each is asked in its own manner."""
    bound = binding(World(), supriya=supriya)
    assert bound.has("ALSA")
    if not supriya:
        assert not bound.has("JACK")


def test_numbers_of_windows_are_hidden_where_names_suffice() -> None:
    """RtMidi ends names there with the place in the list, which changes with every re-plug; two
    ports of one name keep theirs (its source code, from memory)."""
    world = World(numbered=True)
    for name in ("Keys 49", "Twin", "Twin"):
        world.jacks.append(Jack(name, hears=False))
    system = RtMidiSystem(binding(world), "Windows MM", "ours")
    assert system.inputs() == ["Keys 49", "Twin 1", "Twin 2"]
    assert system.open_input("Keys 49").name == "Keys 49"
    assert not system.has_virtual
    with pytest.raises(PortError) as caught:
        system.virtual_output("companion")
    assert "loop-back" in caught.value.mend


def test_a_port_that_another_program_holds_is_told_in_words() -> None:
    """The driver's reason, and what mends it; nothing of ours stays behind."""
    world = World()
    world.jacks.append(Jack("busy keys", hears=False))
    system = RtMidiSystem(binding(world), "ALSA", "ours")
    with pytest.raises(PortError) as caught:
        system.open_input("busy keys")
    assert "error creating the port" in caught.value.problem
    assert "Another program" in caught.value.mend
    assert len(world.jacks) == 1


def test_a_send_that_fails_is_a_port_error(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever class the driver raises."""
    system = RtMidiSystem(binding(World()), "ALSA", "ours")
    port = system.virtual_output("companion")

    def fail(*_: object) -> None:
        raise OSError("no such device")

    monkeypatch.setattr(Raw, "send_message", fail)
    with pytest.raises(PortError, match="no such device"):
        port.send((0x90, 60, 1))


def test_a_port_that_goes_while_the_list_is_read_spoils_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The list is read again."""
    world = World()
    world.jacks.append(Jack("keys", hears=False))
    system = RtMidiSystem(binding(world), "ALSA", "ours")
    once = [RuntimeError("invalid port number")]
    read = Raw.get_ports

    def stumble(raw: Raw) -> list[str]:
        if once:
            raise once.pop()
        return read(raw)

    monkeypatch.setattr(Raw, "get_ports", stumble)
    assert system.inputs() == ["keys"]
