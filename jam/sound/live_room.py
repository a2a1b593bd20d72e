"""The room of `jam.sound.room`, block by block and without delay.

A uniformly partitioned convolution by overlap-save. The room's answer begins later than a
partition lasts (its first wall is 9 ms away), so a partition's answer is only needed once the
partition is over: nothing has to be delayed.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from jam.sound.room import walls
from jam.sound.voices import Noise, Samples

_PARTITION: Final = 256
_BINS: Final = _PARTITION + 1

Spectra = NDArray[np.complex64]


class LiveRoom:
    """Takes what is sent into the room in pieces of any size, adds what comes back."""

    def __init__(self, noise: Noise) -> None:
        self._answers = [_partitions(walls(noise, side)) for side in (0, 1)]
        self._count = self._answers[0].shape[0]
        # Every spectrum stands twice, so that the last `_count` of them always lie in one piece.
        self._spectra: Spectra = np.zeros((2 * self._count, _BINS), np.complex64)
        self._products: Spectra = np.zeros((self._count, _BINS), np.complex64)
        self._sums: Spectra = np.zeros((2, _BINS), np.complex64)
        self._sent = np.zeros(2 * _PARTITION, np.float32)
        self._back = np.zeros((2, 2 * _PARTITION), np.float32)
        self._at = 0
        self._row = 0
        self._silent = self._count + 1

    def add(self, sound: NDArray[np.float32], send: Samples) -> None:
        """Take ``send`` and add the room to ``sound``, shape (2, frames), of the same frames."""
        done = 0
        while done < send.size:
            take = min(_PARTITION - self._at, send.size - done)
            there = slice(_PARTITION + self._at, _PARTITION + self._at + take)
            self._sent[there] = send[done : done + take]
            if self._silent <= self._count:
                sound[:, done : done + take] += self._back[:, there]
            self._at += take
            done += take
            if self._at == _PARTITION:
                self._turn()

    def _turn(self) -> None:
        """Answer the partition that is complete, for the time of the next one."""
        self._at = 0
        self._silent = 0 if self._sent[_PARTITION:].any() else self._silent + 1
        if self._silent > self._count:
            return
        self._row = (self._row + 1) % self._count
        spectrum = np.fft.rfft(self._sent)
        self._spectra[self._row] = self._spectra[self._row + self._count] = spectrum
        recent = self._spectra[self._row + 1 : self._row + 1 + self._count]
        for side, answer in enumerate(self._answers):
            np.multiply(recent, answer, out=self._products)
            np.add.reduce(self._products, axis=0, out=self._sums[side])
        self._back[:] = np.fft.irfft(self._sums, axis=1)
        self._sent[:_PARTITION] = self._sent[_PARTITION:]


def _partitions(answer: Samples) -> Spectra:
    """Return the spectra of the answer's partitions, latest first, without the silent first."""
    count = -(-answer.size // _PARTITION)
    cut = np.zeros((count, 2 * _PARTITION), np.float32)
    cut[:, :_PARTITION] = np.pad(answer, (0, count * _PARTITION - answer.size)).reshape(count, -1)
    if cut[0].any():
        raise ValueError("the first wall is nearer than a partition is long")
    return np.fft.rfft(cut[:0:-1]).astype(np.complex64)
