"""Rhythms an accompanist plays chords in, as tables: one figure is a bar.

Beats from the bar line on the written grid, with the length of each chord. Short chords off the
beat, the dotted quarter and eighth (known as the Charleston) and its displacements, pushes on the
last eighth: common practice.
"""

from __future__ import annotations

from typing import Final, NamedTuple


class Hit(NamedTuple):
    """A chord on ``beat`` of the bar, sounding for ``beats``."""

    beat: float
    beats: float


Figure = tuple[Hit, ...]


def _figure(*hits: tuple[float, float]) -> Figure:
    return tuple(Hit(beat, beats) for beat, beats in hits)


SWING: Final = (
    _figure(),
    _figure((1.5, 1.0)),
    _figure((2.5, 0.8)),
    _figure((3.5, 0.5)),
    _figure((0, 0.9), (1.5, 0.5)),
    _figure((0.5, 0.5), (2, 0.9)),
    _figure((1, 0.6), (2.5, 0.5)),
    _figure((0, 0.6), (2.5, 1.0)),
    _figure((1.5, 0.5), (3.5, 0.5)),
    _figure((1, 0.4), (3, 0.4)),
    _figure((0, 0.6), (1.5, 0.5), (3.5, 0.5)),
    _figure((0.5, 0.4), (2, 0.6), (3.5, 0.5)),
)
WALTZ: Final = (
    _figure(),
    _figure((1.5, 0.8)),
    _figure((2.5, 0.5)),
    _figure((0, 1.0), (1.5, 0.5)),
    _figure((1, 0.6), (2, 0.6)),
    _figure((0.5, 0.5), (2, 0.8)),
    _figure((0, 0.6), (1.5, 0.5), (2.5, 0.6)),
)
STRAIGHT: Final = (
    _figure((1.5, 1.5)),
    _figure((0, 1.2), (2.5, 1.0)),
    _figure((0, 0.8), (1.5, 0.5), (3, 0.6)),
    _figure((0.5, 0.5), (2, 0.8), (3.5, 0.5)),
)
COMPOUND: Final = (
    _figure((1.5, 0.8)),
    _figure((1.5, 0.8), (2.5, 0.4)),
    _figure((0, 1.0), (2.5, 0.5)),
    _figure((1.5, 0.6), (4.5, 0.6)),
    _figure((1.0, 0.5), (4.0, 0.5), (5.5, 0.5)),
)
