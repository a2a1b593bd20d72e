"""A finished sound as a 16-bit stereo WAV file, to a stream handed over."""

from __future__ import annotations

import wave
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from jam.sound.voices import RATE_HZ


def write_wav(sound: NDArray[np.float32], stream: BinaryIO) -> None:
    """Write ``sound``, shape (frames, 2) within -1..1, to ``stream``, which stays open."""
    pcm = np.rint(np.clip(sound, -1.0, 1.0) * 32767.0).astype("<i2")
    with wave.open(stream, "wb") as file:
        file.setnchannels(2)
        file.setsampwidth(2)
        file.setframerate(RATE_HZ)
        file.writeframes(pcm.tobytes())
