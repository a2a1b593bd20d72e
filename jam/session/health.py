"""What works on this machine, what is missing, and the one thing that mends it.

Nothing native is imported before it is asked for, and any exception of a driver is an answer, not
a fault: a MIDI or sound library may raise classes of its own. On Linux ALSA is tried first, then
JACK, without starting a server that nobody asked for.
"""

from __future__ import annotations

import importlib
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from jam.errors import JamError
from jam.session.resources import (
    CONFIG,
    asked_style,
    data_folder,
    find_config,
    home_folder,
    list_charts,
    list_styles,
)

APT_MEND = "sudo apt install libportaudio2"
"""On Debian and Ubuntu this brings PortAudio, and with it the ALSA and JACK libraries."""


SYSTEMS = {"darwin": ("CoreMIDI",), "win32": ("Windows MM",), "linux": ("ALSA", "JACK")}
API_NAMES = {
    "CoreMIDI": "MACOSX_CORE",
    "Windows MM": "WINDOWS_MM",
    "ALSA": "LINUX_ALSA",
    "JACK": "UNIX_JACK",
}


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing looked at: ``good`` or not, what was found, what mends it (empty if good)."""

    what: str
    good: bool
    found: str
    mend: str = ""


def examine(home: Path | None = None) -> list[Finding]:
    """Return all findings, in the order in which a reader wants them."""
    looks: tuple[tuple[str, Callable[[], Finding]], ...] = (
        ("Python", python),
        ("styles and charts", lambda: data(home)),
        ("configuration", lambda: configuration(home)),
        ("your own folder", lambda: own_folder(home)),
        ("MIDI", midi),
        ("sound", sound),
    )
    return [_look(what, look) for what, look in looks]


def python() -> Finding:
    """Return the version and where it lives."""
    version = ".".join(map(str, sys.version_info[:3]))
    return Finding("Python", True, f"{version} on {sys.platform}, {sys.prefix}")


def data(home: Path | None = None) -> Finding:
    """Return how many styles and charts there are and where those built in lie."""
    counts = []
    for word, entries in (("styles", list_styles(home)), ("charts", list_charts(home))):
        own = sum(entry.origin == "your own" for entry in entries)
        counts.append(f"{len(entries) - own} {word} built in, {own} of your own")
        if own == len(entries):
            mend = "Install the program again."
            return Finding("styles and charts", False, f"no {word} in {data_folder()}", mend)
    return Finding("styles and charts", True, f"{'; '.join(counts)}; in {data_folder()}")


def configuration(home: Path | None = None) -> Finding:
    """Return which configuration is in force, and whether it can be read."""
    try:
        found = find_config(home=home)
        asked_style(None, found, home)
    except JamError as error:
        return Finding("configuration", False, str(error), "Mend that file, or move it away.")
    return Finding("configuration", True, f"{found.entry.origin}: {found.entry.path}")


def own_folder(home: Path | None = None) -> Finding:
    """Return whether the user's own folder can be written to, or made."""
    folder = home_folder(home)
    place = folder
    while not place.exists() and place != place.parent:
        place = place.parent
    if not place.is_dir() or not os.access(place, os.W_OK):
        mend = "Name another folder with --home or JAM_HOME."
        return Finding("your own folder", False, f"{folder} cannot be written to", mend)
    state = "" if folder.exists() else " (not there yet: make it when you need it)"
    found = f"{folder}{state}; styles/, config/charts/ and {CONFIG} in it are found"
    return Finding("your own folder", True, found)


def midi() -> Finding:
    """Return the MIDI ports of the first system that answers."""
    name = "rtmidi" if sys.version_info < (3, 13) else "supriya_midi"
    package = {"rtmidi": "python-rtmidi", "supriya_midi": "supriya-midi"}[name]
    try:
        module = importlib.import_module(name)
    except Exception as error:
        return Finding("MIDI", False, f"{name} does not load: {_reason(error)}", _library_mend())
    if not hasattr(module, "MidiIn") or not _compiled(module):
        mend = f"pip uninstall {name}, then pip install {package}"
        return Finding("MIDI", False, f"another package than {package} is called {name}", mend)
    reasons = []
    for system in SYSTEMS.get(sys.platform, SYSTEMS["linux"]):
        try:
            heard, played = _ports(module, system)
        except Exception as error:
            reasons.append(f"{system}: {_reason(error)}")
            continue
        found = f"{system}; in: {_names(heard)}; out: {_names(played)}"
        return Finding("MIDI", True, found)
    return Finding("MIDI", False, "; ".join(reasons), _port_mend())


def sound() -> Finding:
    """Return the sound devices that can play."""
    try:
        with _quiet():
            devices = list(importlib.import_module("sounddevice").query_devices())
    except Exception as error:
        return Finding("sound", False, _reason(error), _library_mend())
    outputs = [str(d["name"]) for d in devices if d["max_output_channels"] > 0]
    if not outputs:
        mend = "Connect a sound device or start a JACK server; sound files work without."
        return Finding("sound", False, "PortAudio loads, but there is no sound device", mend)
    return Finding("sound", True, f"out: {_names(outputs)}")


def _look(what: str, look: Callable[[], Finding]) -> Finding:
    try:
        return look()
    except Exception as error:
        return Finding(what, False, _reason(error), "Tell the developers, with this line.")


def _api(module: Any, system: str) -> Any:
    name = API_NAMES[system]
    return (
        module.RtMidiAPI[name] if hasattr(module, "RtMidiAPI") else getattr(module, f"API_{name}")
    )


def _compiled(module: Any) -> list[Any]:
    listed = getattr(module, "get_compiled_apis", None) or getattr(module, "get_compiled_api", None)
    return list(listed()) if listed is not None else []


def _ports(module: Any, system: str) -> tuple[list[str], list[str]]:
    api = _api(module, system)
    if api not in _compiled(module):
        raise RuntimeError("not part of this build")
    with _quiet():
        return list(module.MidiIn(api).get_ports()), list(module.MidiOut(api).get_ports())


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep what the drivers print from C off the screen, and let no JACK server be started."""
    before = os.environ.get("JACK_NO_START_SERVER")
    os.environ["JACK_NO_START_SERVER"] = "1"
    sys.stderr.flush()
    kept = os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 2)
    try:
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)
        if before is None:
            del os.environ["JACK_NO_START_SERVER"]
        else:
            os.environ["JACK_NO_START_SERVER"] = before


def _reason(error: BaseException) -> str:
    return " ".join(str(error).split()) or type(error).__name__


def _names(names: list[str]) -> str:
    return ", ".join(names) if names else "none"


def _library_mend() -> str:
    return APT_MEND if sys.platform.startswith("linux") else "Install the program again."


def _port_mend() -> str:
    if sys.platform.startswith("linux"):
        return "sudo modprobe snd-seq (or start a JACK server); renders work without."
    return "Close other programs that hold the MIDI ports; renders work without."
