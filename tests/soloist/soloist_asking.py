"""Questions to the soloist for the tests: tempi, metres, progressions, windows and calls."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from hypothesis import strategies as st

from jam.harmony.changes import Change, Changes
from jam.harmony.chord import NO_CHORD, Chord
from jam.harmony.functions import function_of
from jam.harmony.keys import Key, parse_key
from jam.harmony.symbols import parse_chord
from jam.listening.cells import cells_of
from jam.listening.phrase import GridNote, PhraseDescription
from jam.players.soloist.request import Request, Window
from jam.session.idioms import find_idiom
from jam.session.resources import find_style, list_styles
from jam.transport.metre import Bars, Metre

STYLES = {
    entry.name: find_style(str(entry.path)).value
    for entry in list_styles()
    if entry.origin == "built in"
}
IDIOM = find_idiom("mainstream").value
METRES = (
    Metre(4, 4, 1.0),
    Metre(3, 4, 1.0),
    Metre(6, 8, 1.5),
    Metre(2, 2, 2.0),
    Metre(5, 4, 1.0),
)
ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
SUFFIXES = (
    *("maj7", "6", "", "m7", "m6", "mMaj7", "m", "7", "7alt", "7#5", "7b9", "13", "7sus4"),
    *("7susb9", "m7b5", "dim7", "maj7#5", "7#11", "m9", "aug", "sus4"),
)
KEYS = (None, "C major", "Eb major", "A minor", "F# minor")
WAYS = ("hold", "hold", "one", "one", "one", "two", "late", "passing")
"""What a bar of a random progression does."""


def placed(
    rows: Sequence[tuple[float, Chord, bool]], key: Key | None, *, blues: bool = False
) -> Changes:
    """Return changes from (beat, chord, passing), each with its function."""
    chords = [*(chord for _, chord, _ in rows), None]
    return Changes(
        [
            Change(beat, chord, passing, function_of(chord, following, key, blues))
            for (beat, chord, passing), following in zip(rows, chords[1:], strict=True)
        ]
    )


def in_bars(symbols: str, bar_beats: float = 4.0, start: float = 0.0, key: str = "") -> Changes:
    """Return changes from text: bars between strokes, the chords of a bar equally long."""
    rows = []
    for number, bar in enumerate(symbols.split("|")):
        names = bar.split()
        for place, name in enumerate(names):
            beat = start + (number + place / len(names)) * bar_beats
            rows.append((beat, parse_chord(name), False))
    return placed(rows, parse_key(key) if key else None)


def described(
    rows: Sequence[tuple[float, float, int]], bars: Bars, velocity: int = 80
) -> PhraseDescription:
    """Return the description of a call from (beat, beats, pitch)."""
    notes = tuple(GridNote(beat, beats, pitch, velocity, "1", True) for beat, beats, pitch in rows)
    pitches = [note.pitch for note in notes]
    end = notes[-1].beat + notes[-1].beats
    return PhraseDescription(
        notes=notes,
        cells=cells_of(notes, bars),
        start_beat=notes[0].beat,
        end_beat=end,
        density=len(notes) / (end - notes[0].beat),
        low=min(pitches),
        high=max(pitches),
        velocity=float(velocity),
        contour=0,
        starts_off_beat=notes[0].beat % 1 > 0.01,
        ends_off_beat=notes[-1].beat % 1 > 0.01,
        open_ending=True,
        triplets=0.0,
        swing_ratio=None,
    )


def random_call(rng: np.random.Generator, end: float, bars: Bars) -> PhraseDescription:
    """Return a call of 3 to 14 notes on eighths and triplets that ends before ``end``."""
    gaps = rng.choice([1 / 3, 0.5, 0.5, 0.5, 1.0, 1.5, 2.5], int(rng.integers(3, 15)))
    onsets = end - np.cumsum(gaps)[::-1]
    pitches = np.clip(60 + np.cumsum(rng.integers(-5, 6, len(gaps))), 36, 96)
    rows = [
        (round(float(onset) * 12) / 12, round(float(min(gap, 2.0)) * 12) / 12, int(pitch))
        for onset, gap, pitch in zip(onsets, gaps, pitches, strict=True)
    ]
    return described(rows, bars)


def random_rows(
    rng: np.random.Generator, ways: Sequence[str], metre: Metre, begin: float, *, hair: float
) -> list[tuple[float, Chord, bool]]:
    """Return a random progression, a bar for each of ``ways``.

    *hold*: no new chord; *one*: on the bar line; *two*: half way too; *late*: on the last pulse
    only; *passing*: a chord shorter than a pulse, or marked passing. Chords may stand up to
    ``hair`` beats off the grid, as heard ones do.
    """
    length, pulse = metre.bar_beats, metre.pulse_beats
    rows = [(begin, any_chord(rng), False)]
    for number, way in enumerate(ways):
        bar = begin + number * length
        if way in ("one", "two", "passing") and number:
            rows.append((bar, any_chord(rng), False))
        if way == "two":
            half = math.ceil(length / pulse / 2) * pulse if length > pulse else length / 2
            rows.append((bar + half, any_chord(rng), False))
        if way == "late":
            rows.append((bar + length - pulse, any_chord(rng), False))
        if way == "passing":
            marked = bool(rng.random() < 0.5)
            rows.append((bar + length - (pulse if marked else pulse / 2), any_chord(rng), marked))
    moved = [(beat + hair * float(rng.uniform(-1, 1)), *rest) for beat, *rest in rows[1:]]
    kept = [rows[0]]
    for row in moved:
        if row[0] > kept[-1][0] + 0.2:
            kept.append(row)
    return kept


def any_chord(rng: np.random.Generator) -> Chord:
    """Return a random chord: any root and family, now and then over another bass or none."""
    dice = rng.random()
    if dice < 0.03:
        return NO_CHORD
    root, suffix = ROOTS[int(rng.integers(12))], SUFFIXES[int(rng.integers(len(SUFFIXES)))]
    bass = "/" + ROOTS[int(rng.integers(12))] if dice > 0.9 else ""
    return parse_chord(root + suffix + bass)


@st.composite
def requests(draw: st.DrawFn) -> Request:
    """Questions of every kind: metres, tempi, styles, progressions, windows, with and without
    a call."""
    metre = draw(st.sampled_from(METRES))
    bpm = float(draw(st.integers(55, 320)))
    style = draw(st.sampled_from(sorted(STYLES)))
    turn = draw(st.integers(1, 8))
    before = draw(st.integers(1, 3))
    ways = draw(st.lists(st.sampled_from(WAYS), min_size=before + turn, max_size=before + turn))
    hair = draw(st.sampled_from([0.0, 0.0, 0.06]))
    key_name = draw(st.sampled_from(KEYS))
    blues = draw(st.booleans())
    late = draw(st.sampled_from([0.0, 0.0, 0.0, 0.5, 1.0]))
    pickup = draw(st.sampled_from([0.0, 0.25, 1.0]))
    seed = draw(st.integers(0, 10_000))
    has_call = draw(st.sampled_from([True, True, True, False]))
    rng = np.random.default_rng((seed, 5))
    key = parse_key(key_name) if key_name else None
    bars = Bars(metre.bar_beats)
    rows = random_rows(rng, [*ways, "one", "one"], metre, 0.0, hair=hair)
    start = before * metre.bar_beats
    end = start + turn * metre.bar_beats
    lead = pickup * metre.pulse_beats * (2 if bpm > 200 else 1)
    start = min(start + late, end - 1.5)
    return Request(
        window=Window(start, end, start - lead, end + metre.pulse_beats),
        changes=placed(rows, key, blues=blues),
        bars=bars,
        pulse_beats=metre.pulse_beats,
        bpm=bpm,
        feel=draw(st.sampled_from(["swing", "straight"])),
        style=STYLES[style],
        seed=(seed, 1),
        call=random_call(rng, start - 0.5, bars) if has_call else None,
        key=key,
        blues=blues,
        idiom=IDIOM,
    )


def plain_request(**changed: object) -> Request:
    """Return a four-bar question over Dm7 G7 Cmaj7 A7 in C at 160 bpm, with ``changed`` fields."""
    bars = Bars()
    changes = in_bars("Cmaj7|A7|Dm7|G7|Cmaj7|A7|Dm7|G7|Cmaj7", start=-8.0, key="C major")
    request = Request(
        window=Window(0.0, 16.0, -1.0, 17.0),
        changes=changes,
        bars=bars,
        pulse_beats=1.0,
        bpm=160.0,
        feel="swing",
        style=STYLES["bop"],
        seed=(1, 1),
        key=parse_key("C major"),
        idiom=IDIOM,
    )
    return replace(request, **changed)  # type: ignore[arg-type]


def call_from_cell(
    cell: Sequence[tuple[float, int]], shifts: Sequence[int], start: float, bars: Bars
) -> PhraseDescription:
    """Return a call that says a cell of (onset, pitch) once for each shift, four beats apart."""
    rows: list[tuple[float, float, int]] = []
    for number, shift in enumerate(shifts):
        onsets = [onset for onset, _ in cell]
        lengths = [min(0.5, b - a) for a, b in pairwise(onsets)] + [1.0]
        rows += [
            (start + 4 * number + onset, length, pitch + shift)
            for (onset, pitch), length in zip(cell, lengths, strict=True)
        ]
    return described(rows, bars)
