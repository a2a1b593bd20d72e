"""Free playing: when does the companion take the floor?

After a phrase of the player's, at the next two-bar seam, but never over a breath: people pause 2
to 4 beats between the phrases of a solo (medians over solos of the Weimar Jazz Database,
Pfleiderer et al. 2017). An eager companion answers on the next off-beat instead.
"""

from __future__ import annotations

from collections.abc import Callable
from math import ceil

from jam.core.floor import PLANNED_AHEAD_BEATS, free_from, rest_needed
from jam.core.moment import Moment
from jam.core.pieces import soonest_beats
from jam.listening.line import Line
from jam.listening.segmenter import RestRule
from jam.transport.metre import Bars

LEAST_NOTES = 3
"""Fewer notes are no phrase to answer."""

_LONG_PHRASE_BARS = 2.5
_EPS = 1e-6


def opening(
    line: Line,
    bars: Bars,
    rest: RestRule,
    m: Moment,
    *,
    call_from: float,
    lead_beats: float,
    eager: bool,
    length: Callable[[int, float], int],
) -> tuple[float, float] | None:
    """Return the turn that the companion takes, from beat to beat, None while it listens.

    What was played since ``call_from`` is answered, in two bars, or in four if it was long;
    ``length`` makes of them what holds at a beat. The turn is taken ``lead_beats`` before it begins
    at the earliest, an eager one as soon as its reply may be planned.
    """
    entered = line.last_onset_beat
    if entered is None or entered < call_from or line.held:
        return None
    heard = line.notes_since(call_from, m.now, m.beat)
    if len(heard) < LEAST_NOTES:
        return None
    soonest = free_from(line, rest_needed(rest, m.bpm, free=True, eager=eager), m)
    if eager:
        start = ceil(max(soonest, m.beat + soonest_beats(m.bpm)) - 0.5 - _EPS) + 0.5
        if start > m.beat + PLANNED_AHEAD_BEATS + _EPS:
            return None
    else:
        bar, _ = bars.at(m.beat)
        start = bars.start(bar + 2 - bar % 2)
        if start > m.beat + lead_beats + _EPS or start < soonest - _EPS:
            return None
    long = heard[-1].heard_beat - heard[0].heard_beat > _LONG_PHRASE_BARS * bars.bar_beats
    bar, _ = bars.at(start)
    return start, bars.start(bar + length(4 if long else 2, start))
