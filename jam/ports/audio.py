"""What every sound device of ours can do, and which one is opened.

Adapters: `jam.ports.sounddevice_audio` (PortAudio, tried first), `jam.ports.miniaudio_audio` and
`jam.ports.memory_audio` (in memory, pulled by hand). A device is always found by its name: the
numbers of devices change when one is unplugged.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from jam.errors import PortError
from jam.ports.systems import APT_MEND
from jam.ports.wishes import AUTO

Fill = Callable[[NDArray[np.float32], int, float], None]
"""``fill(out, first_frame, t)`` fills ``out``, shape (frames, channels); ``first_frame`` counts
from the opening of the device; it was called at ``t`` (machine seconds). Must never raise."""

RATE_WISHED_HZ = 48_000


@dataclass(frozen=True, slots=True)
class AudioFacts:
    """What was opened. ``latency_sec`` is what the device says lies between the call for a frame
    and its sound; ``block_frames`` is 0 if it varies."""

    device: str
    rate_hz: int
    channels: int
    block_frames: int
    latency_sec: float

    def __str__(self) -> str:
        block = f"{self.block_frames} frames" if self.block_frames else "blocks as it likes"
        late = f"{1000.0 * self.latency_sec:.1f} ms"
        return f"{self.device}, {self.rate_hz} Hz, {block}, {late}"


class AudioDevice(Protocol):
    """A kind of device, opened and closed any number of times."""

    def open(self, pattern: str, channels: int, block_frames: int, fill: Fill) -> AudioFacts:
        """Open the device meant by ``pattern`` (`jam.ports.wishes`), with ``channels`` outputs or
        as many as it has, at 48 kHz if it can; PortError in plain words if there is none."""

    def lives(self) -> bool:
        """Return whether the device still calls for sound, as far as it knows itself."""

    def close(self) -> None:
        """Close the device; twice is once."""


class FirstThatOpens:
    """Several kinds of device as one: each opening takes the first kind that has what is meant."""

    def __init__(self, kinds: Sequence[AudioDevice]) -> None:
        self._kinds = kinds
        self._open: AudioDevice | None = None

    def open(self, pattern: str, channels: int, block_frames: int, fill: Fill) -> AudioFacts:
        """Open the first that can be; the PortError names what each of them lacks."""
        errors = []
        for kind in self._kinds:
            try:
                facts = kind.open(pattern, channels, block_frames, fill)
            except PortError as error:
                errors.append(error)
                continue
            self._open = kind
            return facts
        problem = "; ".join(dict.fromkeys(error.problem for error in errors))
        raise PortError(problem, next((error.mend for error in errors if error.mend), ""))

    def lives(self) -> bool:
        """See `AudioDevice`."""
        return self._open is not None and self._open.lives()

    def close(self) -> None:
        """See `AudioDevice`."""
        if self._open is not None:
            self._open.close()
            self._open = None


def named(pattern: str, names: Sequence[str]) -> str:
    """Return the device that is meant: exactly named, else in part; PortError if none is."""
    if not names:
        raise PortError("there is no sound device", device_mend())
    if pattern == AUTO:
        return names[0]
    part = pattern.casefold()
    found = [name for name in names if name == pattern]
    found += [name for name in names if part in name.casefold()]
    if found:
        return found[0]
    listed = ", ".join(f'"{name}"' for name in names)
    raise PortError(f'no sound device is called "{pattern}"', f"There is {listed}.")


def device_mend() -> str:
    """Return what mends a machine without any sound device."""
    if sys.platform == "linux":
        return "Connect one, or start the JACK server: jackd -d alsa"
    return "Connect one."


def library_mend() -> str:
    """Return the one command that most likely mends a sound library that does not load."""
    return APT_MEND if sys.platform == "linux" else "pip install --force-reinstall sounddevice"
