"""The sound devices that can play, by name: the one that ``auto`` takes first."""

from __future__ import annotations

import importlib

from jam.errors import PortError
from jam.ports.audio import device_mend, library_mend
from jam.ports.quiet import quiet


def sound_outputs() -> list[str]:
    """Return the devices that can play; raises PortError if sound cannot be used or there is none.

    Whatever a driver raises is an answer: it may have classes of its own.
    """
    try:
        with quiet():
            module = importlib.import_module("sounddevice")
            devices = list(module.query_devices())
            usual = module.default.device[1]
    except Exception as error:
        reason = " ".join(str(error).split()) or type(error).__name__
        raise PortError(reason, library_mend()) from None
    outputs = [device for device in devices if device["max_output_channels"] > 0]
    if not outputs:
        raise PortError("there is no sound device", f"{device_mend()} (sound files work without)")
    outputs.sort(key=lambda device: device["index"] != usual)
    return [str(device["name"]) for device in outputs]
