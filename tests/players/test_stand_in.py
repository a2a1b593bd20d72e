"""The stand-in player: in its turns only, like a person, and on the chords."""

import ast
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

import jam.players.stand_in
from jam.harmony.changes import Change, Changes
from jam.harmony.symbols import parse_chord
from jam.players.stand_in import HIGH, LOW, StandInNote, phrases
from jam.transport.metre import Bars
from jam.transport.swing import cymbal_ratio

TURNS = [(0.0, 16.0), (32.0, 48.0), (64.0, 80.0)]


def changes() -> Changes:
    symbols = ("Dm7", "G7", "Cmaj7", "A7")
    return Changes([Change(4.0 * k, parse_chord(symbols[k % 4])) for k in range(24)])


def played(seed: int = 1, bpm: float = 150.0) -> list[StandInNote]:
    rng = np.random.default_rng(seed)
    return phrases(changes(), Bars(), TURNS, bpm, rng)


def seeds() -> list[list[StandInNote]]:
    return [played(seed) for seed in range(40)]


def test_one_seed_one_performance() -> None:
    """Equal seeds play equal notes, other seeds other notes."""
    assert played(3) == played(3)
    assert played(3) != played(4)


def test_it_plays_in_its_turns_only() -> None:
    """Notes begin at most a beat before a turn, never after it, and ring on by less than a beat."""
    for notes in seeds():
        for note in notes:
            assert any(
                start - 1.0 <= note.beat < end and note.beat + note.beats < end + 1.0
                for start, end in TURNS
            )


def test_every_turn_is_played_with_breath_in_it() -> None:
    """Each turn holds a phrase of three notes or more, and most hold a rest of a beat or more."""
    breaths = 0
    for notes in seeds():
        for start, end in TURNS:
            turn = [note for note in notes if start - 1.0 <= note.beat < end]
            assert len(turn) >= 3
            breaths += any(b.beat - (a.beat + a.beats) >= 1.0 for a, b in pairwise(turn))
    assert breaths >= 0.6 * 40 * len(TURNS)


def test_notes_are_playable() -> None:
    """Pitches lie in the range, velocities are MIDI's, lengths are positive, one line in order."""
    for notes in seeds():
        assert all(LOW - 3 <= note.pitch <= HIGH for note in notes)
        assert all(1 <= note.velocity <= 127 for note in notes)
        assert all(note.beats > 0.05 for note in notes)
        assert all(a.beat < b.beat for a, b in pairwise(notes))
        assert all(b.beat + 0.1 > a.beat + a.beats for a, b in pairwise(notes))


def heard_beats(notes: list[StandInNote], bpm: float) -> dict[float, float]:
    """Return where each note on the eighths is heard, by its written place, in beats."""
    rounded = {round(2.0 * note.beat) / 2.0: note for note in notes}
    off = {beat: note.beat - beat for beat, note in rounded.items()}
    return {
        beat: note.beat + note.late_sec * bpm / 60.0
        for beat, note in rounded.items()
        if -1e-6 < off[beat] < (0.15 if beat % 1.0 else 1e-6)
    }


@pytest.mark.parametrize(("bpm", "late_sec"), [(120.0, 0.045), (150.0, 0.030), (220.0, 0.011)])
def test_timing_is_a_persons(bpm: float, late_sec: float) -> None:
    """Downbeats come late, about 30 ms at 150 bpm and in beats the less the faster; nothing is
    exact, and nothing is off by more than people are.

    Figure of downbeats and their fall: Nelias et al. 2022.
    """
    notes = [note for seed in range(20) for note in played(seed, bpm)]
    on = [note.late_sec for note in notes if abs(note.beat - round(note.beat)) < 1e-9]
    assert float(np.mean(on)) == pytest.approx(late_sec, abs=0.005)
    assert 0.004 < float(np.std(on)) < 0.02
    assert max(abs(note.late_sec) for note in notes) < 0.066


@pytest.mark.parametrize(
    ("bpm", "median"),
    [(100.0, 1.37), (140.0, 1.32), (180.0, 1.31), (220.0, 1.23), (260.0, 1.20), (300.0, 1.14)],
)
def test_the_swing_that_is_heard_is_a_soloists(bpm: float, median: float) -> None:
    """From onset to onset, lateness and all, pairs of eighths have the ratio of soloists at that
    tempo (medians of the Weimar Jazz Database), to 0.06.
    """
    ratios = []
    for seed in range(20):
        heard = heard_beats(played(seed, bpm), bpm)
        ratios += [
            (heard[beat + 0.5] - heard[beat]) / (heard[beat + 1.0] - heard[beat + 0.5])
            for beat in heard
            if beat % 1.0 == 0.0 and beat + 0.5 in heard and beat + 1.0 in heard
        ]
    assert len(ratios) > 200
    assert float(np.median(ratios)) == pytest.approx(median, abs=0.06)


def test_off_beats_come_nearer_to_the_cymbals_than_downbeats() -> None:
    """At a medium tempo the band is left behind on the beat and nearly met between beats.

    Friberg & Sundstroem 2002: downbeats after the cymbal's, off-beats together with it.
    """
    bpm = 180.0
    cymbal = cymbal_ratio(bpm) / (1.0 + cymbal_ratio(bpm))
    for seed in range(10):
        heard = heard_beats(played(seed, bpm), bpm)
        late = float(np.mean([place - beat for beat, place in heard.items() if beat % 1.0 == 0.0]))
        off = float(np.mean([place % 1.0 for beat, place in heard.items() if beat % 1.0 == 0.5]))
        assert late > 0.04
        assert 0.5 + late < off < cymbal


def test_most_notes_fit_their_chords() -> None:
    """More notes are strong degrees than a third wrong by chance would leave, not all of them."""
    notes = [note for notes in seeds() for note in notes]
    strong = sum(changes().at(note.beat + 0.01).chord.is_strong(note.pitch) for note in notes)
    assert 0.75 < strong / len(notes) < 0.99


def test_it_does_not_think_with_the_companions_head() -> None:
    """Nothing of the soloist is imported."""
    tree = ast.parse(Path(jam.players.stand_in.__file__).read_text(encoding="utf-8"))
    modules = [node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    assert modules
    assert not any("soloist" in module for module in modules)
