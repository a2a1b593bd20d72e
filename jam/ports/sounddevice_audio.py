"""Sound through PortAudio, by way of sounddevice.

PortAudio's list of devices is frozen when it is started. So it is started anew for every opening
but the first: never while a stream of ours runs.
"""

from __future__ import annotations

import importlib
from time import perf_counter
from typing import Any

from jam.errors import PortError
from jam.ports.audio import RATE_WISHED_HZ, AudioFacts, Fill, library_mend, named
from jam.ports.quiet import quiet


class SoundDeviceAudio:
    """See `jam.ports.audio.AudioDevice`."""

    def __init__(self) -> None:
        self._library: Any = None
        self._stream: Any = None
        self._frames = 0

    def open(self, pattern: str, channels: int, block_frames: int, fill: Fill) -> AudioFacts:
        """See `jam.ports.audio.AudioDevice`."""
        with quiet():
            self._load()
            name, number, most = self._find(pattern)
            try:
                return self._open(name, number, min(channels, most), block_frames, fill)
            except PortError:
                raise
            except Exception as error:
                self.close()
                reason = " ".join(str(error).split())
                raise PortError(
                    f"{name} does not open: {reason}", "Close other programs that hold it."
                ) from None

    def lives(self) -> bool:
        """See `jam.ports.audio.AudioDevice`."""
        return self._stream is not None and bool(self._stream.active)

    def close(self) -> None:
        """See `jam.ports.audio.AudioDevice`."""
        stream, self._stream = self._stream, None
        if stream is not None:
            with quiet():
                stream.close(ignore_errors=True)

    def _load(self) -> None:
        try:
            if self._library is None:
                self._library = importlib.import_module("sounddevice")
            else:
                self._library._terminate()
                self._library._initialize()
        except Exception as error:
            reason = " ".join(str(error).split())
            raise PortError(f"sounddevice does not load: {reason}", library_mend()) from None

    def _find(self, pattern: str) -> tuple[str, int, int]:
        """Return name, number of the moment and outputs of a device; the system's own first."""
        try:
            listed = list(self._library.query_devices())
        except Exception as error:
            raise PortError(f"sounddevice lists nothing: {error}", library_mend()) from None
        own = self._library.default.device[1]
        outputs = [d for d in listed if d["max_output_channels"] > 0]
        outputs.sort(key=lambda d: d["index"] != own)
        device = named(pattern, [str(d["name"]) for d in outputs])
        found = next(d for d in outputs if d["name"] == device)
        return device, int(found["index"]), int(found["max_output_channels"])

    def _open(
        self, name: str, number: int, channels: int, block_frames: int, fill: Fill
    ) -> AudioFacts:
        rate_hz = self._rate(number, channels)
        self._frames = 0

        def callback(out: Any, frames: int, times: object, status: object) -> None:
            now = perf_counter()
            first, self._frames = self._frames, self._frames + frames
            fill(out, first, now)

        self._stream = self._library.OutputStream(
            samplerate=rate_hz,
            blocksize=block_frames,
            device=number,
            channels=channels,
            dtype="float32",
            latency="low",
            callback=callback,
        )
        self._stream.start()
        return AudioFacts(name, rate_hz, channels, block_frames, float(self._stream.latency))

    def _rate(self, number: int, channels: int) -> int:
        """Return 48 kHz if the device takes it, else its own rate."""
        try:
            self._library.check_output_settings(
                device=number, channels=channels, dtype="float32", samplerate=RATE_WISHED_HZ
            )
        except self._library.PortAudioError:
            return round(float(self._library.query_devices(number)["default_samplerate"]))
        return RATE_WISHED_HZ
