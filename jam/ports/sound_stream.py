"""What runs while a sound device is open: its clock, the mixer, and the orders on the way to it.

Orders are queued by the main thread and carried out in the device's call for sound, which alone
touches clock and mixer. It does arithmetic only, and survives whatever goes wrong in it.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from math import inf

import numpy as np
from numpy.typing import NDArray

from jam.events import Part
from jam.ports.audio_clock import AudioClock
from jam.sound.live_mixer import LiveMixer
from jam.sound.live_voice import OPEN_END, LiveVoice


class SoundStream:
    """``fill`` is for the device; the rest is for the main thread. Times are machine seconds,
    and of the sound at the ear: ``early_sec`` is what is added between device and ear."""

    def __init__(self, mixer: LiveMixer, clock: AudioClock, early_sec: float) -> None:
        self._mixer = mixer
        self._early_sec = early_sec
        self._orders: deque[Callable[[], None]] = deque()
        self.clock = clock
        self.called_at = -inf
        self.faults = 0
        self.fault = ""

    @property
    def sounds(self) -> bool:
        """Whether a note sounds."""
        return self._mixer.voices[1] > 0

    def fill(self, out: NDArray[np.float32], first_frame: int, t: float) -> None:
        """Carry out the orders, then render the next frames; see `jam.ports.audio.Fill`."""
        self.called_at = t
        try:
            shift = self.clock.observe(self._mixer.frame, t)
            if shift:
                self._mixer.shift(shift)
            while self._orders:
                self._orders.popleft()()
            self._mixer.render(out)
        except Exception as error:  # an exception here would end the device's thread
            self.faults += 1
            self.fault = f"{type(error).__name__}: {error}"
            out[:] = 0.0

    def play(self, voice: LiveVoice, t: float, end: float) -> None:
        """Play from ``t`` to ``end``."""
        self._orders.append(lambda: self._mixer.add(voice, self._frame(t), self._frame(end)))

    def strike(self, voice: LiveVoice) -> None:
        """Play at once, for as long as nobody ends it."""
        self._orders.append(lambda: self._mixer.add(voice, self._mixer.frame, OPEN_END))

    def revoke(self, id: int) -> None:
        """Forget a note that has not begun."""
        self._orders.append(lambda: self._mixer.revoke(id))

    def cut(self, id: int, t: float) -> None:
        """End a note at ``t``, at once if that is past."""
        self._orders.append(lambda: self._mixer.cut(id, self._frame(t)))

    def end(self, id: int) -> None:
        """End a note at once."""
        self._orders.append(lambda: self._mixer.end(id))

    def silence(self, t: float) -> None:
        """End every note at ``t``, forget those to come."""
        self._orders.append(lambda: self._mixer.silence(self._frame(t)))

    def level(self, part: Part | None, level: float) -> None:
        """Set the level of a part, of all if None."""
        self._orders.append(lambda: self._mixer.level(part, level))

    def _frame(self, t: float) -> int:
        return self.clock.frame_at(t - self._early_sec)
