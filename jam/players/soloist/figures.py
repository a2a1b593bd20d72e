"""Which figure of the vocabulary shall a few free notes over one chord be?

Each name is meant for some chords in some functions; of a name a figure is drawn among all of its
kind that keep the law: every note strong on the chord (or on the chord it implies), or stepping
into a strong one. All of them are found once for a kind of chord, in semitones above its root, and
then looked up.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate, pairwise
from typing import get_args

import numpy as np

from jam.harmony.changes import Change
from jam.harmony.chord import Chord, chord_on
from jam.harmony.functions import Function
from jam.harmony.keys import Key
from jam.players.soloist import figures_chords as chords
from jam.players.soloist import figures_colours as colours
from jam.players.soloist import figures_scales as scales
from jam.players.soloist import figures_turns as turns
from jam.players.soloist.figures_ground import Ground, Line, Steps, cycle_of, ground_of

_ANY: tuple[str, ...] = get_args(Function)
_STANDING = ("none", "tonic", "three", "six", "blues")
_FOUR = ("major", "minor", "dominant", "sus")
_DIATONIC: dict[str, tuple[str, ...]] = dict.fromkeys(
    (*_FOUR, "half_diminished", "diminished", "augmented"), _ANY
)
_EVERY: dict[str, tuple[str, ...]] = {**_DIATONIC, "open": _ANY}

MEANT: dict[str, dict[str, tuple[str, ...]]] = {
    "arpeggio": _EVERY,
    "upper_triad": _DIATONIC,
    "broken_chord": _EVERY,
    # Natural 9 and 13 on the way to a minor chord would give the major away.
    "bebop_scale": {"major": _ANY, "minor": _ANY, "dominant": ("none", "to_major", "blues")},
    "scale_run": _EVERY,
    "thirds": _EVERY,
    "enclosure": _EVERY,
    "chromatic_run": _EVERY,
    "digital": _EVERY,
    # Out and back where the harmony stands still.
    "side_step": dict.fromkeys(_FOUR, _STANDING),
    "substitute": {
        "dominant": ("to_major", "to_minor"),
        "major": ("none", "tonic"),
        "minor": ("none", "tonic"),
    },
    "altered": {"dominant": ("to_major", "to_minor")},
    "diminished": {"dominant": ("none", "to_major", "to_minor"), "diminished": _ANY},
    "whole_tone": {"dominant": ("none", "to_major"), "augmented": _ANY},
    "melodic_minor": {"dominant": ("none", "to_major", "to_minor"), "minor": ("none", "tonic")},
    "blues_lick": {
        "dominant": ("none", "to_major", "blues"),
        "minor": ("none", "tonic"),
        "major": ("none", "tonic"),
    },
    "riff": _EVERY,
    "pedal": _EVERY,
    "turn": _EVERY,
    "leap_and_fill": _EVERY,
}
"""The kinds of chord and the functions each figure is meant for (Levine 1995, *The Jazz Theory
Book*; Nettles & Graf 1997; both from memory, and common practice). A chord whose symbol writes
other tensions than a figure needs is left out by the figure itself."""

LINES: dict[str, Callable[[Ground, int, bool], Iterator[Line]]] = {
    "arpeggio": chords.arpeggio,
    "upper_triad": chords.upper_triad,
    "broken_chord": chords.broken_chord,
    "bebop_scale": scales.bebop_scale,
    "scale_run": scales.scale_run,
    "thirds": scales.thirds,
    "enclosure": turns.enclosure,
    "chromatic_run": scales.chromatic_run,
    "digital": scales.digital,
    "side_step": colours.side_step,
    "substitute": colours.substitute,
    "altered": colours.altered,
    "diminished": colours.diminished,
    "whole_tone": colours.whole_tone,
    "melodic_minor": colours.melodic_minor,
    "blues_lick": turns.blues_lick,
    "riff": turns.riff,
    "pedal": turns.pedal,
    "turn": turns.turn,
    "leap_and_fill": scales.leap_and_fill,
}
_LOOKING_AHEAD = ("riff", "pedal", "substitute")
_ON_THE_BEAT = ("bebop_scale", "enclosure")
OUTSIDE = ("side_step", "substitute")
"""The figures that are judged against a chord they imply; their last note is back."""


@dataclass(frozen=True)
class Figure:
    """A few notes over one chord: wanted pitch classes, and the way into each note.

    ``name`` is one of `jam.styles.names.FIGURES`; ``classes`` are absolute pitch classes,
    ``directions`` -1, 0 (any) or 1, ``steps`` the same notes as a line in semitones above the
    chord's root; ``why`` are words for the log. With ``implied`` all notes but the last are judged
    against that chord, and the last is strong on the one that sounds. ``repeats`` tells that a note
    is struck again.
    """

    name: str
    classes: tuple[int, ...]
    directions: tuple[int, ...]
    steps: Steps
    why: str
    implied: Chord | None = None
    repeats: bool = False


def meant(
    change: Change, following: Change | None, *, key: Key | None, blues: bool
) -> tuple[str, ...]:
    """Return the figures that there are for a chord in its function, none over N.C.; in a ``blues``
    blues licks are meant for all of its dominant and minor chords."""
    if change.chord.is_none:
        return ()
    names = _names(ground_of(change.chord, change.function, None, key), blues)
    coming = following.chord if following is not None else None
    if change.chord.kind != "dominant" and cycle_of(change.chord, coming) is None:
        return tuple(name for name in names if name != "substitute")
    return names


def figure_of(
    name: str,
    change: Change,
    following: Change | None,
    count: int,
    *,
    key: Key | None,
    off_beat_first: bool,
    rng: np.random.Generator,
) -> Figure | None:
    """Draw one figure of ``name`` with ``count`` notes (3 or more), None where there is none.

    ``off_beat_first`` tells that the first note lies off the beat.
    """
    ahead = following.chord if following is not None and name in _LOOKING_AHEAD else None
    off = off_beat_first and name in _ON_THE_BEAT
    ground = ground_of(change.chord, change.function, ahead, key)
    lines, likely = _lines(ground, name, count, off)
    return _figure(name, lines[drawn(likely, rng)], change.chord) if lines else None


def drawn(sums: Sequence[float], rng: np.random.Generator) -> int:
    """Return an index in proportion to its weight; ``sums`` are the running sums of the weights."""
    return min(bisect_right(sums, rng.random() * sums[-1]), len(sums) - 1)


@lru_cache(maxsize=1024)
def _names(ground: Ground, blues: bool) -> tuple[str, ...]:
    return tuple(
        name
        for name, table in MEANT.items()
        if ground.function in table.get(ground.kind, ())
        or (blues and name == "blues_lick" and ground.kind in ("dominant", "minor"))
    )


@lru_cache(maxsize=16384)
def _lines(
    ground: Ground, name: str, count: int, off: bool
) -> tuple[tuple[Line, ...], tuple[float, ...]]:
    """Return all figures of a name, no two alike, and the running sums of how usual they are."""
    found: dict[tuple[int, ...], Line] = {}
    for line in LINES[name](ground, count, off):
        found.setdefault(line.steps, line)
    lines = tuple(found.values())
    return lines, tuple(accumulate(line.likely for line in lines))


def _figure(name: str, line: Line, chord: Chord) -> Figure:
    over = None
    if line.over is not None:
        above, family = line.over
        over = chord_on((chord.root + above) % 12, family)
    ways = ((b > a) - (b < a) for a, b in pairwise(line.steps))
    return Figure(
        name,
        tuple((chord.root + step) % 12 for step in line.steps),
        (0, *ways),
        line.steps,
        _why(name, line, chord, over),
        over if name in OUTSIDE else None,
        any(a == b for a, b in pairwise(line.steps)),
    )


def _why(name: str, line: Line, chord: Chord, over: Chord | None) -> str:
    """Say what the figure is, in degrees of the chord it stands on."""
    if over is not None and name in OUTSIDE:
        degrees = " ".join(over.degree(chord.root + step) for step in line.steps[:-1])
        return f"{line.words} {over.symbol} over {chord.symbol}: {degrees} of it and back"
    degrees = " ".join(chord.degree(chord.root + step) for step in line.steps)
    if over is not None:
        return f"{line.words} {over.symbol} over {chord.symbol}: {degrees}"
    if line.aim is not None:
        aim = chord.degree(chord.root + line.aim)
        return f"{line.words} the {aim} of {chord.symbol}: {degrees}"
    return f"{line.words}: {degrees} of {chord.symbol}".removeprefix(": ")
