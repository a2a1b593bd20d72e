"""Voices: in tune, free of clicks and of folded frequencies, brighter when struck harder."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import combinations

import numpy as np
import pretty_midi
import pytest

from jam.sound.instruments import INSTRUMENT_PLACES, INSTRUMENT_VOICES, instrument_voice
from jam.sound.recipes import KEY_VOICES, PART_VOICES, PLACES, VOICES, as_table, voice_of
from jam.sound.voices import RATE_HZ, Noise, bent, note_samples

PITCHED = sorted({*PART_VOICES.values(), *INSTRUMENT_VOICES})


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
    soloists = {instrument_voice(program) for program in range(128)}
    assert set(PART_VOICES.values()) | set(KEY_VOICES.values()) | soloists == set(VOICES)
    table = as_table()
    read = json.loads(json.dumps(table))
    assert read == json.loads(json.dumps(read))
    assert read["voices"]["bass"]["partials"][0]["ratio"] == 1.0


@pytest.mark.parametrize("key", range(35, 82))
def test_every_percussion_key_of_general_midi_sounds(key):
    """General MIDI's percussion map runs from key 35 to 81 (pretty_midi.constants.DRUM_MAP)."""
    assert len(pretty_midi.constants.DRUM_MAP) == 81 - 35 + 1
    assert voice_of("drums", key) in VOICES


PLAYED = {
    "Acoustic Grand Piano": "piano",
    "Vibraphone": "vibraphone",
    "Electric Guitar (jazz)": "guitar",
    "Trumpet": "trumpet",
    "Trombone": "trombone",
    "Alto Sax": "alto saxophone",
    "Tenor Sax": "lead",
    "Clarinet": "clarinet",
    "Flute": "flute",
}


@pytest.mark.parametrize("program", sorted(PLAYED))
def test_each_instrument_has_its_voice(program):
    """The programs of General MIDI (numbers by pretty_midi) sound with the voice of their name."""
    number = pretty_midi.instrument_name_to_program(program)
    assert voice_of("companion", 60, number) == PLAYED[program]


def tone_of(voice, noise, pitch=67):
    """Return the first eight harmonics in dB below the loudest, and the fall over a second."""
    samples = note_samples(VOICES[voice], pitch, 0.7, RATE_HZ, noise)
    hz, power = spectrum(samples[: RATE_HZ // 2])
    wanted = float(pretty_midi.note_number_to_hz(pitch))
    levels = [power[np.abs(hz - n * wanted) < 0.3 * wanted].sum() for n in range(1, 9)]
    early, late = (np.mean(samples[a : a + 4800] ** 2) for a in (4800, RATE_HZ - 4800))
    below = 10.0 * np.log10(np.array(levels) / max(levels) + 1e-4)
    return np.append(below, 10.0 * np.log10(late / early))


def test_instruments_are_told_apart(noise):
    """No two are alike: somewhere in spectrum or decay they are 6 dB apart, 3 dB on the average of
    their three widest places."""
    tones = {voice: tone_of(voice, noise) for voice in INSTRUMENT_VOICES}
    for one, other in combinations(tones, 2):
        apart = np.sort(np.abs(tones[one] - tones[other]))[::-1]
        assert apart[0] > 6.0, (one, other)
        assert apart[:3].mean() > 3.0, (one, other)


def test_instruments_are_equally_loud(noise):
    """A line on any of them is within 2 dB of the same line on the tenor, by power."""

    def loudness(voice):
        power = [
            np.mean(note_samples(VOICES[voice], pitch, 0.65, 9600, noise) ** 2)
            for pitch in range(60, 76)
        ]
        return 10.0 * np.log10(np.mean(power)) + INSTRUMENT_PLACES[voice].gain_db

    for voice in INSTRUMENT_VOICES:
        assert abs(loudness(voice) - loudness("lead")) < 2.0, voice


@pytest.mark.parametrize("rate_hz", [44_100, 48_000])
def test_a_bend_moves_the_pitch(rate_hz, noise):
    """A note bent by -2 semitones in its second half is heard a whole tone lower there, and as it
    was in its first; without a bend it is the same note."""
    samples = note_samples(VOICES["clarinet"], 69, 0.7, RATE_HZ, noise)
    half = samples.size // 2
    points = ((0.0, 0.0), (half / rate_hz, 0.0), (half / rate_hz + 0.01, -2.0))
    moved = bent(samples, points, rate_hz)
    assert moved.dtype == np.float32
    for piece, semitones in ((moved[:half], 0.0), (moved[half + 1000 :], -2.0)):
        hz, power = spectrum(piece)
        near = (hz > 350.0) & (hz < 480.0)
        heard = float(np.sum(hz[near] * power[near]) / np.sum(power[near]))
        assert 12.0 * np.log2(heard / 440.0) == pytest.approx(semitones, abs=0.1)
    assert bent(samples, (), rate_hz) is samples
