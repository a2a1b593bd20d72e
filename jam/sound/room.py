"""A small room: what is sent into it comes back from the walls, left and right unlike.

A convolution with a decaying noise of `ROOM_SEC`, done block by block in the frequency domain.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from jam.sound.voices import RATE_HZ, Noise, Samples

ROOM_SEC: Final = 0.5
"""How long after its cause the last of the room is heard."""

_FIRST_WALL_SEC: Final = 0.009
_RING_SEC: Final = 0.55
_BLOCK: Final = 1 << 17


def add_room(sound: NDArray[np.float32], send: Samples, noise: Noise) -> None:
    """Add the room's answer to ``send`` to ``sound``, shape (2, frames), in place."""
    answers = [np.fft.rfft(walls(noise, side), _BLOCK) for side in (0, 1)]
    fresh = _BLOCK - round(ROOM_SEC * RATE_HZ)
    for start in range(0, send.size, fresh):
        piece = send[start : start + fresh]
        if not piece.any():
            continue
        spectrum = np.fft.rfft(piece, _BLOCK)
        room_for = min(_BLOCK, sound.shape[1] - start)
        for side, answer in enumerate(answers):
            sound[side, start : start + room_for] += np.fft.irfft(spectrum * answer)[:room_for]


def walls(noise: Noise, side: int) -> Samples:
    """Return the room's answer to a single sample, of unit energy."""
    frames = round(ROOM_SEC * RATE_HZ)
    sec = np.arange(frames, dtype=np.float32) / RATE_HZ
    answer = noise.band(180.0, 4200.0, frames, 3 + side) * np.exp(
        -sec * np.float32(np.log(1000.0) / _RING_SEC)
    )
    answer[: round(_FIRST_WALL_SEC * RATE_HZ)] = 0.0
    answer *= np.minimum(1.0, (ROOM_SEC - sec) / 0.05)
    unit: Samples = (answer / np.sqrt(np.sum(answer**2))).astype(np.float32)
    return unit
