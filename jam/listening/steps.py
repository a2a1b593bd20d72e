"""How many scale steps lie between the notes of a line? A tonal sequence keeps those.

The scale is the major scale (in whatever mode) that holds most of the line; a note outside it
counts as the degree below. Pitches are MIDI numbers; steps count up from an arbitrary zero.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

_MAJOR = (0, 2, 4, 5, 7, 9, 11)
_STEP_OF = np.array([sum(degree <= semitone for degree in _MAJOR) - 1 for semitone in range(12)])
_SCALES = np.array([[(pitch - tonic) % 12 in _MAJOR for pitch in range(12)] for tonic in range(12)])


def scale_steps(pitches: Sequence[int] | NDArray[np.int64]) -> NDArray[np.int64]:
    """Return each note's place in the scale of the line; transposing it changes no difference."""
    # Counted from the first note, so that a tie is broken alike in every key.
    above = np.asarray(pitches, dtype=np.int64) - int(pitches[0])
    held = _SCALES @ np.bincount(above % 12, minlength=12)
    octave, semitone = np.divmod(above - int(held.argmax()), 12)
    steps: NDArray[np.int64] = 7 * octave + _STEP_OF[semitone]
    return steps
