"""The bass: lands on every change, stays in its range, leads from one landing to the next."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from band_spans import METRES, ROOTS, SUFFIXES, TUNES, WALTZ, changes_of, play_all, spans_of

from jam.harmony.changes import Changes
from jam.harmony.scales import scale_of
from jam.players.bass import Bass
from jam.players.comping import Comping
from jam.players.walking import HIGHEST, LOWEST


def landings(line, notes, bar_beats=4.0):
    """Yield each change of chord (N.C. left out) with the first bass note from it on."""
    before = None
    for change in changes_of(line, bar_beats):
        if before is not None and before.same_as(change.chord):
            continue
        before = change.chord
        if not before.is_none:
            yield (
                change,
                min((n for n in notes if n.beat > change.beat - 1e-6), key=lambda n: n.beat),
            )


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_root_on_the_change_for_every_family_and_key(suffix):
    """Whatever the chord, its bass is the first note on it, a walk through the circle of keys."""
    line = " | ".join(f"{root}{suffix}" for root in ROOTS)
    notes = play_all(Bass(), spans_of(line))
    for change, note in landings(line, notes):
        assert note.beat == change.beat
        assert note.pitch % 12 == change.chord.bass


@pytest.mark.parametrize("line", TUNES)
@pytest.mark.parametrize("metre", METRES, ids=str)
@pytest.mark.parametrize(("feel", "bpm"), [("swing", 160), ("swing", 60), ("straight", 130)])
def test_laws_over_tunes_metres_and_feels(line, metre, feel, bpm):
    """Every change is landed on, in range, one note at a time, none struck three times running."""
    notes = play_all(Bass(), spans_of(line, metre=metre, feel=feel, bpm=bpm))
    for change, note in landings(line, notes, metre.bar_beats):
        assert note.beat == pytest.approx(change.beat)
        assert note.pitch % 12 == change.chord.bass
    assert {n.channel for n in notes} == {1}
    assert all(LOWEST <= n.pitch <= HIGHEST for n in notes)
    assert all(a.beat + a.beats <= b.beat + 1e-6 for a, b in pairwise(notes))
    pitches = [n.pitch for n in notes]
    runs = zip(pitches, pitches[1:], pitches[2:], strict=False)
    assert not any(a == b == c for a, b, c in runs)


def test_rests_without_a_chord():
    """Nothing is played on N.C., and the note before it has ended by then."""
    notes = play_all(Bass(), spans_of("Dm7 | N.C. | G7 N.C. | C6"))
    assert all(n.beat < 4.0 or 8.0 <= n.beat < 10.0 or n.beat >= 12.0 for n in notes)
    assert all(n.beat + n.beats <= 4.0 for n in notes if n.beat < 4.0)


def test_walk_is_quarter_notes():
    """In four the bass walks a note a beat, on the beat: swing is not its business."""
    notes = play_all(Bass(), spans_of(TUNES[1]))
    assert [n.beat for n in notes] == list(range(48))


def test_last_note_before_a_change_leads_there():
    """The last beat before a change is a half or whole step from the landing, or a fifth above.

    Approaches by step and by the dominant: common practice.
    """
    notes = play_all(Bass(), spans_of(TUNES[0]))
    pitch_at = {n.beat: n.pitch for n in notes}
    for change, note in landings(TUNES[0], notes):
        if change.beat:
            assert note.pitch - pitch_at[change.beat - 1] in {-2, -1, 1, 2, 5, -7}


def test_between_landings_are_chord_and_scale_tones():
    """On beats 2 and 3 of a bar with one chord, at least half are chord tones, all in the scale."""
    line = " | ".join(["Dm7 | G7 | Cmaj7 | Fmaj7 | Bm7b5 | E7 | Am7 | D7"] * 6)
    notes = play_all(Bass(), spans_of(line))
    changes = changes_of(line)
    inner = [(n.pitch, changes.at(n.beat).chord) for n in notes if n.beat % 4 in (1, 2)]
    assert all(pitch % 12 in chord.tones | scale_of(chord, "none") for pitch, chord in inner)
    assert np.mean([pitch % 12 in chord.tones for pitch, chord in inner]) > 0.5


def test_a_mode_is_walked_by_step():
    """Over one chord that lasts, most moves inside the bar are of a third or less, in the mode."""
    line = " | ".join(["Dm7"] * 16)
    notes = play_all(Bass(), spans_of(line))
    moves = [abs(b.pitch - a.pitch) for a, b in pairwise(notes)]
    assert np.mean([move <= 4 for move in moves]) > 0.7
    assert len({n.pitch % 12 for n in notes}) >= 6


def test_half_bar_changes_get_root_and_approach():
    """Two chords in a bar: each gets its bass and a note that leads on."""
    notes = play_all(Bass(), spans_of("Dm7 G7 | Em7 A7 | Dm7 G7 | C6 A7"))
    roots = [n.pitch % 12 for n in notes if n.beat % 2 == 0]
    assert roots == [2, 7, 4, 9, 2, 7, 0, 9]
    assert len(notes) == 16


def test_two_feel_in_a_ballad():
    """A ballad has half notes."""
    notes = play_all(Bass(), spans_of(TUNES[0], bpm=58))
    assert [n.beat for n in notes] == list(range(0, 32, 2))
    assert all(n.beats > 1.5 for n in notes)


def test_root_and_fifth_over_even_eighths():
    """Straight feel: root on 1, fifth on the and of 2 and on 3 (common practice)."""
    notes = play_all(Bass(), spans_of("Cmaj7 | F6 | Dm7 | G7", feel="straight"))
    assert [n.pitch % 12 for n in notes if n.beat % 4 == 0] == [0, 5, 2, 7]
    assert [n.pitch % 12 for n in notes if n.beat % 4 == 2] == [7, 0, 9, 2]
    assert {n.beat % 4 for n in notes} == {0.0, 1.5, 2.0, 3.5}


def test_slash_chords_put_their_bass_down():
    """Under a slash chord the note under the slash is played on the change."""
    notes = play_all(Bass(), spans_of("Ab/C | G7/B | Gm7/Bb | F/A"))
    assert [n.pitch % 12 for n in notes if n.beat % 4 == 0] == [0, 11, 10, 9]


@pytest.mark.parametrize("cut", [1.0, 2.0, 3.3, 8.0])
def test_spans_of_any_length_keep_the_laws(cut):
    """Asked beat by beat or two bars at a time, each change is landed on all the same."""
    notes = play_all(Bass(), spans_of(TUNES[1], cut=cut))
    assert [n.beat for n in notes] == list(range(48))
    for change, note in landings(TUNES[1], notes):
        assert (note.beat, note.pitch % 12) == (change.beat, change.chord.bass)


def test_another_chord_than_foreseen_is_landed_on():
    """When the next span's chords are not what was planned for, the bass plays what they are."""
    bass = Bass()
    first = spans_of("Dm7 | G7")[0]
    other = spans_of("Dm7 | Db7")[1]
    notes = [*bass.play(first), *bass.play(other)]
    assert notes[4].pitch % 12 == 1


