"""From notes in seconds to a finished stereo sound.

Every onset lies on the sample nearest to its time. Notes of one colour (voice, pitch, band of
velocity, take) are synthesised once, at the length of the longest of them, and laid in wherever
they are needed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from jam.players.bends import Point
from jam.sound.levels import finish
from jam.sound.recipe import Place, Recipe
from jam.sound.recipes import PLACES, VOICES, SoundPart, voice_of
from jam.sound.room import ROOM_SEC, add_room
from jam.sound.voices import RATE_HZ, Noise, Samples, bent, note_samples, rise

_VELOCITY_BANDS: Final = 8
_LOUDNESS_EXPONENT: Final = 1.3
_CLOSE_SEC: Final = 0.02


@dataclass(frozen=True, slots=True)
class SoundNote:
    """A note to be heard from ``t`` to ``end`` (seconds, not negative); velocity 1 to 127.

    ``bend`` is how its pitch moves: seconds from its onset, and semitones; empty if it does not.
    ``program`` is the General MIDI program (from 0) of companion and melody.
    """

    t: float
    end: float
    part: SoundPart
    pitch: int
    velocity: int
    bend: tuple[Point, ...] = ()
    program: int | None = None


@dataclass(frozen=True, slots=True)
class Colour:
    """What two notes must share to be cut from the same samples; ``band`` is of velocity."""

    voice: str
    pitch: int
    band: int
    take: int

    @property
    def brightness(self) -> float:
        """The middle of the band, 0 to 1."""
        return (self.band + 0.5) / _VELOCITY_BANDS


def band_of(velocity: int) -> int:
    """Return the band of velocity that gives a note its colour."""
    return velocity * _VELOCITY_BANDS // 128


def level_of(velocity: int) -> float:
    """Return how loud a note is, linear, 1 at velocity 127."""
    return float((velocity / 127.0) ** _LOUDNESS_EXPONENT)


def stereo(place: Place) -> tuple[float, float, float]:
    """Return the linear gains of a place: left, right, into the room."""
    gain = 10.0 ** (place.gain_db / 20.0)
    angle = (place.pan + 1.0) * np.pi / 4.0
    return gain * float(np.cos(angle)), gain * float(np.sin(angle)), gain * place.room


class _Desk:
    """The three tracks that notes are laid on: left, right, and what goes into the room."""

    def __init__(self, frames: int) -> None:
        self.sound = np.zeros((2, frames), dtype=np.float32)
        self.send = np.zeros(frames, dtype=np.float32)

    def lay(self, samples: Samples, start: int, level: float, place: Place) -> None:
        samples = samples[: max(0, self.send.size - start)]
        stop = start + samples.size
        left, right, room = stereo(place)
        self.sound[0, start:stop] += samples * np.float32(level * left)
        self.sound[1, start:stop] += samples * np.float32(level * right)
        if room:
            self.send[start:stop] += samples * np.float32(level * room)


def mix(
    notes: Iterable[SoundNote], length_sec: float, *, rng: np.random.Generator
) -> NDArray[np.float32]:
    """Return the sound of ``notes``, shape (frames, 2), ``length_sec`` long.

    The same notes and an equal ``rng`` give the same samples. The sound ends with a short ramp;
    `tail_sec` says how much longer than the last note it must be to ring out.
    """
    frames = round(length_sec * RATE_HZ)
    noise = Noise(rng)
    desk = _Desk(frames)
    for colour, group in _by_colour(notes).items():
        _lay_group(desk, colour, group, noise)
    add_room(desk.sound, desk.send, noise)
    close = min(frames, round(_CLOSE_SEC * RATE_HZ))
    desk.sound[:, frames - close :] *= rise(close)[::-1]
    finish(desk.sound)
    return np.ascontiguousarray(desk.sound.T)


def tail_sec(notes: Iterable[SoundNote]) -> float:
    """Return the second after which nothing of ``notes`` is heard any more."""
    return max((_silent_sec(note) for note in notes), default=0.0)


def _silent_sec(note: SoundNote) -> float:
    recipe = VOICES[voice_of(note.part, note.pitch, note.program)]
    rings_to = note.end + recipe.release_sec
    if recipe.whole_sec is not None:
        rings_to = note.t + recipe.whole_sec
    return rings_to + ROOM_SEC


def _by_colour(notes: Iterable[SoundNote]) -> dict[Colour, list[SoundNote]]:
    """Group notes that sound alike; the takes of a voice follow one another in time."""
    groups: dict[Colour, list[SoundNote]] = {}
    played: dict[str, int] = {}
    for note in sorted(notes, key=lambda n: (n.t, n.part, n.pitch, n.end, n.velocity)):
        if note.t < 0 or not 1 <= note.velocity <= 127:
            raise ValueError(f"cannot be heard: {note}")
        voice = voice_of(note.part, note.pitch, note.program)
        take = played.get(voice, 0)
        played[voice] = (take + 1) % VOICES[voice].takes
        colour = Colour(voice, note.pitch, band_of(note.velocity), take)
        groups.setdefault(colour, []).append(note)
    return groups


def _lay_group(desk: _Desk, colour: Colour, group: Sequence[SoundNote], noise: Noise) -> None:
    recipe = VOICES[colour.voice]
    release = rise(round(recipe.release_sec * RATE_HZ))[::-1]
    longest = max(_held_frames(note) for note in group) + release.size
    whole = note_samples(recipe, colour.pitch, colour.brightness, longest, noise, colour.take)
    for note in group:
        level = level_of(note.velocity)
        samples = _cut(bent(whole, note.bend, RATE_HZ), note, recipe, release)
        desk.lay(samples, round(note.t * RATE_HZ), level, PLACES[colour.voice])


def _cut(whole: Samples, note: SoundNote, recipe: Recipe, release: Samples) -> Samples:
    """Return the samples of one note: to its end and through its release."""
    if recipe.whole_sec is not None:
        return whole
    held = _held_frames(note)
    samples = whole[: held + release.size].copy()
    samples[held:] *= release
    return samples


def _held_frames(note: SoundNote) -> int:
    return max(1, round(note.end * RATE_HZ) - round(note.t * RATE_HZ))
