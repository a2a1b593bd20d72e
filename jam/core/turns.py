"""Whose turn it is, and until when.

Turns are laid out along the form as they are needed. In trades they change every so many bars;
where they do not divide the form, the last one of a chorus is cut short and the roles go on
swapping, or begin again at the top, as the setup says. Heads belong to whoever plays the melody.
A *take it* cue puts a companion's turn on the next bar line; *lay out* gives all to the player
until then. In free playing the turns are not laid out: the conversation opens them as it goes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from jam.core.form import Form, Laid
from jam.core.setup import Turns

Who = Literal["player", "companion", "both", "none"]

CHUNK_BARS = 4
"""A long turn of the companion's is answered in replies of so many bars."""


@dataclass(frozen=True, slots=True)
class Turn:
    """``who`` plays for ``start <= beat < end``. ``head`` turns are melody, not conversation."""

    start: float
    end: float
    who: Who
    head: bool = False


class TurnPlan:
    """Turns in order, laid out as far as has been asked."""

    def __init__(self, turns: Turns, form: Form) -> None:
        self.turns = turns
        self._form = form
        self._laid: list[Turn] = []
        self._forced_solo = False
        self._laid_out = False

    def at(self, beat: float) -> Turn:
        """Return the turn that holds at ``beat`` (the first one before the first downbeat)."""
        self._reach(beat)
        return next((t for t in reversed(self._laid) if t.start <= beat + 1e-6), self._laid[0])

    def after(self, turn: Turn) -> Turn | None:
        """Return the turn that follows, or None when the tune is over."""
        self._reach(turn.end)
        return next((t for t in self._laid if t.start >= turn.end - 1e-6), None)

    def take(self, beat: float) -> None:
        """The companion takes over on the bar line after ``beat``."""
        self._laid_out = False
        bars = self._form.bars
        bar, _ = bars.at(beat)
        start = bars.start(bar + 1)
        length = self.turns.bars if self.turns.kind in ("trade", "free") else CHUNK_BARS
        if self.turns.kind == "lay out":
            self._forced_solo = True
        self._cut(start)
        self._laid.append(Turn(start, bars.start(bar + 1 + length), "companion"))

    def lay_out(self, beat: float) -> None:
        """From ``beat`` on everything is the player's, until the companion is asked again."""
        self._laid_out = True
        self._cut(beat)

    def relay(self, beat: float) -> None:
        """Forget what was laid after ``beat``: the form has changed."""
        self._laid = [t for t in self._laid if t.start <= beat + 1e-6]

    def give_back(self, turn: Turn, beat: float) -> None:
        """End ``turn`` at ``beat`` already (a free reply that yields)."""
        self._cut(beat)

    def open(self, start: float, end: float) -> Turn:
        """Give the companion a turn of its own accord (free playing)."""
        self._cut(start)
        turn = Turn(start, end, "companion")
        self._laid.append(turn)
        return turn

    def _cut(self, beat: float) -> None:
        self._reach(beat)
        self._laid = [t for t in self._laid if t.start < beat - 1e-6]
        if self._laid and self._laid[-1].end > beat:
            last = self._laid[-1]
            self._laid[-1] = Turn(last.start, beat, last.who, last.head)
        elif not self._laid and beat > 0:
            self._laid.append(Turn(0.0, beat, "player"))

    def _reach(self, beat: float) -> None:
        while not self._laid or self._laid[-1].end <= beat + 1e-6:
            turn = self._next()
            if turn is None:
                return
            self._laid.append(turn)

    def _next(self) -> Turn | None:
        before = self._laid[-1] if self._laid else None
        start = before.end if before else 0.0
        if start >= self._form.end_beat - 1e-6 and before is not None:
            return None
        laid = self._form.at(start)
        if laid.phase != "chorus":
            return Turn(start, laid.end, _head_player(laid), head=True)
        kind = self.turns.kind
        if self._laid_out or kind in ("lay out", "free"):
            bar, _ = self._form.bars.at(start)
            return Turn(start, min(laid.end, self._form.bars.start(bar + CHUNK_BARS)), "player")
        if kind == "solo":
            bar, _ = self._form.bars.at(start)
            return Turn(start, min(laid.end, self._form.bars.start(bar + CHUNK_BARS)), "companion")
        return Turn(start, self._end_of_turn(start, laid), self._who_next(before, laid, start))

    def _end_of_turn(self, start: float, laid: Laid) -> float:
        if self.turns.kind == "chorus":
            if laid.passage is not None:
                return laid.end
            bar, _ = self._form.bars.at(start)
            return self._form.bars.start(bar + 32)
        bar, _ = self._form.bars.at(start)
        return min(laid.end, self._form.bars.start(bar + self.turns.bars))

    def _who_next(self, before: Turn | None, laid: Laid, start: float) -> Who:
        top = abs(start - laid.start) < 1e-6
        if before is None or before.head or (top and self.turns.uneven == "restart"):
            return self.turns.first
        return "player" if before.who == "companion" else "companion"


def _head_player(laid: Laid) -> Who:
    if laid.melody_by == "companion":
        return "companion"
    return "player" if laid.melody_by == "player" else "none"
