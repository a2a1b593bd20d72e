"""The player comes in while the companion is speaking: when is that early, and what then?

In trades and in free playing the companion gives way, as its style says: it finishes the figure it
is in (a bar at most), it yields within an eighth, or it yields and trades shorter from then on. A
line over its last pulse is pickup to the next call, and what comes after its turn or after its last
note interrupts nothing. Who plays a whole chorus or solo is not interrupted by a comment (common
practice).
"""

from __future__ import annotations

from math import ceil

from jam.core.form import Form
from jam.core.moment import Moment
from jam.core.replies import Active
from jam.core.turns import TurnPlan

EIGHTH_BEATS = 0.5
TOGETHER_BEATS = 0.25
"""Who begins within this of the other begins together with the other."""

WORDS = {
    "finish": "the player came in: it finishes its figure",
    "yield": "the player came in: it yields",
    "shorten": "the player came in: it yields, and turns are shorter from here on",
}
"""What the log is told, by the way of giving way."""

_EPS = 1e-6


def comes_in(active: Active, entered: float, turns: TurnPlan, form: Form, m: Moment) -> bool:
    """Return whether a line that ``entered`` lately interrupts the reply."""
    if entered <= active.first_beat + TOGETHER_BEATS:
        return False
    match turns.manner(m.beat):
        case "free":
            return entered < active.request.window.end - _EPS
        case "trade":
            end = active.request.window.end
            pickup = turns.at(end).who != "companion" and (
                entered >= end - form.metre.pulse_beats - _EPS
            )
            return not pickup and m.beat < active.end_beat - _EPS
    return False


def limit_beat(active: Active, form: Form, m: Moment) -> float:
    """Return by when the reply is to end, as its style says."""
    soon = m.beat + EIGHTH_BEATS
    if active.request.style.barge_in != "finish":
        return soon
    return max(soon, min(figure_end(active, m.beat), m.beat + form.metre.bar_beats))


def figure_end(active: Active, beat: float) -> float:
    """Return where the figure ends that is being said at ``beat``."""
    notes = active.notes
    place = max((i for i, (_, note) in enumerate(notes) if note.beat <= beat + _EPS), default=0)
    figure = active.figures.get(notes[place][0])
    while place + 1 < len(notes) and active.figures.get(notes[place + 1][0]) == figure:
        place += 1
    last = notes[place][1]
    return last.beat + last.beats


def give_floor(active: Active, entered: float, limit: float, turns: TurnPlan, m: Moment) -> float:
    """Let the plan of turns follow the reply that ends by ``limit``; return where its turn is over.

    In trades the turn stays the companion's: when the player is done before its end, it goes on.
    """
    shorter = active.request.style.barge_in == "shorten"
    end = float(ceil(limit - _EPS))
    floor = turns.at(m.beat)
    mine = floor.who == "companion"
    if turns.manner(m.beat) == "free":
        if mine:
            turns.cut(end)
        if shorter:
            turns.shorten(end)
        return end
    if mine and shorter:
        turns.hand_back(max(entered, floor.start), end)
        return end
    return limit
