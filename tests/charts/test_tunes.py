"""The invented tunes: they load, they are what they say, and their melodies can be sung."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import pytest

from jam.charts.changes import bar_starts, changes_of
from jam.charts.loader import load_chart
from jam.charts.model import Chart, MelodyNote, Passage
from jam.harmony.changes import Change, Changes

FOLDER = Path(__file__).parents[2] / "config" / "charts"
NAMES = sorted(path.stem for path in FOLDER.glob("*.yaml"))

# Name: bars of a chorus, bars of the last time, metre, key, blues.
TUNES = {
    "copper-horizon": (32, 32, "4/4", "G dorian", False),
    "harbour-at-night": (12, 12, "4/4", "C minor", False),
    "lamplight-blues": (12, 16, "4/4", "F major", True),
    "letter-in-a-drawer": (16, 18, "4/4", "Db major", False),
    "paper-kites": (32, 32, "4/4", "Eb major", False),
    "the-long-stair": (16, 19, "4/4", "D minor", False),
    "twelve-doors": (24, 26, "4/4", "C major", False),
    "window-waltz": (32, 33, "3/4", "G major", False),
}


@lru_cache
def tune(name: str) -> Chart:
    file = FOLDER / f"{name}.yaml"
    return load_chart(file.read_text(encoding="utf-8"), file.name)


def passages(chart: Chart) -> list[Passage]:
    return [chart.chorus, chart.last]


def sounding(passage: Passage, change: Change, pulse_beats: float) -> MelodyNote | None:
    """Return the note across the change, or else the first within a pulse after it."""
    end = change.beat + pulse_beats
    for note in passage.melody:
        across = note.beat <= change.beat + 1e-6 < note.beat + note.beats
        if across or change.beat < note.beat < end:
            return note
    return None


def test_the_tunes_are_those_listed() -> None:
    """Eight tunes ship, and no other file lies among them."""
    assert sorted(TUNES) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_facts(name: str) -> None:
    """Length, metre, key and feel are as listed; each says that it is invented."""
    chart = tune(name)
    facts = (len(chart.chorus.bars), len(chart.last.bars), str(chart.metre), chart.key.name)
    assert (*facts, chart.blues) == TUNES[name]
    assert "invented" in chart.about.lower()
    assert chart.road_map.head == "companion"


@pytest.mark.parametrize("name", NAMES)
def test_melody_lands(name: str) -> None:
    """At each structural change the melody sounds a chord tone or an available tension."""
    chart = tune(name)
    for passage in passages(chart):
        changes = Changes(changes_of(chart, passage, 0.0))
        structural = changes.structural(0.0, passage.beats, chart.metre.pulse_beats)
        landed = [(c, sounding(passage, c, chart.metre.pulse_beats)) for c in structural]
        assert all(note is None or c.chord.is_strong(note.pitch) for c, note in landed)
        silent = sum(note is None for _, note in landed)
        assert silent <= len(landed) / 5


@pytest.mark.parametrize("name", NAMES)
def test_weak_notes_resolve(name: str) -> None:
    """Any other note is short and moves on by a step."""
    chart = tune(name)
    for passage in passages(chart):
        changes = Changes(changes_of(chart, passage, 0.0))
        for note, following in zip(passage.melody, passage.melody[1:], strict=False):
            if not changes.at(note.beat).chord.is_strong(note.pitch):
                assert note.beats <= chart.metre.pulse_beats / 2
                assert 1 <= abs(following.pitch - note.pitch) <= 2


@pytest.mark.parametrize("name", NAMES)
def test_melody_can_be_sung(name: str) -> None:
    """Two octaves at most, no leap over an octave, one note at a time, no phrase without rest."""
    chart = tune(name)
    for passage in passages(chart):
        pitches = [note.pitch for note in passage.melody]
        assert min(pitches) >= 57
        assert max(pitches) <= 84
        assert max(pitches) - min(pitches) <= 24
        rests = []
        for note, following in zip(passage.melody, passage.melody[1:], strict=False):
            assert abs(following.pitch - note.pitch) <= 12
            rest = following.beat - note.beat - note.beats
            assert rest >= -1e-6
            rests.append(rest)
        assert max(rests) <= 4.0
        assert passage.melody[-1].beat + passage.melody[-1].beats <= passage.beats + 1e-6


@pytest.mark.parametrize("name", NAMES)
def test_the_last_time_comes_to_rest(name: str) -> None:
    """The last chord is no dominant, and the last melody note is strong on it."""
    chart = tune(name)
    end = changes_of(chart, chart.last, 0.0)[-1]
    assert end.chord.kind != "dominant"
    assert end.chord.is_strong(chart.last.melody[-1].pitch)


def test_the_cycle_visits_every_key() -> None:
    """A ii-V-I is a minor seventh, a dominant a fourth up, a major seventh a fourth up again
    (common practice); the cycle tune has one in each of the twelve keys."""
    chart = tune("twelve-doors")
    changes = changes_of(chart, chart.chorus, 0.0)
    tonics = set()
    for two, five, one in zip(changes[::3], changes[1::3], changes[2::3], strict=True):
        assert (two.chord.family, five.chord.kind) == ("m7", "dominant")
        assert (five.chord.root - two.chord.root) % 12 == 5
        assert (one.chord.root - five.chord.root) % 12 == 5
        tonics.add(one.chord.root)
    assert len(tonics) == 12


def test_the_blues_stands_on_its_degrees() -> None:
    """A blues has I7 in bars 1 and 7, IV7 in bars 2 and 5, V7 in bar 10 (common practice)."""
    chart = tune("lamplight-blues")
    changes = Changes(changes_of(chart, chart.chorus, 0.0))
    starts = bar_starts(chart.chorus, 0.0)
    degrees = [(changes.at(starts[bar - 1]).chord.root - 5) % 12 for bar in (1, 7, 2, 5, 10)]
    assert degrees == [0, 0, 5, 5, 7]
    assert changes.at(0.0).function == "blues"


def test_the_minor_tune_changes_by_half_bars() -> None:
    """Nearly every bar of the half-bar tune has two chords."""
    bars = tune("the-long-stair").chorus.bars
    assert sum(len(bar.changes) == 2 for bar in bars) >= len(bars) - 1


def test_the_modal_tune_stays_eight_bars() -> None:
    """A modal tune has one chord for eight bars."""
    chart = tune("copper-horizon")
    assert [c.beat for c in changes_of(chart, chart.chorus, 0.0)] == [0.0, 32.0, 64.0, 96.0]
