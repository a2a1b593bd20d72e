"""Voices: in tune, free of clicks and of folded frequencies, brighter when struck harder."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pretty_midi
import pytest

from jam.sound.recipes import KEY_VOICES, PART_VOICES, PLACES, VOICES, as_table, voice_of
from jam.sound.voices import RATE_HZ, Noise, note_samples

PITCHED = sorted(set(PART_VOICES.values()))


@pytest.fixture(scope="module")
def noise():
    return Noise(np.random.default_rng(5))


def spectrum(samples):
    power = np.abs(np.fft.rfft(samples * np.hanning(samples.size))) ** 2
    return np.fft.rfftfreq(samples.size, 1.0 / RATE_HZ), power


@pytest.mark.parametrize("pitch", [45, 57, 69, 81])
@pytest.mark.parametrize("voice", PITCHED)
def test_pitch_is_in_tune(voice, pitch, noise):
    """The strongest frequency near the fundamental is within 8 cents of equal temperament.

    Note 69 is 440 Hz; pretty_midi.note_number_to_hz is the reference.
    """
    wanted = float(pretty_midi.note_number_to_hz(pitch))
    samples = note_samples(VOICES[voice], pitch, 0.7, 4 * RATE_HZ, noise)
    hz, power = spectrum(samples)
    near = (hz > wanted * 0.9) & (hz < wanted * 1.1)
    heard = float(np.sum(hz[near] * power[near]) / np.sum(power[near]))
    assert abs(1200.0 * np.log2(heard / wanted)) < 8.0


@pytest.mark.parametrize("voice", PITCHED)
def test_harder_strokes_are_brighter(voice, noise):
    """The fourth partial grows against the fundamental with velocity."""
    wanted = float(pretty_midi.note_number_to_hz(62))
    ratios = []
    for brightness in (0.2, 0.6, 1.0):
        samples = note_samples(VOICES[voice], 62, brightness, RATE_HZ // 2, noise)
        hz, power = spectrum(samples)
        first, fourth = (power[np.abs(hz - n * wanted) < 0.3 * wanted].sum() for n in (1, 4))
        ratios.append(fourth / first)
    assert 2.0 * ratios[0] < ratios[1]
    assert 1.2 * ratios[1] < ratios[2]


@pytest.mark.parametrize("voice", sorted(VOICES))
def test_starts_and_ends_without_a_click(voice, noise):
    """The first sample is next to nothing, and a one-shot ends in next to nothing."""
    recipe = VOICES[voice]
    samples = note_samples(recipe, 60, 0.8, RATE_HZ, noise)
    loudest = np.abs(samples).max()
    assert abs(samples[0]) < 0.05 * loudest
    if recipe.whole_sec is not None:
        assert samples.size == round(recipe.whole_sec * RATE_HZ)
        assert abs(samples[-1]) < 1e-3 * loudest


@pytest.mark.parametrize("pitch", [91, 96, 101, 108])
@pytest.mark.parametrize("voice", PITCHED)
def test_no_folded_frequencies(voice, pitch, noise):
    """In the highest register every frequency that is heard is one of the recipe's partials."""
    recipe = replace(VOICES[voice], bands=(), glide=None)
    samples = note_samples(recipe, pitch, 1.0, RATE_HZ, noise)
    hz, power = spectrum(samples)
    fundamental = float(pretty_midi.note_number_to_hz(pitch))
    places = [partial.ratio * fundamental for partial in recipe.partials]
    planned = np.any([np.abs(hz - place) < 0.3 * fundamental for place in places], axis=0)
    assert power[~planned].max() < 1e-8 * power.max()


def test_takes_of_a_noise_voice_differ(noise):
    """Repeated ride strokes are not copies of each other."""
    takes = [note_samples(VOICES["ride"], 51, 0.6, 1, noise, take) for take in range(4)]
    assert all(not np.array_equal(takes[0], other) for other in takes[1:])


def test_call_and_reply_are_unlike(noise):
    """A held note tells the two apart: the companion's stays, the player's falls away."""

    def kept(voice):
        samples = note_samples(VOICES[voice], 67, 0.7, 2 * RATE_HZ, noise)
        early, late = samples[9600:19200], samples[-9600:]
        return float(np.sqrt(np.mean(late**2) / np.mean(early**2)))

    assert kept(voice_of("companion", 67)) > 0.4
    assert kept(voice_of("player", 67)) < 0.1


def test_the_table_is_whole_and_plain():
    """Every voice has a place, every user a voice, and the table survives JSON unchanged."""
    assert set(VOICES) == set(PLACES)
    assert set(PART_VOICES.values()) | set(KEY_VOICES.values()) == set(VOICES)
    table = as_table()
    read = json.loads(json.dumps(table))
    assert read == json.loads(json.dumps(read))
    assert read["voices"]["bass"]["partials"][0]["ratio"] == 1.0


@pytest.mark.parametrize("key", range(35, 82))
def test_every_percussion_key_of_general_midi_sounds(key):
    """General MIDI's percussion map runs from key 35 to 81 (pretty_midi.constants.DRUM_MAP)."""
    assert len(pretty_midi.constants.DRUM_MAP) == 81 - 35 + 1
    assert voice_of("drums", key) in VOICES
