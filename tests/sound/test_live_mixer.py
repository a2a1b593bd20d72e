"""The live mixer: the same sound however it is cut into blocks, and the same as the whole piece."""

from __future__ import annotations

import numpy as np
import pytest

from jam.sound.levels import CEILING_DBFS
from jam.sound.live_bank import NoteBank
from jam.sound.live_limiter import DELAY
from jam.sound.live_mixer import MOST_VOICES, LiveMixer
from jam.sound.live_voice import OPEN_END, LiveVoice
from jam.sound.mixer import SoundNote, level_of, mix
from jam.sound.recipes import PART_VOICES
from jam.sound.voices import RATE_HZ, Noise

MAIN = dict.fromkeys((*PART_VOICES, "drums", "click"), (0, 1))


@pytest.fixture(scope="module")
def noise():
    return Noise(np.random.default_rng(1))


@pytest.fixture(scope="module")
def bank(noise):
    return NoteBank(noise, RATE_HZ)


def voice_of_note(bank, id, note, *, open_end=False):
    colour = bank.colour(note.part, note.pitch, note.velocity)
    start, end = round(note.t * RATE_HZ), round(note.end * RATE_HZ)
    release = bank.release(colour.voice)
    voice = LiveVoice(id, note.part, colour.voice, np.float32(level_of(note.velocity)), release)
    voice.samples = bank.make(colour, end - start)
    return voice, start, OPEN_END if open_end else end


def mixer_with(noise, notes=(), outputs=MAIN, **how):
    mixer = LiveMixer(outputs, noise, **how)
    own = NoteBank(noise, RATE_HZ)
    for id, note in enumerate(notes):
        mixer.add(*voice_of_note(own, id, note))
    return mixer


def rendered(mixer, frames, sizes=(256,), channels=2):
    """Return ``frames`` of sound, rendered in blocks of ``sizes`` in turn."""
    blocks, done = [], 0
    while done < frames:
        size = min(sizes[len(blocks) % len(sizes)], frames - done)
        blocks.append(np.full((size, channels), np.nan, np.float32))
        mixer.render(blocks[-1])
        done += size
    return np.concatenate(blocks)


def a_band(sec):
    """A second of nothing, then bass, chords, strokes and a line."""
    notes = []
    for beat in range(round(sec / 0.37)):
        t = 1.003 + 0.37 * beat
        notes.append(SoundNote(t, t + 0.35, "bass", 34 + beat % 9, 90))
        notes.append(SoundNote(t, t + 0.1, "drums", 51, 70))
        notes += [SoundNote(t + 0.1, t + 0.3, "comping", p, 60) for p in (52, 57, 64)]
        notes.append(SoundNote(t + 0.21, t + 0.5, "companion", 70 + beat % 5, 100))
    return sorted(notes, key=lambda n: (n.t, n.part, n.pitch, n.end, n.velocity))


@pytest.mark.parametrize("sizes", [(1000,), (1, 17, 300, 64, 999), (128,), (31, 33)])
@pytest.mark.parametrize("master", [0.5, 1.0])
def test_cutting_into_blocks_changes_nothing(noise, sizes, master):
    """Irregular blocks give bit for bit the samples of regular ones: room, fade, limiter too."""
    frames = 2 * RATE_HZ
    plain = rendered(mixer_with(noise, a_band(1.5), master=master), frames)
    assert plain.any()
    other = rendered(mixer_with(noise, a_band(1.5), master=master), frames, sizes)
    assert np.array_equal(plain, other)


@pytest.mark.parametrize("room", [False, True])
def test_the_same_sound_as_the_whole_piece(noise, room, monkeypatch):
    """But for one gain over all, the live sound is that of the mixer of whole pieces, to what
    float32 can tell; the quiet start aside, which is over when the notes compared begin."""
    if not room:
        monkeypatch.setattr("jam.sound.mixer.add_room", lambda sound, send, noise: None)
    first = [SoundNote(0.0, 0.05, "click", 76, 1)]
    notes = first + a_band(3.0)
    whole = mix(notes, 4.5, rng=np.random.default_rng(1))
    live = rendered(mixer_with(noise, notes, master=0.2, room=room), len(whole), (300, 77))
    heard = slice(RATE_HZ + 4800, len(whole) - 2000)
    gain = np.vdot(whole[heard], live[heard]) / np.vdot(whole[heard], whole[heard])
    assert np.abs(live[heard] - gain * whole[heard]).max() < 2e-5 * np.abs(live[heard]).max()


