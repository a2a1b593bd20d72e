from __future__ import annotations
from dataclasses import dataclass
import numpy as np
@dataclass(frozen=True, eq=False)
class Idiom:
    name: str; about: str; licence: str; sources: tuple; notes: int
    steps: np.ndarray; first: np.ndarray; last: np.ndarray
    patterns: tuple; following: np.ndarray; opening: np.ndarray; closing: np.ndarray
    phrase_beats: np.ndarray; rest_beats: np.ndarray
    sounding: np.ndarray; swing: np.ndarray; early_late: np.ndarray; drift: float
    windows: frozenset
