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


def test_timing_is_a_persons() -> None:
    """Downbeats come late, about 30 ms at 150 bpm, off-beats nearly on time; nothing is exact.

    Figure of downbeats: Nelias et al. 2022.
    """
    notes = [note for notes in seeds() for note in notes]
    on = [note.late_sec for note in notes if abs(note.beat - round(note.beat)) < 1e-9]
    off = [note.late_sec for note in notes if abs(note.beat - round(note.beat)) > 0.4]
    assert 0.02 < float(np.mean(on)) < 0.045
    assert -0.005 < float(np.mean(off)) < 0.015
    assert 0.004 < float(np.std(off)) < 0.02
    assert max(abs(note.late_sec) for note in notes) < 0.066


@pytest.mark.parametrize(("bpm", "low", "high"), [(120.0, 1.3, 1.5), (240.0, 1.05, 1.3)])
def test_swing_is_a_soloists_and_falls_with_tempo(bpm: float, low: float, high: float) -> None:
    """Off-beat eighths lie where a ratio of about 1.3 puts them (Corcoran & Frieler 2021)."""
    places = [note.beat % 1.0 for note in played(2, bpm)]
    (place,) = {round(p, 6) for p in places if 0.45 < p < 0.62}
    assert low <= place / (1.0 - place) <= high


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
