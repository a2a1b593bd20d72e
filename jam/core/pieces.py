"""Which stretch is to be answered next, and in what time.

A turn of up to eight bars is answered in one reply; of a longer one four bars are answered at a
time, until eight or fewer are left. A reply may have a pickup before its turn and a tail after it
(H4 of the method): a pulse each, the pickup two pulses above 200 bpm.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from jam.core.form import Form
from jam.core.moment import Moment
from jam.core.turns import CHUNK_BARS, Turn, TurnPlan
from jam.players.soloist.request import Window

FAST_BPM = 200.0
"""Above this a pickup may be two pulses long."""

_SOONEST_BEATS, _SOONEST_SEC = 0.25, 0.1
"""The first note of a reply lies the shorter of these ahead of the mark at which it is planned:
planning and handing over take some 20 ms (measured)."""

_AHEAD_BEATS = 8.0
_EPS = 1e-6


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch ``start <= beat < end`` of the companion's, to be answered in one reply.

    ``talk`` is where the talk began that it belongs to (see `TurnPlan.talk_start`); ``closes``
    says that it is the last of its turn.
    """

    start: float
    end: float
    talk: float
    closes: bool


def next_piece(turns: TurnPlan, form: Form, beat: float, done_until: float) -> Piece | None:
    """Return the next stretch of the companion's after ``done_until``, None if none is near."""
    turn: Turn | None = turns.at(max(beat, done_until))
    while turn is not None and (not turn.to_talk or turn.end <= done_until + _EPS):
        if turn.start > beat + _AHEAD_BEATS:
            return None
        turn = turns.after(turn)
    if turn is None:
        return None
    start, end = max(turn.start, done_until), turn.end
    bar, _ = form.bars.at(start)
    if end > form.bars.start(bar + 2 * CHUNK_BARS) + _EPS:
        end = form.bars.start(bar + CHUNK_BARS)
    return Piece(start, end, turns.talk_start(turn), closes=end == turn.end)


def pickup_beats(pulse_beats: float, bpm: float) -> float:
    """Return how long a pickup may be."""
    return pulse_beats * (2.0 if bpm > FAST_BPM else 1.0)


def lead_beats(pulse_beats: float, bpm: float) -> float:
    """Return how long before its turn a reply is planned at the earliest."""
    return pickup_beats(pulse_beats, bpm) + 0.5


def soonest_beats(bpm: float) -> float:
    """Return how far ahead of a mark the first note of a reply lies that is planned there."""
    return min(_SOONEST_BEATS, _SOONEST_SEC * bpm / 60.0)


def window_of(piece: Piece, form: Form, m: Moment, *, opens: bool, free_from: float) -> Window:
    """Return the time that the reply to ``piece`` may take when it is planned now.

    ``opens`` allows a pickup; nothing begins before ``free_from``, where the reply before ends.
    The melody of a head that the companion plays before or next is not played into.
    """
    pulse = form.metre.pulse_beats
    soonest = max(m.beat + soonest_beats(m.bpm), free_from)
    start = max(piece.start, ceil(soonest * 2.0 - _EPS) / 2.0)
    earliest = piece.start - (pickup_beats(pulse, m.bpm) if opens else 0.0)
    played = form.melody(form.at(piece.start - 2 * _EPS).start, piece.start)
    earliest = max([earliest, *(min(n.beat + n.beats, piece.start) for n in played[-1:])])
    melody = form.melody(piece.start, piece.end + pulse)
    limit = min([piece.end + pulse, *(note.beat for note in melody[:1])])
    return Window(start, min(piece.end, limit), min(max(earliest, soonest), start), limit)


def from_now(window: Window, m: Moment) -> Window:
    """Return what is left of a window in which nothing has sounded yet."""
    soonest = m.beat + soonest_beats(m.bpm)
    start = max(window.start, ceil(soonest * 2.0 - _EPS) / 2.0)
    return Window(start, window.end, min(max(window.earliest, soonest), start), window.latest)