@pytest.mark.parametrize("bpm", [150, 58])
@pytest.mark.parametrize("player", [Bass, Comping])
def test_changes_a_hair_off_the_grid_are_heard_as_on_it(player, bpm):
    """Chords dated by people's time (a few hundredths of a beat off) give the same playing."""
    spans = spans_of(TUNES[0], bpm=bpm)
    exact = play_all(player(), spans)
    for shift in (-0.05, 0.05):
        moved = Changes([replace(c, beat=c.beat + shift) for c in changes_of(TUNES[0])])
        notes = play_all(
            player(), [replace(span, changes=moved) for span in spans_of(TUNES[0], bpm=bpm)]
        )
        assert {(round(n.beat), n.pitch) for n in notes} == {
            (round(n.beat), n.pitch) for n in exact
        }
        assert all(n.beats > 0.1 for n in notes)


def test_ending_is_the_root_held():
    """The last note of the tune is the chord's bass, held for two beats or more, and the last."""
    notes = play_all(Bass(), spans_of(TUNES[0], ending=28.0))
    assert notes[-1].beat == 28.0
    assert notes[-1].pitch % 12 == 0
    assert notes[-1].beats >= 2.0


def test_equal_generators_give_equal_notes():
    """The same spans are played the same way; another seed walks another way."""
    one, two, three = (play_all(Bass(), spans_of(TUNES[1], seed=s)) for s in (1, 1, 2))
    assert one == two
    assert [n.pitch for n in one] != [n.pitch for n in three]


def test_no_changes_no_bass():
    """Without any harmony bass and comping rest."""
    span = replace(spans_of("C6", metre=WALTZ)[0], changes=Changes([]))
    assert Bass().play(span) == []
    assert Comping().play(span) == []
