"""What each chord sounds like and what follows it: the chord tracker's tables.

A *state* is a root and a family, numbered ``12 * family + root``. Tables are probabilities set by
hand after common practice: roots and fifths are often left out of jazz voicings, thirds and
sevenths never; 9 and 13 colour them; roots move by fourths; half-diminished goes to a dominant,
a minor seventh to the dominant a fourth up, that one home (ii-V-I). Rootless shapes are the
left-hand voicings with 3rd or 7th lowest (3 5 7 9 and 7 9 3 5; 7 9 3 13 and 3 13 7 9 on the
dominant). Degrees are semitones above the root.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Table = NDArray[np.float64]
Degrees = tuple[int, ...]
Weights = dict[int, float]


@dataclass(frozen=True, slots=True)
class Template:
    """How a family is voiced.

    ``share`` is how common it is, ``tones`` are its chord tones, ``tensions`` what colours it;
    ``shapes`` are the sets of degrees that a hand plays. A shape without 0 leaves the root to the
    bass.
    """

    family: str
    share: float
    tones: Degrees
    tensions: Degrees
    shapes: tuple[Degrees, ...]


TEMPLATES = (
    Template("maj", 0.22, (0, 4, 7), (2, 9), ((0, 4, 7), (0, 4), (0, 2, 4, 7))),
    Template("maj7", 0.12, (0, 4, 7, 11), (2, 6, 9),
             ((0, 4, 7, 11), (0, 4, 11), (0, 2, 4, 7, 11), (2, 4, 7, 11), (2, 4, 9, 11))),
    Template("maj6", 0.04, (0, 4, 7, 9), (2, 6, 11),
             ((0, 4, 7, 9), (0, 4, 9), (0, 2, 4, 7, 9), (2, 4, 7, 9))),
    Template("m", 0.14, (0, 3, 7), (2, 5), ((0, 3, 7), (0, 3), (0, 2, 3, 7))),
    Template("m7", 0.16, (0, 3, 7, 10), (2, 5, 9),
             ((0, 3, 7, 10), (0, 3, 10), (0, 2, 3, 7, 10), (0, 3, 5, 10), (2, 3, 7, 10))),
    Template("m6", 0.02, (0, 3, 7, 9), (2, 5, 11), ((0, 3, 7, 9), (0, 3, 9), (2, 3, 7, 9))),
    Template("mMaj7", 0.01, (0, 3, 7, 11), (2, 5, 9), ((0, 3, 7, 11), (0, 3, 11), (2, 3, 7, 11))),
    Template("7", 0.18, (0, 4, 7, 10), (1, 2, 3, 6, 8, 9),
             ((0, 4, 7, 10), (0, 4, 10), (0, 2, 4, 10), (0, 4, 9, 10), (2, 4, 9, 10),
              (2, 4, 7, 10), (1, 4, 8, 10), (3, 4, 8, 10), (1, 4, 9, 10))),
    Template("7#5", 0.01, (0, 4, 8, 10), (1, 2, 3, 6), ((0, 4, 8, 10),)),
    Template("7sus4", 0.03, (0, 5, 7, 10), (2, 9),
             ((0, 5, 7, 10), (0, 5, 10), (0, 2, 5, 10), (2, 5, 7, 10))),
    Template("sus4", 0.02, (0, 5, 7), (2, 9), ((0, 5, 7),)),
    Template("sus2", 0.02, (0, 2, 7), (9,), ((0, 2, 7),)),
    Template("m7b5", 0.03, (0, 3, 6, 10), (2, 5, 8),
             ((0, 3, 6, 10), (0, 3, 5, 6, 10), (3, 5, 6, 10))),
    Template("dim7", 0.02, (0, 3, 6, 9), (), ((0, 3, 6, 9),)),
    Template("dim", 0.01, (0, 3, 6), (9,), ((0, 3, 6),)),
    Template("aug", 0.005, (0, 4, 8), (), ((0, 4, 8),)),
)  # fmt: skip

FAMILIES = tuple(template.family for template in TEMPLATES)
STATES = 12 * len(TEMPLATES)
SHAPES = max(len(template.shapes) for template in TEMPLATES)

ROOM = 0.7
"""What every shape leaves to other notes, in degrees: the larger, the less small shapes win."""

OUT_OF_KEY = 0.35
"""How a chord's chance shrinks for each of its tones that is not in the key."""

IN_SHAPE, OTHER_TONE, TENSION, FOREIGN = 1.0, 0.25, 0.08, 0.05
"""Weight of a degree in a shape: all of a shape count alike, so that the notes alone never tell
a rootless Dm9 from Fmaj7, however long they sound; what came before has to."""

