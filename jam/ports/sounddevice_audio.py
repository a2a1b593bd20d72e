"""Sound through PortAudio, by way of sounddevice.

PortAudio's list of devices is frozen when it is started. So it is started anew for every opening
but the first: never while a stream of ours runs.

When a JACK server dies, PortAudio hangs in closing its stream and is of no use in this process
any more (measured: its client cannot be made anew). Then this kind of device opens no longer,
and another kind has to take over.
"""

from __future__ import annotations

import atexit
import importlib
import sys
from threading import Thread
from time import perf_counter
from typing import Any

from jam.errors import PortError
from jam.ports.audio import RATE_WISHED_HZ, AudioFacts, Fill, library_mend, named
from jam.ports.quiet import quiet

_CLOSING_SEC = 0.7


class SoundDeviceAudio:
    """See `jam.ports.audio.AudioDevice`."""

    def __init__(self) -> None:
        self._library: Any = None
        self._stream: Any = None
        self._frames = 0

        self._hangs = False

    def open(self, pattern: str, channels: int, block_frames: int, fill: Fill) -> AudioFacts:
        """See `jam.ports.audio.AudioDevice`."""
        if self._hangs:
            raise PortError(
                "PortAudio hangs since its sound system died", "Start the program anew."
            )
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
            closing = Thread(target=lambda: stream.close(ignore_errors=True), daemon=True)
            closing.start()
            closing.join(_CLOSING_SEC)
            self._hangs = closing.is_alive()
            if self._hangs:
                # At the end of the program PortAudio would abort it.
                atexit.unregister(self._library._exit_handler)

    def _load(self) -> None:
        try:
            fresh = "sounddevice" not in sys.modules
            self._library = importlib.import_module("sounddevice")
            if not fresh:
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
