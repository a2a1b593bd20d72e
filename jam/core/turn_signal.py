"""The audible turn cue: two soft strokes in the pulse before a turn changes hands.

High when the companion is next, low when the player is, on the pulse and half a pulse later, on the
click part. None in a head or before one, in the count-in, or at the end of the tune.
"""

from __future__ import annotations

from collections.abc import Iterator

from jam.core.form import Form
from jam.core.moment import Moment
from jam.core.schedule import Pinned, Schedule
from jam.core.turns import TurnPlan
from jam.events import Command
from jam.players.channels import BLOCK_HIGH, BLOCK_LOW

_VELOCITY = 56
_LENGTH_BEATS = 0.25
_AHEAD_BEATS = 1.0
"""So long before its first stroke a signal is put into the schedule."""

_EPS = 1e-6


class TurnSignal:
    """Keeps the strokes in the schedule in step with the plan of turns."""

    def __init__(
        self, form: Form, turns: TurnPlan, schedule: Schedule, ids: Iterator[int], channel: int
    ) -> None:
        self._form = form
        self._turns = turns
        self._schedule = schedule
        self._ids = ids
        self._channel = channel
        self._given: tuple[float, int] | None = None
        self._strokes: list[int] = []

    def mark(self, m: Moment) -> list[Command]:
        """Schedule the strokes that come next; return what takes back those that were wrong."""
        pulse = self._form.metre.pulse_beats
        coming = self._coming(m.beat, m.beat + pulse + _AHEAD_BEATS)
        if coming == self._given:
            return []
        commands: list[Command] = []
        if self._given is not None and m.beat < self._given[0] - _EPS:
            commands = self._schedule.withdraw(self._strokes, m.now)
        self._given, self._strokes = coming, []
        if coming is not None:
            change, pitch = coming
            for beat in (change - pulse, change - pulse / 2.0):
                if beat > m.beat - _EPS:
                    self._stroke(beat, pitch)
        return commands

    def forget(self) -> None:
        """Forget what was signalled: all was silenced, or a jump has led elsewhere."""
        self._given, self._strokes = None, []

    def _coming(self, beat: float, until: float) -> tuple[float, int] | None:
        """Return where the turn changes hands before beat ``until``, and the pitch that says so."""
        turn = self._turns.at(max(0.0, beat))
        while not turn.head and turn.end <= until + _EPS:
            following = self._turns.after(turn)
            if following is None or following.head:
                return None
            if following.who != turn.who:
                begins = following.start - self._form.metre.pulse_beats
                inside = begins >= 0.0 and self._form.at(begins).phase == "chorus"
                high = following.who == "companion"
                return (following.start, BLOCK_HIGH if high else BLOCK_LOW) if inside else None
            turn = following
        return None

    def _stroke(self, beat: float, pitch: int) -> None:
        number = next(self._ids)
        off_beat = beat + _LENGTH_BEATS
        self._strokes.append(number)
        self._schedule.add(
            [Pinned(beat, number, off_beat, "click", self._channel, pitch, _VELOCITY)]
        )
