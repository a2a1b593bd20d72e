"""Where in the bar the band plays: the bars of a span, their pulses, and where the tune closes.

All places are beats (quarter notes) since the session's first downbeat, on the written grid.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from jam.harmony.changes import Change, Changes
from jam.players.band import Span
from jam.transport.metre import Metre

EPSILON: Final = 1e-6
SNAP_BEATS: Final = 0.2
"""How far from a place a change may fall and still count as falling on it: people's time."""

_BALLAD_BPM: Final = 80.0


@dataclass(frozen=True, slots=True)
class BarPlace:
    """A bar: its number, the beat on which it begins, its length in beats."""

    number: int
    start: float
    beats: float

    @property
    def end(self) -> float:
        """Return the beat at which it ends."""
        return self.start + self.beats


def bars_of(span: Span, beyond: int = 0) -> Iterator[BarPlace]:
    """Yield the bars that overlap the span, and ``beyond`` more after it."""
    number, _ = span.bars.at(span.start)
    last, _ = span.bars.at(span.end - 2 * EPSILON)
    for bar in range(number, last + beyond + 1):
        yield BarPlace(bar, span.bars.start(bar), span.bars.length(bar))


def steps(bar: BarPlace, step_beats: float) -> list[float]:
    """Return the beats of a bar at an even distance from its start."""
    count = int((bar.beats - EPSILON) // step_beats) + 1
    return [bar.start + index * step_beats for index in range(count)]


def pulses(bar: BarPlace, metre: Metre) -> list[float]:
    """Return the beats on which the foot taps in a bar."""
    return steps(bar, metre.pulse_beats)


def changes_between(changes: Changes, start: float, end: float) -> list[Change]:
    """Return the changes with ``start <= beat < end``."""
    found = []
    for index in range(changes.index_at(start), len(changes)):
        change: Change = changes[index]
        if change.beat > end - EPSILON:
            break
        if change.beat > start - EPSILON:
            found.append(change)
    return found


def close_of(span: Span) -> float:
    """Return the beat before which the playing goes on: the ending, or the end of the span."""
    return span.end if span.ending is None else min(span.end, span.ending)


def holds_ending(span: Span) -> bool:
    """Tell whether the last note of the tune is to be played in this span."""
    return span.ending is not None and within(span, span.ending)


def within(span: Span, beat: float) -> bool:
    """Tell whether a note on ``beat`` is this span's."""
    return span.start - EPSILON <= beat < span.end - EPSILON


def last_note_beats(span: Span) -> float:
    """Return how long the last chord of the tune is held: its bar, two beats at least."""
    bar, into = span.bars.at(span.ending or 0.0)
    return max(2.0, span.bars.length(bar) - into)


def is_ballad(span: Span) -> bool:
    """Tell whether the tune is slow enough for half notes (common practice)."""
    return span.bpm < _BALLAD_BPM and span.metre.pulse_beats <= 1.0


def is_compound(metre: Metre) -> bool:
    """Tell whether the pulse has three eighths, as in 6/8 and 12/8."""
    return abs(metre.pulse_beats - 1.5) < EPSILON