def test_onsets_are_on_their_frames(noise):
    """A hundred strokes at uneven frames begin exactly there: error 0 samples."""
    rng = np.random.default_rng(3)
    frames = 7001 + np.cumsum(rng.integers(5000, 9001, 100))
    notes = [SoundNote(f / RATE_HZ, f / RATE_HZ + 0.01, "click", 77, 90) for f in frames]
    sound = np.abs(rendered(mixer_with(noise, notes), int(frames[-1]) + 5000, (256, 100)))
    heard = sound.max(axis=1) > 0
    silent_before = np.convolve(heard, np.ones(400), "full")[: heard.size] - heard
    # A click is a sum of sines: its own first sample is 0.
    assert list(np.flatnonzero(heard & (silent_before == 0)) - 1) == list(frames)


def largest_step(sound):
    return np.abs(np.diff(sound, axis=0)).max()


def test_silence_makes_no_click_and_forgets_the_rest(noise):
    """Within 10 ms (and the room) all is quiet, no step is larger than the music's own."""
    notes = [SoundNote(0.0, 3.0, "companion", p, 90) for p in (60, 64, 67)]
    notes.append(SoundNote(1.6, 2.0, "bass", 40, 90))
    mixer = mixer_with(noise, notes, room=False)
    before = rendered(mixer, round(1.5 * RATE_HZ))
    mixer.silence(0)
    after = rendered(mixer, RATE_HZ)
    assert largest_step(np.concatenate([before[-100:], after])) <= 1.05 * largest_step(before)
    assert not after[DELAY + 480 :].any()
    assert mixer.voices == (0, 0)


