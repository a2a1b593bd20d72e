"""The patch bay in memory keeps the laws of a MIDI system, and what only it can be asked."""

from __future__ import annotations

from time import perf_counter

import pytest
from midi_laws import MidiLaws, Rig

from jam.errors import PortError
from jam.ports.memory_midi import MemoryMidi, PatchBay
from jam.ports.midi import Stamped


@pytest.fixture
def rig() -> Rig:
    """Two programs on one bay, whose messages take no time."""
    bay = PatchBay(perf_counter)
    return Rig(MemoryMidi(bay, "ours"), MemoryMidi(bay, "theirs"), 0.0)


class TestInMemory(MidiLaws):
    """All of them."""


def test_its_time_is_set_by_hand() -> None:
    """A message is dated with the time of the bay, which never goes back."""
    bay = PatchBay()
    keys = bay.plug_source("Stage Keys")
    port = MemoryMidi(bay).open_input("Stage Keys")
    bay.advance_to(2.5)
    keys.send((0x90, 60, 1))
    bay.advance_to(1.0)
    keys.send((0x80, 60, 0))
    assert port.poll() == [Stamped(2.5, (0x90, 60, 1)), Stamped(2.5, (0x80, 60, 0))]


def test_sending_to_what_was_pulled_is_an_error() -> None:
    """Here, unlike in reality, an output notices at once; put back, it has to be opened again."""
    bay = PatchBay()
    midi = MemoryMidi(bay)
    bay.plug_sink("Module")
    old = midi.open_output("Module")
    bay.pull("Module")
    module = bay.plug_sink("Module")
    with pytest.raises(PortError):
        old.send((0x90, 60, 1))
    midi.open_output("Module").send((0x90, 61, 1))
    assert [data for _, data in module.poll()] == [(0x90, 61, 1)]


def test_a_system_that_dies_takes_every_port_with_it() -> None:
    """Nothing is listed, every open port raises, and after a restart all is to be opened anew."""
    bay = PatchBay()
    midi = MemoryMidi(bay)
    bay.plug_source("Keys")
    bay.plug_sink("Module")
    inputs = [midi.open_input("Keys"), midi.virtual_input("player")]
    outputs = [midi.open_output("Module"), midi.virtual_output("companion")]
    bay.fail()
    assert midi.inputs() == midi.outputs() == []
    for port in inputs:
        with pytest.raises(PortError):
            port.poll()
    for out in outputs:
        with pytest.raises(PortError):
            out.send((0x90, 60, 1))
    with pytest.raises(PortError):
        midi.virtual_input("player")
    bay.restore()
    bay.plug_source("Keys").send((0x90, 60, 1))
    assert midi.inputs() == ["Keys"]
    assert midi.virtual_input("player").poll() == []
