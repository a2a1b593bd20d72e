"""One note of a voice as samples: partials, noise bands, gliding pitch, attack.

Pure arithmetic on float32 arrays at `RATE_HZ`. A note comes without its release, which the mixer
puts where the note ends; one-shots come whole. Sample 0 is the onset.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from jam.players.bends import Point
from jam.sound.recipe import Band, Glide, Recipe

Samples = NDArray[np.float32]

RATE_HZ: Final = 48_000

_NOISE_FRAMES: Final = 1 << 17
_TAKE_FRAMES: Final = 29_989  # a prime, so that takes of different voices do not line up
_ROW: Final = 256
_HIGHEST_HZ: Final = 20_000.0
_SIXTY_DB: Final = float(np.log(1000.0))
_END_RAMP_SEC: Final = 0.01


class Noise:
    """A loop of white noise, and its bands, each cut once and without a seam.

    The whole loop is drawn from ``rng`` at once, so a band does not depend on what was asked
    before it.
    """

    def __init__(self, rng: np.random.Generator) -> None:
        white = rng.standard_normal(_NOISE_FRAMES, dtype=np.float32)
        self._spectrum = np.fft.rfft(white)
        self._hz = np.fft.rfftfreq(_NOISE_FRAMES, 1.0 / RATE_HZ)
        self._bands: dict[tuple[float, float], Samples] = {}

    def band(self, low_hz: float, high_hz: float, frames: int, take: int) -> Samples:
        """Return ``frames`` of noise of unit RMS between two frequencies, from place ``take``."""
        loop = self._bands.get((low_hz, high_hz))
        if loop is None:
            # Second-order slopes: steep enough to place the band, soft enough not to ring.
            shape = 1.0 / (1.0 + (self._hz / high_hz) ** 4)
            shape /= 1.0 + (low_hz / np.maximum(self._hz, 1.0)) ** 4
            loop = np.fft.irfft(self._spectrum * shape).astype(np.float32)
            loop /= np.sqrt(np.mean(loop**2))
            self._bands[low_hz, high_hz] = loop
        first = take * _TAKE_FRAMES % _NOISE_FRAMES
        return np.resize(np.roll(loop, -first), frames)


def note_samples(
    recipe: Recipe, pitch: float, brightness: float, frames: int, noise: Noise, take: int = 0
) -> Samples:
    """Return the samples of a note that is held for ``frames`` at least.

    ``brightness`` runs from 0 to 1 (velocity / 127): it colours the tone, the mixer sets how loud
    it is. A one-shot has its own length, whatever ``frames`` says.
    """
    if recipe.whole_sec is not None:
        frames = round(recipe.whole_sec * RATE_HZ)
    hz = recipe.fixed_hz or 440.0 * 2.0 ** ((pitch - 69) / 12.0)
    ring = 1.0 if recipe.fixed_hz else recipe.ring_per_octave ** ((pitch - 60) / 12.0)
    samples = _tone(recipe, hz, ring, brightness, frames)
    for band in recipe.bands:
        samples += _hiss(band, brightness, frames, noise, take)
    attack = min(frames, round(recipe.attack_sec * RATE_HZ))
    samples[:attack] *= rise(attack)
    if recipe.whole_sec is not None:
        end = round(_END_RAMP_SEC * RATE_HZ)
        samples[-end:] *= rise(end)[::-1]
    return samples


def bent(samples: Samples, points: Sequence[Point], rate_hz: int) -> Samples:
    """Return a note with its pitch moved along ``points``; the note itself if there are none.

    What is read faster than it was made runs out: bends go down, for which there is enough.
    """
    if not points:
        return samples
    sec = np.arange(samples.size) / rate_hz
    at, semitones = zip(*points, strict=True)
    speed = 2.0 ** (np.interp(sec, at, semitones) / 12.0)
    places = np.cumsum(speed) - speed[0]
    moved: Samples = np.interp(places, np.arange(samples.size), samples, right=0.0)
    return moved.astype(np.float32)


def rise(frames: int) -> Samples:
    """Return a ramp from just above 0 to 1 with level ends."""
    return (np.sin(np.pi / 2.0 * np.arange(1, frames + 1) / (frames + 1)) ** 2).astype(np.float32)


def _tone(recipe: Recipe, hz: float, ring: float, brightness: float, frames: int) -> Samples:
    if recipe.glide is None:
        return _steady(recipe, hz, ring, brightness, frames)
    places = _glide_places(recipe.glide, frames)
    steady = _steady(recipe, hz, ring, brightness, int(places[-1]) + 2)
    whole = places.astype(np.int64)
    part = (places - whole).astype(np.float32)
    return steady[whole] + (steady[whole + 1] - steady[whole]) * part


def _steady(recipe: Recipe, hz: float, ring: float, brightness: float, frames: int) -> Samples:
    """Return the sum of ringing partials at an unmoving pitch.

    Each partial is a power of one complex step; the powers factor into rows and columns, so the
    sum over partials is a single small matrix product.
    """
    partials = [p for p in recipe.partials if p.ratio * hz < _HIGHEST_HZ]
    if not partials:
        return np.zeros(frames, dtype=np.float32)
    each_hz = np.array([p.ratio * hz for p in partials])
    level = np.array([p.level * brightness**p.bright for p in partials])
    level /= 1.0 + (each_hz / recipe.soft_above_hz) ** 2
    fall = _SIXTY_DB / np.array([p.ring_sec * ring for p in partials])
    step = (-fall + 2j * np.pi * each_hz) / RATE_HZ
    rows = level * np.exp(np.outer(np.arange(-(-frames // _ROW)) * _ROW, step))
    columns = np.exp(np.outer(step, np.arange(_ROW)))
    left = np.concatenate([rows.real, rows.imag], axis=1).astype(np.float32)
    right = np.concatenate([columns.imag, columns.real]).astype(np.float32)
    samples: Samples = (left @ right).ravel()[:frames]
    return samples


def _glide_places(glide: Glide, frames: int) -> NDArray[np.float64]:
    """Return at which (fractional) frame of a steady tone each frame of the gliding one is."""
    sec = np.arange(frames) / RATE_HZ
    semitones = glide.start_semitones * np.exp(-sec / glide.settle_sec)
    if glide.cents:
        late = np.maximum(sec - glide.delay_sec, 0.0)
        depth = glide.cents / 100.0 * np.minimum(late / 0.3, 1.0)
        semitones += depth * np.sin(2.0 * np.pi * glide.rate_hz * late)
    speed = 2.0 ** (semitones / 12.0)
    places: NDArray[np.float64] = np.cumsum(speed) - speed[0]
    return places


def _hiss(band: Band, brightness: float, frames: int, noise: Noise, take: int) -> Samples:
    fall = np.exp(
        np.arange(frames, dtype=np.float32) * np.float32(-_SIXTY_DB / band.ring_sec / RATE_HZ)
    )
    level = np.float32(band.level * brightness**band.bright)
    samples: Samples = noise.band(band.low_hz, band.high_hz, frames, take) * (level * fall)
    return samples