def test_cut_ends_a_note_on_its_frame(noise):
    """A note that is cut sounds as if that end had been asked for; one to come likewise."""
    long, short = (SoundNote(0.1, end, "companion", 69, 90) for end in (2.0, 0.7))
    mixer = mixer_with(noise, [long])
    start = rendered(mixer, RATE_HZ // 2)
    mixer.cut(0, round(0.7 * RATE_HZ))
    cut = np.concatenate([start, rendered(mixer, RATE_HZ)])
    assert np.allclose(cut, rendered(mixer_with(noise, [short]), len(cut)), atol=1e-6)
    early = mixer_with(noise, [long])
    early.cut(0, round(0.7 * RATE_HZ))
    assert np.allclose(rendered(early, len(cut)), cut, atol=1e-6)


def test_cut_before_the_start_and_revoke_leave_nothing(noise):
    """A note that is revoked, or cut before it begins, is never heard."""
    notes = [SoundNote(0.2, 1.0, "bass", 40 + k, 90) for k in range(2)]
    mixer = mixer_with(noise, notes)
    mixer.revoke(0)
    mixer.cut(1, round(0.15 * RATE_HZ))
    assert not rendered(mixer, RATE_HZ).any()


def test_replacing_a_note_to_come(noise, bank):
    """The second note of an id takes the place of the first; once one sounds, it stays."""
    mixer = mixer_with(noise, [SoundNote(0.1, 0.3, "bass", 40, 90)])
    other = SoundNote(0.2, 0.5, "bass", 47, 90)
    mixer.add(*voice_of_note(bank, 0, other))
    sound = rendered(mixer, RATE_HZ // 4)
    assert not sound[: round(0.2 * RATE_HZ)].any()
    mixer.add(*voice_of_note(bank, 0, SoundNote(0.3, 0.9, "bass", 30, 90)))
    assert mixer.voices == (0, 1)


def test_late_note_begins_at_once_with_its_true_end(noise, bank):
    """Handed over late, or prepared late, a note begins with the next piece and ends in time."""
    mixer = mixer_with(noise)
    rendered(mixer, 4800)
    voice, start, end = voice_of_note(bank, 1, SoundNote(0.05, 0.3, "companion", 69, 90))
    ready, voice.samples = voice.samples, None
    mixer.add(voice, start, end)
    assert not rendered(mixer, 512).any()
    voice.samples = ready
    sound = rendered(mixer, RATE_HZ // 2)
    assert voice.start == 4800 + 512 + DELAY
    assert voice.end == end
    assert np.abs(sound[DELAY : DELAY + 500]).max() > 0
    over, start, end = voice_of_note(bank, 2, SoundNote(0.05, 0.3, "companion", 69, 90))
    mixer.add(over, start, end)
    rendered(mixer, 512)
    assert mixer.voices == (0, 0)


def test_samples_that_run_out_are_let_go_before(noise, bank):
    """A note of unknown length fades before its samples end, unless longer ones came."""
    note = SoundNote(0.0, 0.2, "player", 60, 90)
    mixer = mixer_with(noise)
    mixer.add(*voice_of_note(bank, 0, note, open_end=True))
    sound = rendered(mixer, 2 * RATE_HZ)
    assert mixer.voices == (0, 0)
    assert largest_step(sound[2000:]) <= 1.05 * largest_step(sound[:2000])
    longer = mixer_with(noise)
    voice, start, end = voice_of_note(bank, 1, note, open_end=True)
    longer.add(voice, start, end)
    rendered(longer, 4800)
    voice.samples = bank.make(bank.colour("player", 60, 90), 3 * RATE_HZ)
    rendered(longer, RATE_HZ)
    assert longer.voices == (0, 1)


@pytest.mark.parametrize("seed", range(3))
def test_never_above_the_ceiling(noise, seed):
    """However many loud notes at full level, no sample passes the ceiling, and it is used."""
    rng = np.random.default_rng(seed)
    notes = []
    for id in range(60):
        t = float(rng.uniform(0.0, 1.6))
        part = ("bass", "companion", "drums", "player")[id % 4]
        pitch = 36 if part == "drums" else int(rng.integers(36, 80))
        notes.append(SoundNote(t, t + 0.6, part, pitch, 127))
    sound = rendered(mixer_with(noise, notes, master=1.0), 2 * RATE_HZ, (256, 31))
    ceiling = 10 ** (CEILING_DBFS / 20)
    assert 0.8 * ceiling < np.abs(sound).max() <= ceiling + 1e-6


def test_parts_leave_on_their_own_channels(noise):
    """A click for the headphones is on their pair and nowhere else, the band on the main pair."""
    outputs = {"click": (2, 3), "bass": (0, 1)}
    mixer = mixer_with(noise, [SoundNote(0.1, 0.2, "click", 76, 90)], outputs)
    sound = rendered(mixer, RATE_HZ // 2, channels=4)
    assert sound[:, 2:].any()
    assert not sound[:, :2].any()
    mixer = mixer_with(noise, [SoundNote(0.1, 0.2, "bass", 40, 90)], outputs)
    sound = rendered(mixer, RATE_HZ // 2, channels=4)
    assert sound[:, :2].any()
    assert not sound[:, 2:].any()


def test_level_moves_without_a_step(noise):
    """A fader thrown from 1 to 0 in mid-note ends the sound within 30 ms and makes no click."""
    mixer = mixer_with(noise, [SoundNote(0.0, 3.0, "companion", 60, 90)], room=False)
    before = rendered(mixer, round(1.5 * RATE_HZ))
    mixer.level("companion", 0.0)
    after = rendered(mixer, RATE_HZ // 2)
    assert largest_step(np.concatenate([before[-100:], after])) <= 1.05 * largest_step(before)
    assert not after[DELAY + 1440 :].any()
    mixer.level(None, 1.0)
    mixer.level("companion", 1.0)
    assert rendered(mixer, RATE_HZ // 2).any()


def test_shift_moves_what_is_planned(noise):
    """Once the clock was moved, notes to come begin so many frames later."""
    mixer = mixer_with(noise, [SoundNote(0.1, 0.2, "click", 76, 90)])
    mixer.shift(333)
    heard = rendered(mixer, RATE_HZ // 2).any(axis=1)
    assert int(np.argmax(heard)) - 1 == 4800 + 333  # a click's own first sample is 0


def test_no_more_voices_than_there_is_time_for(noise):
    """Beyond the most, the oldest notes are let go."""
    count = MOST_VOICES + 20
    notes = [SoundNote(0.001 * k, 3.0, "comping", 30 + k, 60) for k in range(count)]
    mixer = mixer_with(noise, notes)
    rendered(mixer, RATE_HZ)
    assert mixer.voices == (0, MOST_VOICES)


def test_starts_quietly(noise):
    """The first tenth of a second of the first note is 12 dB below the same note later on."""
    notes = [SoundNote(0.5 * k, 0.5 * k + 0.4, "bass", 40, 90) for k in range(1, 6)]
    sound = np.abs(rendered(mixer_with(noise, notes), 3 * RATE_HZ))
    early, late = (sound[round(t * RATE_HZ) :][:4800].max() for t in (0.5, 2.0))
    assert early < late / 4
