"""Which MIDI system to use, and in words why not if it cannot be used.

``auto`` is CoreMIDI on macOS, Windows MM on Windows; on Linux ALSA, and JACK only if that fails,
so that nobody meets a server he did not ask for. A server is never started by us.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from time import perf_counter

from jam.errors import PortError
from jam.ports.bindings import APT_MEND, Binding, load
from jam.ports.memory_midi import MemoryMidi, PatchBay
from jam.ports.midi import MidiSystem
from jam.ports.quiet import NO_START
from jam.ports.rtmidi_system import RtMidiSystem
from jam.ports.wishes import AUTO, NONE

__all__ = ["APT_MEND", "SYSTEMS", "open_system", "port_mend"]

SYSTEMS = {"darwin": ("CoreMIDI",), "win32": ("Windows MM",), "linux": ("ALSA", "JACK")}
"""What is tried, in this order, by ``sys.platform``."""

MEMORY = "memory"

SEQUENCER = Path("/dev/snd/seq")
"""The kernel's MIDI sequencer, which ALSA needs."""

_LIBRARY_MISSING = "not part of this build"


def open_system(wanted: str = AUTO, client: str = "phrase-turns") -> MidiSystem:
    """Open the MIDI system wished for; ``client`` is what other programs see us as.

    ``memory`` is a patch bay with nothing plugged in, ``none`` a system without any ports. A
    PortError tells of each system tried why it cannot be used, and the one command that mends it.
    """
    os.environ[NO_START] = "1"
    if wanted == NONE:
        return MemoryMidi(PatchBay(perf_counter), client, name=NONE, has_virtual=False)
    if wanted == MEMORY:
        return MemoryMidi(PatchBay(perf_counter), client)
    names = _tried(wanted)
    binding = load()
    problems = []
    for name in names:
        try:
            return _open(binding, name, client)
        except PortError as error:
            problems.append(error.problem)
    raise PortError("; ".join(problems), port_mend(names[0]))


def port_mend(system: str) -> str:
    """Return the one thing that most likely mends a MIDI system that cannot be used."""
    if system == "JACK":
        return "Start the JACK server: jackd -d alsa"
    if system == "ALSA" and SEQUENCER.exists():
        return 'sudo usermod -aG audio "$USER" (then log in again)'
    if system == "ALSA":
        return "sudo modprobe snd-seq"
    return "Close other programs that hold the MIDI ports."


def _tried(wanted: str) -> tuple[str, ...]:
    here = SYSTEMS.get(sys.platform, SYSTEMS["linux"])
    if wanted == AUTO:
        return here
    named = tuple(name for name in here if name.casefold() == wanted.casefold())
    if not named:
        choice = ", ".join((AUTO, *here, MEMORY, NONE))
        raise PortError(f'there is no MIDI system "{wanted}" here', f"Choose one of: {choice}.")
    return named


def _open(binding: Binding, name: str, client: str) -> MidiSystem:
    if not binding.has(name):
        raise PortError(f"{name}: {_LIBRARY_MISSING}")
    try:
        return RtMidiSystem(binding, name, client)
    except PortError as error:
        raise PortError(_plainly(name, error.problem)) from None


def _plainly(name: str, problem: str) -> str:
    """Return the driver's words for what is met most, in ours."""
    if "ALSA sequencer" in problem and SEQUENCER.exists():
        return f"{name}: {SEQUENCER} may not be opened by you"
    if "ALSA sequencer" in problem:
        return f"{name}: the kernel's MIDI sequencer is not there"
    if "server not running" in problem:
        return f"{name}: no JACK server is running"
    return problem
