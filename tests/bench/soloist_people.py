"""Human solos to try the soloist on, from a folder that is never part of the project.

The folder is an option or the environment variable ``JAM_SOLOS``; it holds one JSON file a solo
(onset, duration, pitch; beats, chords as Harte labels, phrases). Weimar Jazz Database (Pfleiderer
et al. 2017), ODbL 1.0. Beats are quarter notes counted from the first downbeat.
"""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from jam.harmony.changes import Change, Changes
from jam.harmony.functions import function_of
from jam.harmony.harte import parse_harte
from jam.harmony.keys import Key, parse_key
from jam.listening.phrase import LineNote
from tests.bench.soloist_lines import TICKS, Harmony, Line, on_grid

FOLDER_VARIABLE = "JAM_SOLOS"
SWING_IDIOMS = ("SWING", "BEBOP", "COOL", "HARDBOP")
VELOCITY = 80
"""The files tell no dynamics."""


@dataclass(frozen=True)
class Solo:
    """One solo: its line, the changes under it, and how many bars it has."""

    name: str
    bpm: float
    idiom: str
    feel: str
    line: Line
    notes: tuple[LineNote, ...]
    changes: Changes
    key: Key | None
    bars: int
    beats: tuple[tuple[float, int], ...]
    """Second and place in the bar (from 1) of each beat."""

    @property
    def mainstream(self) -> bool:
        """Whether it belongs to those the published figures are taken from."""
        return self.feel == "SWING" and self.idiom in SWING_IDIOMS and len(self.notes) >= 150


def folder(option: Path | None) -> Path | None:
    """Return the folder with the solos, or None when nobody said where they are."""
    named = option or (Path(os.environ[FOLDER_VARIABLE]) if FOLDER_VARIABLE in os.environ else None)
    if named is None:
        return None
    return named / "solos" if (named / "solos").is_dir() else named


def solos(where: Path | None) -> list[Solo]:
    """Return the solos in a folder, in order of their names; none without one."""
    return [solo(path) for path in sorted(where.glob("*.json"))] if where is not None else []


@lru_cache(maxsize=64)
def solo(path: Path) -> Solo:
    """Read one solo."""
    told = json.loads(path.read_text(encoding="utf-8"))
    secs = np.asarray(told["beats_sec"])
    first = told["beat_in_bar"].index(1)
    whole = float(np.median(np.diff(secs)))

    def beat_of(sec: float) -> float:
        """Straight between the beats, at the usual tempo outside them."""
        index = int(np.clip(np.searchsorted(secs, sec, side="right") - 1, 0, len(secs) - 2))
        if sec > secs[-1]:
            return len(secs) - 1 - first + (sec - secs[-1]) / whole
        return index - first + (sec - secs[index]) / (secs[index + 1] - secs[index])

    notes = tuple(
        LineNote(on, on + length, pitch, VELOCITY, beat_of(on), beat_of(on + length) - beat_of(on))
        for on, length, pitch in told["notes"]
    )
    key = _key(told["key"])
    changes = _changes([(beat_of(row[0]), row[2]) for row in told["chords"]], key)
    heard = [note.heard_beat for note in notes]
    line = Line(
        name=path.stem,
        bpm=told["bpm"],
        ticks=tuple(on_grid(heard, told["bpm"])),
        heard=tuple(heard),
        lengths=tuple(note.heard_beats for note in notes),
        pitches=tuple(note.pitch for note in notes),
        phrases=tuple(told["phrase"]),
        harmony=harmony_of(changes),
        velocities=(VELOCITY,) * len(notes),
    )
    bars = int((len(secs) - first) // 4)
    name, feel = told["idiom"], told["feel"]
    beats = tuple(zip(told["beats_sec"], told["beat_in_bar"], strict=True))
    return Solo(path.stem, told["bpm"], name, feel, line, notes, changes, key, bars, beats)


def harmony_of(changes: Changes) -> Harmony:
    """Return the symbols of ``changes`` by beat."""
    beats = tuple(change.beat for change in changes)
    return Harmony(beats, tuple(change.chord.symbol for change in changes))


def _changes(rows: Sequence[tuple[float, str]], key: Key | None) -> Changes:
    kept: list[tuple[float, str]] = []
    for beat, label in rows:
        place = float(round(beat))
        if kept and (place <= kept[-1][0] or parse_harte(label) == parse_harte(kept[-1][1])):
            continue
        kept.append((place, label))
    chords = [parse_harte(label) for _, label in kept]
    found = []
    for index, (beat, _) in enumerate(kept):
        following = chords[index + 1] if index + 1 < len(chords) else None
        function = function_of(chords[index], following, key, False)
        found.append(Change(beat, chords[index], False, function))
    return Changes(found)


def _key(text: str) -> Key | None:
    tonic, _, mode = text.partition("-")
    names = {"maj": "major", "min": "minor"}
    return parse_key(f"{tonic} {names[mode]}") if mode in names else None


def turns(one: Solo, bars: int = 4) -> list[tuple[float, float]]:
    """Return from and to (beats) of each stretch of ``bars`` bars in a solo."""
    count = one.bars // bars
    return [(4.0 * bars * k, 4.0 * bars * (k + 1)) for k in range(count)]


def said_in(one: Solo, start: float, end: float) -> tuple[LineNote, ...]:
    """Return the notes that begin in a stretch, a hair early counted in."""
    hair = 0.25
    return tuple(n for n in one.notes if start - hair <= n.heard_beat < end - hair)


def ticks_in(line: Line, start: float, end: float) -> Line:
    """Return the part of a line on the grid from ``start`` to before ``end``."""
    return line.part(start - 0.5 / TICKS, end - 0.5 / TICKS)
