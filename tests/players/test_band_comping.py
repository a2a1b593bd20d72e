"""Comping: voicings of the right chord, led smoothly, in their register, let go in time."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from band_spans import METRES, ROOTS, SUFFIXES, TUNES, changes_of, play_all, spans_of

from jam.harmony.changes import Change
from jam.harmony.functions import function_of
from jam.harmony.symbols import parse_chord
from jam.harmony.voicings import guide_tones
from jam.players.comping import HIGHEST, LOWEST, Comping, lead
from jam.transport.metre import Metre

COMMON = Metre()


def struck(notes):
    """Return the chords struck: ``(beat, beats, pitches)`` in order."""
    chords = {}
    for note in notes:
        chords.setdefault((note.beat, note.beats), []).append(note.pitch)
    return [(beat, beats, tuple(pitches)) for (beat, beats), pitches in chords.items()]


def judged(line, beat, metre=COMMON):
    """Return the chord a stroke is judged by: off the pulse, the one that comes in an eighth."""
    changes = changes_of(line, metre.bar_beats)
    coming = changes.after(beat)
    on_pulse = beat % metre.bar_beats % metre.pulse_beats == 0
    if coming is not None and not on_pulse and coming.beat - beat <= 0.5 + 1e-6:
        return coming.chord
    return changes.at(beat).chord


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_voicings_of_every_family_and_key_fit(suffix):
    """Every note is strong on its chord, the guide tones are there, the register is kept."""
    line = " | ".join(f"{root}{suffix}" for root in ROOTS)
    notes = play_all(Comping(), spans_of(line, intensity=1.0))
    assert notes
    for beat, _, pitches in struck(notes):
        chord = judged(line, beat)
        assert all(chord.is_strong(pitch) for pitch in pitches)
        assert set(guide_tones(chord)) <= {pitch % 12 for pitch in pitches}
        assert LOWEST <= min(pitches) <= max(pitches) <= HIGHEST
        assert len(set(pitches)) == len(pitches) >= 3


@pytest.mark.parametrize("line", TUNES)
@pytest.mark.parametrize("metre", METRES, ids=str)
@pytest.mark.parametrize(("feel", "bpm"), [("swing", 160), ("swing", 60), ("straight", 130)])
@pytest.mark.parametrize("cut", [None, 1.5])
def test_laws_over_tunes_metres_and_feels(line, metre, feel, bpm, cut):
    """Each chord is judged right, let go before the next and before its own chord is over."""
    spans = spans_of(line, metre=metre, feel=feel, bpm=bpm, cut=cut, intensity=0.8)
    notes = play_all(Comping(), spans)
    assert {n.channel for n in notes} == {2}
    chords = struck(notes)
    assert all(a[0] + a[1] <= b[0] + 1e-6 for a, b in pairwise(chords))
    for beat, beats, pitches in chords:
        chord = judged(line, beat, metre)
        assert not chord.is_none
        assert all(chord.is_strong(pitch) for pitch in pitches)
        end = beat + beats - 1e-3
        assert changes_of(line, metre.bar_beats).at(end).chord.same_as(chord) or end - beat <= 0.5


@pytest.mark.parametrize(
    "published",
    [
        # F A C E, F A B E, E G B D: the 3rd, the 7th, the 3rd lowest.
        [(53, 57, 60, 64), (53, 57, 59, 64), (52, 55, 59, 62)],
        # C E F A, B E F A, B D E G: the 7th, the 3rd, the 7th lowest.
        [(60, 64, 65, 69), (59, 64, 65, 69), (59, 62, 64, 67)],
    ],
)
def test_published_two_five_one(published):
    """Dm9 G13 Cmaj9 stay in the position they begin in.

    Source: rootless left-hand voicings as in four teaching pages that agree; from ii to V only the
    seventh moves, down a half step.
    """
    symbols = [parse_chord(s) for s in ("Dm7", "G7", "Cmaj7")]
    voicing, found = published[0], []
    for chord, following in zip(symbols, [*symbols[1:], None], strict=True):
        change = Change(0.0, chord, function=function_of(chord, following, None, False))
        voicing = lead(voicing, change)
        found.append(voicing)
    assert found == published


def test_voice_leading_is_close():
    """Through ii-V-I cycles notes move two half steps at most on average, never over a fourth."""
    line = "Dm7 G7 | Cmaj7 | Cm7 F7 | Bbmaj7 | Bbm7 Eb7 | Abmaj7 | Abm7 Db7 | Gbmaj7"
    chords = struck(play_all(Comping(), spans_of(line, bpm=60)))
    moves = [
        min(abs(pitch - held) for held in before)
        for (_, _, before), (_, _, after) in pairwise(chords)
        for pitch in after
    ]
    assert np.mean(moves) <= 2.0
    assert max(moves) <= 5


def test_lays_out_without_a_chord():
    """Nothing is struck on N.C., nor pushed into it, and nothing rings into it."""
    notes = play_all(Comping(), spans_of(" | ".join(["Dm7 | N.C."] * 8), intensity=1.0))
    assert notes
    assert all(n.beat % 8 < 4.0 and n.beat % 8 + n.beats <= 4.0 for n in notes)


def test_less_intensity_leaves_more_room():
    """The number of chords rises with intensity."""
    line = " | ".join(TUNES[1:2] * 4)
    counts = [
        len(struck(play_all(Comping(), spans_of(line, intensity=level))))
        for level in (0.0, 0.5, 1.0)
    ]
    assert counts[0] < 0.8 * counts[1]
    assert counts[1] < 0.9 * counts[2]


def test_rhythm_is_varied_and_off_the_beat():
    """In swing, about half of the strokes or more are off the beat, no bar copies the one before,
    and some chords are pushed into the next bar (common practice)."""
    line = " | ".join(TUNES[1:2] * 6)
    beats = [beat for beat, _, _ in struck(play_all(Comping(), spans_of(line)))]
    assert np.mean([beat % 1 == 0.5 for beat in beats]) > 0.45
    assert any(beat % 4 == 3.5 for beat in beats)
    bars = [tuple(beat % 4 for beat in beats if beat // 4 == bar) for bar in range(72)]
    assert all(a != b for a, b in pairwise(bars))


def test_ballad_holds_its_chords():
    """A ballad has one held chord a change."""
    chords = struck(play_all(Comping(), spans_of(TUNES[0], bpm=56)))
    assert [beat for beat, _, _ in chords] == [c.beat for c in changes_of(TUNES[0])]
    assert all(beats > 1.5 for _, beats, _ in chords)


def test_ending_is_held_and_last():
    """The last chord stands on the last note of the tune; nothing follows it."""
    chords = struck(play_all(Comping(), spans_of(TUNES[0], ending=28.0, intensity=1.0)))
    assert chords[-1][0] == 28.0
    assert chords[-1][1] >= 2.0
    assert all(beat + beats <= 28.0 for beat, beats, _ in chords[:-1])


def test_equal_generators_give_equal_notes():
    """The same spans are played the same way; another seed plays another way."""
    one, two, three = (play_all(Comping(), spans_of(TUNES[1], seed=s)) for s in (1, 1, 2))
    assert one == two
    assert [(n.beat, n.pitch) for n in one] != [(n.beat, n.pitch) for n in three]
