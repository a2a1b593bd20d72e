"""Where in the tune does a reply stand?

Without a chart a chorus is counted as 32 bars, the most common length of a tune (common practice).
"""

from __future__ import annotations

from math import inf

from jam.core.form import Form
from jam.core.pieces import Piece
from jam.core.turns import CHORUS_BARS, TurnPlan
from jam.players.soloist.request import Story

_ROOM_BARS = 4
"""Where turns are taken as they come, a reply with less than this after it is the last."""

_EPS = 1e-6


def story_of(piece: Piece, form: Form, turns: TurnPlan) -> Story:
    """Return the place of the reply to ``piece``."""
    start, end, chorus = _chorus_at(form, piece.start)
    place = min(1.0, max(0.0, (piece.start - start) / (end - start)))
    return Story(place, chorus, _closes(piece, min(end, turns.end_beat), form, turns))


def _chorus_at(form: Form, beat: float) -> tuple[float, float, int]:
    """Return where the chorus at ``beat`` begins and ends, and its number from 0."""
    laid = form.at(beat)
    if laid.passage is not None:
        return laid.start, laid.end, max(0, laid.number - 1)
    bar, _ = form.bars.at(max(0.0, beat))
    number = bar // CHORUS_BARS
    first = number * CHORUS_BARS
    return form.bars.start(first), form.bars.start(first + CHORUS_BARS), number


def _closes(piece: Piece, end: float, form: Form, turns: TurnPlan) -> bool:
    """Tell whether no other reply can come before ``end``."""
    if end == inf:
        return False
    if not piece.closes:
        return piece.end >= end - _EPS
    if turns.manner(piece.start) in ("free", "on cue"):
        bar, _ = form.bars.at(piece.end)
        return form.bars.start(bar + _ROOM_BARS) > end + _EPS
    turn = turns.at(piece.end)
    while turn.start < end - _EPS:
        if turn.to_talk:
            return False
        following = turns.after(turn)
        if following is None:
            return True
        turn = following
    return True
