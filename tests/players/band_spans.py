"""Spans for the tests of the band players: a line of symbols becomes changes and spans."""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise

import numpy as np

from jam.harmony.changes import Change, Changes
from jam.harmony.symbols import parse_chord
from jam.players.band import Span
from jam.transport.metre import Bars, Metre

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
SUFFIXES = (
    *("maj7", "6", "", "m7", "m6", "mMaj7", "m", "7", "7alt", "7b9", "9", "13", "7#11", "7sus4"),
    *("7susb9", "m7b5", "dim7", "aug", "7#5", "maj7#11", "maj7#5", "sus4"),
)
WALTZ = Metre(3, 4)
TWELVE_EIGHT = Metre(12, 8, 1.5)
METRES = (
    Metre(),
    WALTZ,
    Metre(4, 4, 2.0),
    Metre(3, 4, 3.0),
    TWELVE_EIGHT,
    Metre(6, 8, 1.5),
    Metre(5, 4),
    Metre(7, 8, 0.5),
    Metre(2, 4),
)


@lru_cache
def changes_of(line, bar_beats=4.0):
    """Return the changes of ``Dm7 G7 | Cmaj7``: bars by strokes, chords evenly, on an eighth."""
    found = []
    for number, bar in enumerate(line.split("|")):
        symbols = bar.split()
        for index, symbol in enumerate(symbols):
            beat = bar_beats * number + np.floor(2 * bar_beats * index / len(symbols)) / 2
            found.append(Change(float(beat), parse_chord(symbol)))
    return Changes(found)


def bars_in(line):
    return line.count("|") + 1


def spans_of(
    line, *, metre=None, feel="swing", bpm=150.0, seed=1, intensity=0.5, cut=None, ending=None
):
    """Return spans over all bars of a line: a bar each, or ``cut`` beats each."""
    metre = metre or Metre()
    bar = metre.bar_beats
    changes = changes_of(line, bar)
    total = bar * bars_in(line)
    edges = [*np.arange(0.0, total - 1e-9, cut or bar).tolist(), total]
    return [
        Span(
            start,
            end,
            changes,
            Bars(bar),
            metre,
            bpm,
            feel,
            np.random.default_rng((seed, index)),
            intensity,
            ending if ending is not None and start <= ending < end else None,
        )
        for index, (start, end) in enumerate(pairwise(edges))
    ]


def play_all(player, spans):
    """Ask a player span by span and check that each answer lies in its span, in order."""
    notes = []
    for span in spans:
        played = list(player.play(span))
        assert all(span.start - 1e-6 <= note.beat < span.end - 1e-6 for note in played)
        beats = [note.beat for note in played]
        assert beats == sorted(beats)
        assert all(note.beats > 0 and 1 <= note.velocity <= 127 for note in played)
        notes += played
    return notes


TUNES = (
    "Dm7 | G7 | Cmaj7 | A7alt | Dm7 G7 | Em7b5 A7b9 | Dm7 G7 | C6",
    "F7 | Bb7 | F7 | Cm7 F7 | Bb7 | Bdim7 | F7 | Am7b5 D7alt | Gm7 | C7 | F7 D7 | Gm7 C7",
    "Dm7 | Dm7 | Dm7 | Dm7 | Ebm7 | Ebm7 | Dm7 | Dm7",
    "Cm CmMaj7 Cm7 Cm6 | Ab/C | Db/C C7sus4 | N.C. | Fm6 | G7b9/B | Cm | N.C. Cm6",
)
