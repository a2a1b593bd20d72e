"""Count-in and metronome.

Every pulse is clicked, the bar's first one higher and louder. In a count-in (bars before 0) all
but the last bar are counted in halves when the bar has four pulses: "one, two, one two three
four" (common practice); a bar of a single pulse is counted in quarters.
"""

from __future__ import annotations

from collections.abc import Sequence

from jam.events import PartNote
from jam.players.band import Span
from jam.players.channels import BLOCK_HIGH, BLOCK_LOW, CLICK
from jam.players.places import EPSILON, BarPlace, bars_of, close_of, pulses, steps, within
from jam.transport.metre import Metre

_ACCENT = 104
_PLAIN = 78
_LENGTH_BEATS = 0.25


class Click:
    """The click; it keeps no state."""

    def play(self, span: Span) -> Sequence[PartNote]:
        """Return the clicks that begin in the span."""
        notes = []
        for bar in bars_of(span):
            for beat in _counted(bar, span.metre):
                if within(span, beat) and beat < close_of(span) - EPSILON:
                    notes.append(_click(beat, accent=beat == bar.start))
        return notes


def _counted(bar: BarPlace, metre: Metre) -> list[float]:
    places = pulses(bar, metre)
    if bar.number < 0 and len(places) == 1:
        return steps(bar, 1.0)
    if bar.number < -1 and len(places) == 4:
        return places[::2]
    return places


def _click(beat: float, *, accent: bool) -> PartNote:
    pitch, velocity = (BLOCK_HIGH, _ACCENT) if accent else (BLOCK_LOW, _PLAIN)
    return PartNote("click", CLICK, beat, _LENGTH_BEATS, pitch, velocity)
