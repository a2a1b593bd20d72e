"""What works on this machine, what is missing, and the one thing that mends it.

Nothing native is imported before it is asked for, and any exception of a driver is an answer, not
a fault: a MIDI or sound library may raise classes of its own. On Linux ALSA is tried first, then
JACK, without starting a server that nobody asked for.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from jam.errors import JamError, PortError
from jam.ports.priority import FIFO_PRIORITY
from jam.ports.quiet import quiet
from jam.ports.systems import open_system
from jam.ports.wishes import AUTO
from jam.session.idioms import find_usable_style
from jam.session.resources import (
    CONFIG,
    Entry,
    asked_style,
    data_folder,
    find_config,
    home_folder,
    list_charts,
    list_styles,
    read_chart,
)
from jam.session.sound_devices import sound_outputs

LIMITS = Path("/etc/security/limits.d/audio.conf")
"""Where Debian and others look for who may ask for real-time priority."""


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
        ("your keys", lambda: doubled(home)),
        ("priority", priority),
    )
    return [_look(what, look) for what, look in looks]


def python() -> Finding:
    """Return the version and where it lives."""
    version = ".".join(map(str, sys.version_info[:3]))
    return Finding("Python", True, f"{version} on {sys.platform}, {sys.prefix}")


def data(home: Path | None = None) -> Finding:
    """Return how many styles and charts there are, where those built in lie, and which of the
    user's own cannot be used."""
    counts = []
    for word, entries in (("styles", list_styles(home)), ("charts", list_charts(home))):
        own = sum(entry.origin == "your own" for entry in entries)
        counts.append(f"{len(entries) - own} {word} built in, {own} of your own")
        if own == len(entries):
            mend = "Install the program again."
            return Finding("styles and charts", False, f"no {word} in {data_folder()}", mend)
    own_files: tuple[tuple[list[Entry], Callable[[Path], object]], ...] = (
        (list_styles(home), lambda path: find_usable_style(str(path), home)),
        (list_charts(home), read_chart),
    )
    faults = [fault for entries, read in own_files for fault in _faults(entries, read)]
    if faults:
        mend = "Mend that file, or move it away."
        more = f" (and {len(faults) - 1} more of your own)" if len(faults) > 1 else ""
        return Finding("styles and charts", False, f"{faults[0]}{more}", mend)
    return Finding("styles and charts", True, f"{'; '.join(counts)}; in {data_folder()}")


def _faults(entries: list[Entry], read: Callable[[Path], object]) -> list[str]:
    """Return what is wrong with the files of the user's own, one text a file."""
    found = []
    for entry in entries:
        if entry.origin == "your own":
            try:
                read(entry.path)
            except JamError as error:
                found.append(str(error))
    return found


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


def midi(wanted: str = AUTO) -> Finding:
    """Return the MIDI ports of the first system that answers."""
    try:
        with quiet():
            system = open_system(wanted)
            try:
                heard, played = system.inputs(), system.outputs()
            finally:
                system.close()
    except PortError as error:
        return Finding("MIDI", False, error.problem, error.mend)
    own = "can be made" if system.has_virtual else "cannot be made: use a loop-back driver"
    found = f"{system.name}; in: {_names(heard)}; out: {_names(played)}; ports of our own {own}"
    return Finding("MIDI", True, found)


def sound() -> Finding:
    """Return the sound devices that can play."""
    try:
        return Finding("sound", True, f"out: {_names(sound_outputs())}")
    except PortError as error:
        return Finding("sound", False, error.problem, error.mend)


def priority() -> Finding:
    """Return whether the system grants real-time priority, which keeps notes on time when busy."""
    if sys.platform != "linux":
        return Finding("priority", True, "as usual: real-time is asked for on Linux only")
    import resource  # noqa: PLC0415 (not on every system)

    _, most = resource.getrlimit(resource.RLIMIT_RTPRIO)
    if os.geteuid() == 0 or most == resource.RLIM_INFINITY or most >= FIFO_PRIORITY:
        return Finding("priority", True, "real-time is granted")
    found = "real-time is not granted: on a busy machine notes may be some ms late"
    user = f"echo '@audio - rtprio 95' | sudo tee -a {LIMITS}"
    return Finding("priority", False, found, f"{user} (be in the group audio; log in again)")


def doubled(home: Path | None = None) -> Finding:
    """Return what becomes of the player's own keys, and how none of them is heard twice."""
    try:
        config = find_config(home=home).value
        thru = config.with_setup(config.setup).thru
    except JamError:
        return Finding("your keys", True, "as the configuration says, once it can be read")
    if thru.to == "off":
        found = "not passed on: the keyboard sounds them itself (Local Control on)"
    elif thru.local_off:
        found = f"passed on ({thru.to}); the keyboard is asked not to sound them itself"
    else:
        found = f"passed on ({thru.to}), and perhaps heard twice"
        mend = "Set local_off: true under thru, or switch Local Control off on the keyboard."
        return Finding("your keys", False, found, mend)
    return Finding("your keys", True, found)


def _look(what: str, look: Callable[[], Finding]) -> Finding:
    try:
        return look()
    except Exception as error:
        return Finding(what, False, _reason(error), "Tell the developers, with this line.")


def _reason(error: BaseException) -> str:
    return " ".join(str(error).split()) or type(error).__name__


def _names(names: list[str]) -> str:
    return ", ".join(names) if names else "none"
