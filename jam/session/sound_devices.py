"""The sound devices that can play, by name."""

from __future__ import annotations

import importlib
import sys

from jam.errors import PortError
from jam.ports.quiet import quiet
from jam.ports.systems import APT_MEND

INSTALL_AGAIN = "Install the program again."


def library_mend() -> str:
    """Return what mends a native library that does not load."""
    return APT_MEND if sys.platform.startswith("linux") else INSTALL_AGAIN


def sound_outputs() -> list[str]:
    """Return the devices that can play; raises PortError if sound cannot be used or there is none.

    Whatever a driver raises is an answer: it may have classes of its own.
    """
    try:
        with quiet():
            devices = list(importlib.import_module("sounddevice").query_devices())
    except Exception as error:
        reason = " ".join(str(error).split()) or type(error).__name__
        raise PortError(reason, library_mend()) from None
    outputs = [str(device["name"]) for device in devices if device["max_output_channels"] > 0]
    if not outputs:
        mend = "Connect a sound device or start a JACK server; sound files work without."
        raise PortError("PortAudio loads, but there is no sound device", mend)
    return outputs