MOTION = (0.06, 0.05, 0.10, 0.06, 0.05, 0.32, 0.03, 0.13, 0.06, 0.08, 0.08, 0.06)
"""Chance of the next root lying so many semitones higher (0: the family changes)."""

_HOME = ("maj", "maj7", "maj6", "m", "m7", "m6", "mMaj7", "7")
PROGRESSIONS = (
    ("m7", "7", 5, 3.0),
    ("m7b5", "7", 5, 4.0),
    ("m7b5", "7#5", 5, 4.0),
    ("7sus4", "7", 0, 4.0),
    ("dim7", "m7", 1, 2.0),
    ("dim7", "m", 1, 2.0),
    *((dominant, home, 5, 2.0) for dominant in ("7", "7#5") for home in _HOME),
    *(("7", home, 11, 1.5) for home in ("maj7", "maj6", "m7")),
)
"""(from, to, semitones up, how many times likelier than by the root alone)"""

BASS_FIRST: Weights = {0: 76, 7: 7, 4: 5, 3: 5, 10: 3, 11: 2}
BASS_LATER: Weights = {0: 50, 7: 20, 4: 8, 3: 8, 10: 5, 11: 3, 2: 3, 9: 3, 5: 3, 6: 2}
"""The lowest note when a chord begins, and while it goes on (a bass walks)."""


def _by_root(weights: Table) -> Table:
    """Return the logarithm of twelve weights by degree, for each of twelve roots."""
    row = np.log(weights)
    return np.stack([np.roll(row, root) for root in range(12)])


def _notes() -> tuple[Table, Table, Table]:
    """Return log chances of pitch classes by (state, shape); 1 where rootless; 1 where altered."""
    chances = np.full((STATES, SHAPES, 12), -1e3)
    rootless = np.zeros((STATES, SHAPES))
    altered = np.zeros((STATES, SHAPES))
    for number, template in enumerate(TEMPLATES):
        rows = slice(12 * number, 12 * number + 12)
        for column, shape in enumerate(template.shapes):
            weights = np.full(12, FOREIGN)
            weights[list(template.tensions)] = TENSION
            weights[list(template.tones)] = OTHER_TONE
            weights[list(shape)] = IN_SHAPE
            chances[rows, column] = _by_root(weights / (len(shape) + ROOM))
            rootless[rows, column] = 0 not in shape
            altered[rows, column] = bool(set(shape) & {1, 3, 8} - set(template.tones))
    return chances, rootless, altered


def _bass(degrees: Weights) -> Table:
    weights = np.array([degrees.get(degree, 1.5) for degree in range(12)])
    weights /= weights.sum()
    return np.concatenate([_by_root(weights)] * len(TEMPLATES))


def _following() -> Table:
    """Return the chance of each state (columns) after each (rows), given that the chord changes."""
    shares = np.array([t.share for t in TEMPLATES])
    number = {family: i for i, family in enumerate(FAMILIES)}
    relative = np.array(MOTION)[None, None, :] * shares[None, :, None]
    relative = np.repeat(relative, len(TEMPLATES), axis=0)
    for before, after, up, times in PROGRESSIONS:
        relative[number[before], number[after], up] *= times
    for family in range(len(TEMPLATES)):
        relative[family, family, 0] = 0.0
    table = np.empty((STATES, STATES))
    for state in range(STATES):
        family, root = divmod(state, 12)
        row = np.roll(relative[family], root, axis=1).ravel()
        table[state] = row / row.sum()
    return table


def _in_key() -> Table:
    """Return how well each state (columns) suits each key (rows: 12 major, then 12 minor)."""
    major = {0, 2, 4, 5, 7, 9, 11}
    minor = {0, 2, 3, 5, 7, 8, 10, 11}
    table = np.empty((24, STATES))
    for key in range(24):
        scale = {(key + step) % 12 for step in (major if key < 12 else minor)}
        for state in range(STATES):
            family, root = divmod(state, 12)
            tones = TEMPLATES[family].tones
            foreign = sum((root + degree) % 12 not in scale for degree in tones)
            table[key, state] = OUT_OF_KEY ** min(foreign, 3)
    return table


LOG_NOTES, ROOTLESS, ALTERED = _notes()
LOG_BASS_FIRST = _bass(BASS_FIRST)
LOG_BASS_LATER = _bass(BASS_LATER)
FOLLOWING = _following()
IN_KEY = _in_key()
SHARES: Table = np.repeat([t.share / 12 for t in TEMPLATES], 12)
