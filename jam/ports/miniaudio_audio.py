"""Sound through miniaudio, which brings its own drivers: for machines without PortAudio.

It converts to the device's rate by itself. Without any device it opens one that nobody hears,
and says nothing; here that is an error like any other.
"""

from __future__ import annotations

import importlib
from collections.abc import Generator
from time import perf_counter
from typing import Any

import numpy as np
from numpy.typing import NDArray

from jam.errors import PortError
from jam.ports.audio import RATE_WISHED_HZ, AudioFacts, Fill, device_mend, named
from jam.ports.quiet import quiet
from jam.ports.wishes import AUTO

_BLOCK_FRAMES = 256
_PERIODS = 2
_MOST_FRAMES = 8192


class MiniAudio:
    """See `jam.ports.audio.AudioDevice`."""

    def __init__(self) -> None:
        self._device: Any = None

    def open(self, pattern: str, channels: int, block_frames: int, fill: Fill) -> AudioFacts:
        """See `jam.ports.audio.AudioDevice`."""
        try:
            library = importlib.import_module("miniaudio")
        except Exception as error:
            reason = " ".join(str(error).split())
            raise PortError(f"miniaudio does not load: {reason}", "pip install miniaudio") from None
        with quiet():
            try:
                return self._open(library, pattern, channels, block_frames, fill)
            except PortError:
                raise
            except Exception as error:
                self.close()
                reason = " ".join(str(a) for a in error.args)
                raise PortError(f"miniaudio opens nothing: {reason}", device_mend()) from None

    def lives(self) -> bool:
        """See `jam.ports.audio.AudioDevice`."""
        return self._device is not None and bool(self._device.running)

    def close(self) -> None:
        """See `jam.ports.audio.AudioDevice`."""
        device, self._device = self._device, None
        if device is not None:
            device.close()

    def _open(
        self, library: Any, pattern: str, channels: int, block_frames: int, fill: Fill
    ) -> AudioFacts:
        frames = block_frames or _BLOCK_FRAMES
        device = self._made(library, pattern, channels, frames)
        if device.backend == "Null":
            device.close()
            raise PortError("there is no sound device", device_mend())
        calls = _calls(fill, channels)
        next(calls)
        self._device = device
        device.start(calls)
        latency = _PERIODS * frames / RATE_WISHED_HZ
        name = f"{pattern} ({device.backend})" if pattern != AUTO else str(device.backend)
        return AudioFacts(name, RATE_WISHED_HZ, channels, 0, latency)

    def _made(self, library: Any, pattern: str, channels: int, frames: int) -> Any:
        """Return a device of the system's own choice, else one of the JACK server: miniaudio does
        not get that far by itself where ALSA is installed and there is no card."""
        errors = []
        for backends in (None, [library.Backend.JACK]):
            try:
                device_id = None
                if pattern != AUTO:
                    listed = library.Devices(backends).get_playbacks()
                    ids = {str(d["name"]): d["id"] for d in listed}
                    device_id = ids[named(pattern, list(ids))]
                return library.PlaybackDevice(
                    output_format=library.SampleFormat.FLOAT32,
                    nchannels=channels,
                    sample_rate=RATE_WISHED_HZ,
                    buffersize_msec=max(1, round(1000 * frames / RATE_WISHED_HZ)),
                    device_id=device_id,
                    callback_periods=_PERIODS,
                    backends=backends,
                    app_name="phrase-turns",
                )
            except (PortError, library.MiniaudioError) as error:
                errors.append(error)
        raise errors[0]


def _calls(fill: Fill, channels: int) -> Generator[NDArray[np.float32] | bytes, int, None]:
    """Answer each call for frames, from a buffer that is made once."""
    buffer = np.zeros((_MOST_FRAMES, channels), np.float32)
    frames = yield b""
    first = 0
    while True:
        now = perf_counter()
        frames = min(frames, _MOST_FRAMES)
        fill(buffer[:frames], first, now)
        first += frames
        frames = yield buffer[:frames]
