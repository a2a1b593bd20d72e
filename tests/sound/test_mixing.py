"""The mixer: notes in seconds become samples at their places, within bounds."""

from __future__ import annotations

import numpy as np
import pytest

from jam.sound.levels import CEILING_DBFS, TARGET_DB, measure
from jam.sound.mixer import SoundNote, mix, tail_sec
from jam.sound.recipes import KEY_VOICES, PART_VOICES
from jam.sound.voices import RATE_HZ

PITCHED = sorted(PART_VOICES)
STROKES = [("drums", key) for key in sorted(KEY_VOICES)] + [("click", 76), ("click", 77)]


def sound_of(notes, length_sec=3.0, seed=1):
    return mix(notes, length_sec, rng=np.random.default_rng(seed))


def first_frame(sound, floor=1e-5):
    return int(np.argmax(np.abs(sound).max(axis=1) > floor))


def busy_notes():
    notes = []
    for beat in range(32):
        t = 0.4 * beat
        notes.append(SoundNote(t, t + 0.38, "bass", 34 + beat % 9, 90))
        notes.append(SoundNote(t, t + 0.1, "drums", 51, 70))
        notes += [SoundNote(t, t + 0.3, "comping", p, 60) for p in (52, 57, 60, 64)]
        notes.append(SoundNote(t, t + 0.4, "companion", 70 + beat % 5, 100))
    return notes


@pytest.mark.parametrize("at_sec", [0.0, 0.3333, 1.234567])
@pytest.mark.parametrize(
    ("part", "pitch"), [(part, 40 if part == "bass" else 69) for part in PITCHED] + STROKES
)
def test_onset_is_within_a_millisecond_of_its_time(part, pitch, at_sec):
    """Nothing is heard before a note's sample, and the note is there a millisecond after it."""
    sound = sound_of([SoundNote(at_sec, at_sec + 0.5, part, pitch, 80)])
    assert 0 <= first_frame(sound) - round(at_sec * RATE_HZ) <= RATE_HZ // 1000


def test_strokes_of_one_key_lie_exactly_as_planned():
    """Onsets of many clicks at uneven times are found on the sample they were planned for."""
    times = [0.5, 0.9017, 1.40003, 2.2]
    sound = sound_of([SoundNote(t, t + 0.05, "click", 77, 90) for t in times])
    for t in times:
        frame = round(t * RATE_HZ)
        assert not sound[frame - 200 : frame].any()
        assert np.abs(sound[frame : frame + 3]).max() > 0


def test_silence_after_the_last_release():
    """Once every note and the room have rung out there is nothing left at all."""
    notes = busy_notes()
    quiet_from = tail_sec(notes)
    sound = sound_of(notes, quiet_from + 1.0)
    after = sound[round(quiet_from * RATE_HZ) + 1 :]
    assert np.abs(after).max() < 10 ** (-100 / 20)


def test_level_is_moderate_and_below_full_scale():
    """A full band comes out at the target loudness, its peaks under -1 dB of full scale."""
    levels = measure(sound_of(busy_notes(), 14.0).T)
    assert levels.peak_dbfs <= CEILING_DBFS + 0.01 <= -1.0
    assert levels.loudness_db == pytest.approx(TARGET_DB, abs=1.0)


def test_loud_notes_in_a_quiet_piece_do_not_clip():
    """However far a burst stands out from the rest, no sample passes the ceiling."""
    notes = [SoundNote(0.5 * k, 0.5 * k + 0.4, "bass", 40, 60) for k in range(40)]
    notes += [SoundNote(10.0, 10.2, "companion", 50 + k, 127) for k in range(20)]
    levels = measure(sound_of(notes, 21.0).T)
    assert CEILING_DBFS - 0.5 < levels.peak_dbfs <= CEILING_DBFS + 0.01


def test_sound_starts_quietly():
    """The first tenth of a second is at least 12 dB below the same music later on."""
    notes = [SoundNote(0.1 * k, 0.1 * k + 0.09, "bass", 40, 90) for k in range(60)]
    sound = sound_of(notes, 6.5)
    early, later = sound[: RATE_HZ // 10], sound[3 * RATE_HZ : 3 * RATE_HZ + RATE_HZ // 10]
    assert np.abs(early).max() < np.abs(later).max() / 4.0


def test_equal_seeds_give_equal_samples_in_any_order():
    """The sound depends on notes and seed, not on the order in which the notes were handed in."""
    notes = busy_notes()
    assert np.array_equal(sound_of(notes, 5.0), sound_of(notes[::-1], 5.0))
    assert not np.array_equal(sound_of(notes, 5.0), sound_of(notes, 5.0, seed=2))


def test_note_sounds_to_its_own_end():
    """Two notes of one colour but unlike lengths each stop where they should."""
    notes = [
        SoundNote(1.0, 1.2, "companion", 69, 90),
        SoundNote(2.0, 3.4, "companion", 69, 90),
    ]
    sound = np.abs(sound_of(notes, 4.5)).max(axis=1)
    level = [sound[round(t * RATE_HZ) :][:2400].max() for t in (1.1, 1.35, 3.3, 3.6)]
    assert level[1] < level[0] / 5.0
    assert level[2] > 3.0 * level[1]
    assert level[3] < level[2] / 5.0


def test_no_notes_is_silence():
    """An empty piece is as long as asked and silent."""
    sound = sound_of([], 0.5)
    assert sound.shape == (RATE_HZ // 2, 2)
    assert sound.dtype == np.float32
    assert not sound.any()


@pytest.mark.parametrize(
    "note",
    [SoundNote(-0.1, 1.0, "bass", 40, 80), SoundNote(0.0, 1.0, "bass", 40, 0)],
)
def test_impossible_notes_are_refused(note):
    """A note before the start or without a velocity is an error of the caller, named."""
    with pytest.raises(ValueError, match="cannot be heard"):
        sound_of([note])
