"""One note of the live mixer: samples laid into block after block, ended where it is told.

Places are absolute frames of the mixer. A voice may be waiting for its samples, which another
thread sets once they are made; they may also be exchanged for longer ones while it sounds, as
long as these begin alike. A voice whose samples run out is let go before they do.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from jam.sound.recipes import SoundPart
from jam.sound.voices import Samples, rise

OPEN_END: Final = 1 << 62
"""The end of a note whose length nobody knows yet."""

HUSH: Final = rise(480)[::-1].copy()
"""The ramp by which a voice is silenced: short, but no click (10 ms at 48 kHz)."""


@dataclass(slots=True, eq=False)
class LiveVoice:
    """``start`` to ``end`` are the frames the note is held; ``release`` is the ramp after its
    end, which a one-shot (None) has not: it rings for as long as it is. ``level`` is linear.

    ``hushed`` is the frame from which it is silenced; ``gone`` says that it is never to begin.
    """

    id: int
    part: SoundPart
    name: str
    level: np.float32
    release: Samples | None
    start: int = 0
    end: int = OPEN_END
    samples: Samples | None = None
    hushed: int = OPEN_END
    gone: bool = False

    def begin(self, frame: int) -> None:
        """Begin at ``start``, at ``frame`` if that is later; the end stays where it is."""
        self.start = max(self.start, frame)
        self.end = max(self.end, self.start + 1)

    def last(self, samples: Samples) -> int:
        """Return the frame after the last one that is not silent."""
        last = min(self.start + samples.size, self.hushed + HUSH.size)
        return last if self.release is None else min(last, self.end + self.release.size)

    def lay(self, row: Samples, frame: int, scratch: Samples) -> bool:
        """Add what falls into ``row``, which begins at ``frame``; say whether more will come.

        ``scratch`` is as long as ``row``.
        """
        samples = self.samples
        if samples is None:
            return False
        after = frame + row.size
        ready = self.start + samples.size
        if self.release is not None:
            ready -= self.release.size
        if self.start <= frame and after <= min(ready, self.end, self.hushed):
            # By far the most blocks of a note are like this: no start, no end.
            heard = samples[frame - self.start : after - self.start]
            np.multiply(heard, self.level, out=scratch)
            np.add(row, scratch, out=row)
            return True
        if self.release is not None and ready < after:
            self.end = min(self.end, ready)
        self._lay_part(samples, row, frame, scratch)
        return after < self.last(samples)

    def _lay_part(self, samples: Samples, row: Samples, frame: int, scratch: Samples) -> None:
        """Add what is heard in a block in which the note begins, ends, or both."""
        first, last = max(self.start, frame), min(self.last(samples), frame + row.size)
        if first >= last:
            return
        piece = scratch[: last - first]
        np.multiply(samples[first - self.start : last - self.start], self.level, out=piece)
        if self.release is not None:
            _close(piece, first, self.end, self.release)
        _close(piece, first, self.hushed, HUSH)
        row[first - frame : last - frame] += piece


def _close(piece: Samples, first: int, at: int, ramp: Samples) -> None:
    """Multiply what lies behind frame ``at`` by ``ramp``; ``piece`` begins at ``first``."""
    skip = max(0, at - first)
    if skip < piece.size:
        piece[skip:] *= ramp[first + skip - at :][: piece.size - skip]
