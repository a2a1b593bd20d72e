"""The two Python bindings of RtMidi behind one: python-rtmidi below Python 3.13, else supriya-midi.

They differ in the names of their systems and lists and agree in the rest, so what they make is
used as it is (`RawIn`, `RawOut`). Both raise classes of their own; callers catch ``Exception``.
Nothing native is imported before `load` is called.
"""

from __future__ import annotations

import ctypes
import importlib
import sys
from collections.abc import Sequence
from typing import Any, Protocol

from jam.errors import PortError

CONSTANTS = {
    "CoreMIDI": "MACOSX_CORE",
    "Windows MM": "WINDOWS_MM",
    "ALSA": "LINUX_ALSA",
    "JACK": "UNIX_JACK",
}
"""Our names of the MIDI systems, and RtMidi's."""

QUEUE_MESSAGES = 16_384
"""What an input holds that is not read: 4 s of 4,000 messages a second."""

APT_MEND = "sudo apt install libportaudio2"
"""On Debian and Ubuntu this brings PortAudio, and with it the ALSA and JACK libraries."""


class Raw(Protocol):
    """What inputs and outputs of both bindings have."""

    def get_ports(self) -> list[str]:
        """Return the names of the ports that can be opened."""

    def open_port(self, port: int, name: str) -> object:
        """Connect to the port of that place in the list, under a name of our own."""

    def open_virtual_port(self, name: str) -> object:
        """Make a port that others connect to."""

    def close_port(self) -> None:
        """Let the port go; the client stays."""

    def delete(self) -> None:
        """Let the client go."""


class RawIn(Raw, Protocol):
    """An input: messages come with their delta in seconds."""

    def get_message(self) -> tuple[list[int], float] | None:
        """Return the next message and its delta, None when there is none."""


class RawOut(Raw, Protocol):
    """An output."""

    def send_message(self, message: Sequence[int]) -> None:
        """Send one whole message now."""


class Binding:
    """A binding that is loaded. ``module`` is its Python module."""

    def __init__(self, module: Any) -> None:
        self._module = module

    def has(self, system: str) -> bool:
        """Return whether the binding was built with that MIDI system."""
        return self._api(system) in self._compiled()

    def make_in(self, system: str, client: str) -> RawIn:
        """Make a client that can listen; clock ticks come through, SysEx and sensing do not."""
        raw = self._module.MidiIn(self._api(system), client, QUEUE_MESSAGES)
        raw.ignore_types(sysex=True, timing=False, active_sense=True)
        return raw  # type: ignore[no-any-return]

    def make_out(self, system: str, client: str) -> RawOut:
        """Make a client that can send."""
        return self._module.MidiOut(self._api(system), client)  # type: ignore[no-any-return]

    def _api(self, system: str) -> Any:
        raise NotImplementedError

    def _compiled(self) -> Sequence[Any]:
        raise NotImplementedError


class PythonRtMidi(Binding):
    """python-rtmidi, module ``rtmidi``: numbers stand for the systems."""

    def _api(self, system: str) -> Any:
        return getattr(self._module, f"API_{CONSTANTS[system]}")

    def _compiled(self) -> Sequence[Any]:
        return list(self._module.get_compiled_api())


class SupriyaMidi(Binding):
    """supriya-midi, module ``supriya_midi``: an enumeration stands for the systems."""

    def _api(self, system: str) -> Any:
        return self._module.RtMidiAPI[CONSTANTS[system]]

    def _compiled(self) -> Sequence[Any]:
        return list(self._module.get_compiled_apis())


def load() -> Binding:
    """Import the binding for this Python; a PortError tells why that is not possible."""
    if sys.version_info < (3, 13):
        return PythonRtMidi(_import("rtmidi", "python-rtmidi", "get_compiled_api"))
    return SupriyaMidi(_import("supriya_midi", "supriya-midi", "get_compiled_apis"))


def _import(name: str, package: str, mark: str) -> Any:
    _prefer_jack_of_the_system()
    try:
        module = importlib.import_module(name)
    except Exception as error:
        reason = " ".join(str(error).split())
        raise PortError(f"{package} does not load: {reason}", _mend(package, reason)) from None
    if not hasattr(module, "MidiIn") or not hasattr(module, mark):
        mend = f"pip uninstall {name}, then pip install {package}"
        raise PortError(f"another package than {package} is called {name}", mend)
    return module


def _mend(package: str, reason: str) -> str:
    missing_library = ".so" in reason and sys.platform.startswith("linux")
    return APT_MEND if missing_library else f"pip install {package}"


def _prefer_jack_of_the_system() -> None:
    """Load the system's JACK library first, where there is one.

    The bindings bring a copy of their own, which need not speak the protocol of the server that
    runs here: supriya-midi's is JACK 1 and cannot talk to JACK 2. What is loaded first, and for
    all, is what both use.
    """
    if sys.platform.startswith("linux"):
        try:
            ctypes.CDLL("libjack.so.0", mode=ctypes.RTLD_GLOBAL)
        except OSError:
            return
