"""Samples of notes, made once per colour and kept while there is room for them.

The bank works at any rate a device has. `note_samples` counts frames of 48 kHz, so for another
rate it is given a recipe whose times and frequencies are scaled by the ratio of the two: played
at the device's rate they are what they were meant to be.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import log2
from typing import Final

from jam.sound.mixer import Colour, band_of
from jam.sound.recipe import Band, Glide, Partial, Recipe
from jam.sound.recipes import VOICES, SoundPart, voice_of
from jam.sound.voices import RATE_HZ, Noise, Samples, note_samples, rise

_MOST_FRAMES: Final = 4_000_000  # 16 MB
_GRAIN: Final = 12_000
_MIDDLE_KEY: Final = 64


class NoteBank:
    """Notes by colour, at ``rate_hz``, together at most ``most_frames`` long.

    `colour`, `release` and `find` may be called while another thread is in `make`.
    """

    def __init__(self, noise: Noise, rate_hz: int, most_frames: int = _MOST_FRAMES) -> None:
        self.rate_hz = rate_hz
        self._noise = noise
        self._shift = 12.0 * log2(RATE_HZ / rate_hz)
        stretch = rate_hz / RATE_HZ
        self._recipes = {name: _at_rate(recipe, stretch) for name, recipe in VOICES.items()}
        self._releases = {name: _release(recipe) for name, recipe in self._recipes.items()}
        self._played: dict[str, int] = {}
        self._kept: dict[Colour, Samples] = {}
        self._most_frames = most_frames
        self.frames = 0

    def colour(
        self, part: SoundPart, pitch: int, velocity: int, program: int | None = None
    ) -> Colour:
        """Return the colour of the next such note; the takes of a voice follow one another."""
        voice = voice_of(part, pitch, program)
        take = self._played.get(voice, 0)
        self._played[voice] = (take + 1) % self._recipes[voice].takes
        return Colour(voice, pitch, band_of(velocity), take)

    def release(self, voice: str) -> Samples | None:
        """Return the ramp that ends a note of a voice; None for a one-shot."""
        return self._releases[voice]

    def find(self, colour: Colour) -> Samples | None:
        """Return what there is of a colour, however long; None if there is nothing."""
        return self._kept.get(colour)

    def make(self, colour: Colour, held_frames: int) -> Samples:
        """Return samples for a note held for ``held_frames``, from the bank if it is there."""
        recipe, release = self._recipes[colour.voice], self._releases[colour.voice]
        frames = held_frames if release is None else held_frames + release.size
        samples = self._kept.pop(colour, None)
        if samples is None or (release is not None and samples.size < frames):
            self.frames -= 0 if samples is None else samples.size
            frames = -(-frames // _GRAIN) * _GRAIN
            pitch = colour.pitch + self._shift
            samples = note_samples(
                recipe, pitch, colour.brightness, frames, self._noise, colour.take
            )
            self.frames += samples.size
        self._kept[colour] = samples  # last in the order of age
        self._forget()
        return samples

    def _forget(self) -> None:
        """Drop what was not asked for longest; whoever plays it still has it."""
        while self.frames > self._most_frames and len(self._kept) > 1:
            self.frames -= self._kept.pop(next(iter(self._kept))).size


def all_colours_of_keys(velocity: int = 80) -> Iterator[Colour]:
    """Yield the colours of the player's keys, from the middle of the keyboard outwards."""
    voice = voice_of("player", _MIDDLE_KEY)
    band = band_of(velocity)
    for near in (band, band - 1, band + 1):
        for key in sorted(range(21, 109), key=lambda key: abs(key - _MIDDLE_KEY)):
            yield Colour(voice, key, near, 0)


def _release(recipe: Recipe) -> Samples | None:
    if recipe.whole_sec is not None:
        return None
    return rise(round(recipe.release_sec * RATE_HZ))[::-1].copy()


def _at_rate(recipe: Recipe, stretch: float) -> Recipe:
    """Return a recipe that sounds alike when its frames are ``stretch`` times as many a second."""
    if stretch == 1.0:
        return recipe
    return replace(
        recipe,
        partials=tuple(_partial(partial, stretch) for partial in recipe.partials),
        bands=tuple(_band(band, stretch) for band in recipe.bands),
        attack_sec=recipe.attack_sec * stretch,
        release_sec=recipe.release_sec * stretch,
        whole_sec=None if recipe.whole_sec is None else recipe.whole_sec * stretch,
        fixed_hz=None if recipe.fixed_hz is None else recipe.fixed_hz / stretch,
        soft_above_hz=recipe.soft_above_hz / stretch,
        glide=None if recipe.glide is None else _glide(recipe.glide, stretch),
    )


def _partial(partial: Partial, stretch: float) -> Partial:
    return replace(partial, ring_sec=partial.ring_sec * stretch)


def _band(band: Band, stretch: float) -> Band:
    return replace(
        band,
        low_hz=band.low_hz / stretch,
        high_hz=band.high_hz / stretch,
        ring_sec=band.ring_sec * stretch,
    )


def _glide(glide: Glide, stretch: float) -> Glide:
    return replace(
        glide,
        rate_hz=glide.rate_hz / stretch,
        delay_sec=glide.delay_sec * stretch,
        settle_sec=glide.settle_sec * stretch,
    )
