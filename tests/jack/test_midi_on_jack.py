"""The MIDI system of RtMidi keeps its laws on a real JACK server, and outlives one."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from time import perf_counter
from typing import Any

import pytest
from midi_laws import MidiLaws, Rig

from jam.errors import PortError
from jam.ports import rtmidi_system
from jam.ports.systems import open_system

from .server import PERIOD_SEC, Server, environment


class Tidy:
    """A MIDI system that closes what was opened through it: servers come and go in these tests."""

    def __init__(self, client: str) -> None:
        self._system = open_system("JACK", client)
        self._ports: list[Any] = []

    def __getattr__(self, name: str) -> Any:
        method = getattr(self._system, name)
        if not name.startswith(("open_", "virtual_")):
            return method

        def opened(port: str) -> Any:
            self._ports.append(method(port))
            return self._ports[-1]

        return opened

    def tidy(self) -> None:
        """Close all."""
        for port in self._ports:
            port.close()
        self._system.close()


@pytest.fixture
def rig(server: Server, monkeypatch: pytest.MonkeyPatch) -> Iterator[Rig]:
    """Two programs on the server, as far as it can tell."""
    for name, value in environment().items():
        monkeypatch.setenv(name, value)
    ours, theirs = Tidy("ours"), Tidy("theirs")
    yield Rig(ours, theirs, PERIOD_SEC)  # type: ignore[arg-type]
    theirs.tidy()
    ours.tidy()


class TestOnJack(MidiLaws):
    """All of them."""


def test_a_server_that_dies_is_noticed_and_a_new_one_is_met(
    server: Server, rig: Rig, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Within 2 s nothing is listed and every port is lost; then all works on another server."""
    monkeypatch.setattr(rtmidi_system, "RETRY_SEC", 0.2)
    keys = rig.theirs.virtual_output("keys")
    ports = [rig.ours.open_input(rig.heard("keys")), rig.ours.virtual_input("player")]
    server.process.kill()
    died = perf_counter()
    rig.until(lambda: not rig.ours.inputs())
    assert perf_counter() - died < 2.0
    for port in ports:
        with pytest.raises(PortError):
            port.poll()
        port.close()
    rig.until(lambda: not rig.theirs.outputs())
    with pytest.raises(PortError):
        keys.send((0x90, 60, 1))
    server.stop()
    again = Server(tmp_path)
    try:
        rig.until(lambda: _is_back(rig))
        port, send = rig.connected()
        send((0x90, 61, 1))
        assert [data for _, data in rig.gather(port, 1)] == [(0x90, 61, 1)]
    finally:
        for system in (rig.theirs, rig.ours):
            system.tidy()  # type: ignore[attr-defined]
        again.stop()


def _is_back(rig: Rig) -> bool:
    rig.theirs.outputs()
    try:
        probe = rig.theirs.virtual_output("probe")
    except PortError:
        return False
    seen = any("probe" in name for name in rig.ours.inputs())
    probe.close()
    return seen
