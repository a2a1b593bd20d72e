"""Levels and files: loudness against arithmetic, the limiter's promise, WAV read back."""

from __future__ import annotations

import io
import wave

import numpy as np
import pytest

from jam.sound.levels import CEILING_DBFS, limit, loudness_db, measure
from jam.sound.voices import RATE_HZ
from jam.sound.wav import write_wav


def sine(level, sec=2.0, hz=997.0):
    wave_ = level * np.sin(2 * np.pi * hz * np.arange(round(sec * RATE_HZ)) / RATE_HZ)
    return np.stack([wave_, wave_]).astype(np.float32)


def test_loudness_of_a_sine_is_its_power():
    """A sine of amplitude a on both channels has mean squares a²/2 + a²/2, so 20 log10 a."""
    assert loudness_db(sine(0.1)) == pytest.approx(-20.0, abs=0.05)


def test_silence_does_not_count():
    """Gating: two seconds of sound after a minute of silence are as loud as alone."""
    long = np.concatenate([np.zeros((2, 60 * RATE_HZ), dtype=np.float32), sine(0.1)], axis=1)
    assert loudness_db(long) == pytest.approx(-20.0, abs=0.5)


def test_measures_of_silence_are_finite():
    """Silence, or a sound shorter than a block, has a level and no error."""
    assert measure(np.zeros((2, RATE_HZ), dtype=np.float32)).peak_dbfs == -120.0
    assert loudness_db(np.zeros((2, 10), dtype=np.float32)) == -120.0
    assert loudness_db(np.zeros((2, 0), dtype=np.float32)) == -120.0


@pytest.mark.parametrize("seed", range(5))
def test_limiter_keeps_its_promise(seed):
    """Bursts of any height and place come out under the ceiling."""
    rng = np.random.default_rng(seed)
    sound = rng.normal(0.0, 0.1, (2, 30_011)).astype(np.float32)
    for place in rng.integers(0, 30_000, 12):
        sound[:, place : place + int(rng.integers(1, 400))] *= rng.uniform(2, 60)
    limit(sound)
    assert measure(sound).peak_dbfs <= CEILING_DBFS + 1e-3


def test_limiter_leaves_the_rest_alone():
    """What is far from a peak keeps its samples, and gain moves without jumps near one."""
    sound = sine(0.3)
    peak_at = RATE_HZ
    sound[:, peak_at : peak_at + 480] *= 5.0
    before = sound.copy()
    limit(sound)
    assert np.array_equal(sound[:, : peak_at - 4800], before[:, : peak_at - 4800])
    gain = sound[0, peak_at - 4800 : peak_at] / before[0, peak_at - 4800 : peak_at]
    steady = np.abs(before[0, peak_at - 4800 : peak_at]) > 0.05
    assert np.abs(np.diff(gain[steady])).max() < 0.01


def test_wav_reads_back():
    """The standard library reads the file back: 48 kHz, 16 bits, two channels, same samples; the
    stream is left open for its owner."""
    sound = np.ascontiguousarray(sine(0.5, 0.25).T)
    stream = io.BytesIO()
    write_wav(sound, stream)
    stream.seek(0)
    with wave.open(stream) as file:
        assert (file.getframerate(), file.getsampwidth(), file.getnchannels()) == (RATE_HZ, 2, 2)
        pcm = np.frombuffer(file.readframes(file.getnframes()), dtype="<i2").reshape(-1, 2)
    assert np.abs(pcm / 32767.0 - sound).max() <= 0.51 / 32767.0
