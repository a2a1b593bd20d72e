"""Whose turn it is, and until when.

Turns are laid out along the form as they are needed. In trades they change every so many bars;
where they do not divide the form, the last one of a chorus is cut short and the roles go on
swapping, or begin again at the top, as the setup says. Heads belong to whoever plays the melody.
In free playing the turns are not laid out: the conversation opens them as it goes.

The *manner* of taking turns holds from a beat on, and cues change it (`jam.core.cue_places` says
from where): *take it* opens a turn of the companion's; where it plays on cue it solos from there
on. *lay out* gives all to the player until *take it* or *trade*; *trade* lets the two trade from
there on, as if they had just begun.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, replace
from math import inf
from typing import Literal

from jam.core.cue_places import take_beat, trade_beat
from jam.core.form import Form, Laid
from jam.core.setup import TurnKind, Turns

Who = Literal["player", "companion", "both", "none"]

Manner = TurnKind | Literal["soloing"]
"""A way of taking turns; ``soloing``: on cue, and the cue has come."""

CHUNK_BARS = 4
"""A long turn of the companion's is answered in replies of so many bars."""

CHORUS_BARS = 32
"""The length of a chorus where no chart tells it."""

_AHEAD_BEATS = 64.0
"""No reply reaches further than this."""

_LATE_BEATS = 0.5
"""Who comes in so much after a bar line comes in on it."""

_EPS = 1e-6


@dataclass(frozen=True, slots=True)
class Turn:
    """``who`` plays for ``start <= beat < end``. ``head`` turns are melody, not conversation."""

    start: float
    end: float
    who: Who
    head: bool = False

    @property
    def to_talk(self) -> bool:
        """Whether the companion improvises here."""
        return self.who == "companion" and not self.head


class TurnPlan:
    """Turns in order, laid out as far as has been asked.

    ``end_beat`` ends them, besides the end of the form.
    """

    def __init__(self, turns: Turns, form: Form, end_beat: float | None = None) -> None:
        self._turns = turns
        self._form = form
        self._end_beat = inf if end_beat is None else end_beat
        self._laid: list[Turn] = []
        self._manners: list[tuple[float, Manner]] = []
        self._halvings: list[tuple[float, int]] = []
        self.restart()

    def manner(self, beat: float) -> Manner:
        """Return the way of taking turns at ``beat``."""
        return self._manner_from(beat)[1]

    @property
    def eager(self) -> bool:
        """Return whether a free companion answers on the next off-beat."""
        return self._turns.eager

    @property
    def end_beat(self) -> float:
        """Return the beat on which all turns are over, inf while that is open."""
        return min(self._form.end_beat, self._end_beat)

    def at(self, beat: float) -> Turn:
        """Return the turn that holds at ``beat`` (the first one before the first downbeat).

        After the end it is nobody's.
        """
        self._reach(beat)
        if not self._laid or beat >= self._laid[-1].end - _EPS:
            return Turn(self.end_beat, inf, "none")
        return self._laid[max(0, self._index(beat))]

    def after(self, turn: Turn) -> Turn | None:
        """Return the turn that follows, or None when the tune is over."""
        self._reach(turn.end)
        index = bisect_right(self._laid, turn.end - _EPS, key=lambda t: t.start)
        return self._laid[index] if index < len(self._laid) else None

    def talk_start(self, turn: Turn) -> float:
        """Return where the companion's talk began that ``turn`` goes on with: turns of the
        companion's that follow one another are one talk."""
        start = turn.start
        for before in reversed(self._laid):
            if before.start < start - _EPS:
                if not before.to_talk or before.end < start - _EPS:
                    break
                start = before.start
        return start

    # --- what changes the plan -----------------------------------------------------------

    def take(self, beat: float) -> float:
        """Let the companion take the turn that is asked for at ``beat``; return where it begins."""
        start = take_beat(self._form, beat)
        if start >= self.end_beat - _EPS:
            return start
        manner = self._asked_manner(start)
        on_cue = manner in ("on cue", "soloing")
        if on_cue:
            self.cut(start)
        reached = max(start, beat) + _EPS
        later = [(since, what) for since, what in self._manners if since > reached]
        asked = (start, "soloing" if on_cue else manner)
        self._manners = [*self._manners_before(start), asked, *later]
        if on_cue:
            return start
        length = CHUNK_BARS
        if manner in ("trade", "free"):
            length = self.length(self._turns.bars, start)
        self.open(start, self._bars_on(start, length))
        return start

    def trade(self, beat: float) -> float:
        """Let the two trade as asked for at ``beat``; return where that begins."""
        start = trade_beat(self._form, beat, self._turns.bars)
        if start < self.end_beat - _EPS:
            self._change("trade", start)
            self._halvings = [h for h in self._halvings if h[0] < start - _EPS] + [(start, 0)]
        return start

    def lay_out(self, beat: float) -> None:
        """From ``beat`` on everything is the player's, until the companion is asked again."""
        self._change("lay out", max(0.0, beat))

    def length(self, bars: int, beat: float) -> int:
        """Return how many bars a turn of ``bars`` has that begins at ``beat``: one at least."""
        halvings = [count for since, count in self._halvings if since <= beat + _EPS]
        return max(1, bars >> halvings[-1])

    def shorten(self, beat: float) -> None:
        """Let turns that begin at ``beat`` or later be half as long."""
        count = [count for since, count in self._halvings if since <= beat + _EPS][-1]
        self._halvings = [*self._halvings, (beat, count + 1)]

    def hand_back(self, entered: float, end: float) -> None:
        """End the companion's turn at ``end``, for the player has come in at ``entered``, and let
        turns be half as long from then on.

        The player's turn reaches to the first seam of such turns that leaves half of one.
        """
        turn = self.at(entered)
        bars = self._form.bars
        self.shorten(entered)
        length = self.length(self._turns.bars, entered)
        seam, _ = bars.at(turn.start)
        room = 0.5 * length * bars.bar_beats - _LATE_BEATS
        while bars.start(seam) < max(entered + room, end + _EPS) - _EPS:
            seam += length
        self.cut(end)
        over = min(bars.start(seam), self._form.at(end).end, self.end_beat)
        if over > end + _EPS:
            self._laid.append(Turn(end, over, "player"))

    def laid_out(self, beat: float) -> bool:
        """Return whether the companion has been told to lay out, or plays no part at all."""
        return self.manner(beat) == "lay out"

    def open(self, start: float, end: float) -> None:
        """Give the companion a turn, within the passage in which it starts."""
        self.cut(start)
        end = min(end, self._form.at(start).end, self.end_beat)
        self._laid.append(Turn(start, end, "companion"))

    def cut(self, beat: float) -> None:
        """Forget what was laid from ``beat`` on; a turn that goes on there ends there."""
        self._reach(beat)
        self._laid = [turn for turn in self._laid if turn.start < beat - _EPS]
        if self._laid and self._laid[-1].end > beat:
            self._laid[-1] = replace(self._laid[-1], end=beat)

    def relay(self, beat: float) -> None:
        """Forget the turns that begin after ``beat``: the form or the place in it has changed."""
        end = self.end_beat
        kept = [t for t in self._laid if t.start <= beat + _EPS and t.start < end - _EPS]
        self._laid = [replace(turn, end=min(turn.end, end)) for turn in kept]

    def talk_end(self, beat: float) -> float:
        """Return where the companion's talk ends that holds at ``beat``: ``beat``, if none does."""
        turn: Turn | None = self.at(beat)
        end = beat
        while turn is not None and turn.to_talk and turn.start < beat + _AHEAD_BEATS:
            end = turn.end
            turn = self.after(turn)
        return end

    def jump(self, beat: float) -> None:
        """Go to ``beat``: as turns are taken now, they are taken there."""
        self._halvings = [(-inf, self._halvings[-1][1])]
        self._manners = [(-inf, self._manners[-1][1])]
        self.relay(beat)

    def restart(self) -> None:
        """Begin again as if nothing had been played."""
        self._laid = []
        self._manners = [(-inf, self._turns.kind)]
        self._halvings = [(-inf, 0)]

    def _change(self, manner: Manner, start: float) -> None:
        """Let a manner hold from ``start`` on, whatever was asked for later."""
        self.cut(start)
        self._manners = [*self._manners_before(start), (start, manner)]

    def _manners_before(self, beat: float) -> list[tuple[float, Manner]]:
        return [(since, manner) for since, manner in self._manners if since < beat - _EPS]

    def _manner_from(self, beat: float) -> tuple[float, Manner]:
        """Return the manner at ``beat``, and since when it holds."""
        index = bisect_right(self._manners, beat + _EPS, key=lambda pair: pair[0]) - 1
        return self._manners[index]

    def _asked_manner(self, beat: float) -> Manner:
        """Return the manner at ``beat``, or the one before the companion was told to lay out."""
        asked = [m for since, m in self._manners if since <= beat + _EPS and m != "lay out"]
        return asked[-1] if asked else "lay out"

    # --- laying out ----------------------------------------------------------------------

    def _index(self, beat: float) -> int:
        return bisect_right(self._laid, beat + _EPS, key=lambda turn: turn.start) - 1

    def _reach(self, beat: float) -> None:
        while not self._laid or self._laid[-1].end <= beat + _EPS:
            turn = self._next()
            if turn is None:
                return
            self._laid.append(turn)

    def _next(self) -> Turn | None:
        before = self._laid[-1] if self._laid else None
        start = before.end if before else 0.0
        laid = self._form.at(start)
        if start >= self.end_beat - _EPS:
            return None
        if laid.phase != "chorus":
            return Turn(start, min(laid.end, self.end_beat), _head_player(laid), head=True)
        who = self._who_next(before, laid, start)
        changes = min((since for since, _ in self._manners if since > start + _EPS), default=inf)
        end = min(laid.end, self.end_beat, self._end_of_turn(start, laid), changes)
        return Turn(start, end, who)

    def _end_of_turn(self, start: float, laid: Laid) -> float:
        manner = self.manner(start)
        if manner in ("lay out", "free", "solo", "on cue"):
            return self._bars_on(start, CHUNK_BARS)
        if manner in ("chorus", "soloing"):
            return laid.end if laid.passage is not None else self._bars_on(start, CHORUS_BARS)
        return self._bars_on(start, self.length(self._turns.bars, start))

    def _bars_on(self, start: float, bars: int) -> float:
        bar, _ = self._form.bars.at(start)
        return self._form.bars.start(bar + bars)

    def _who_next(self, before: Turn | None, laid: Laid, start: float) -> Who:
        since, manner = self._manner_from(start)
        if manner in ("lay out", "free", "on cue"):
            return "player"
        if manner in ("solo", "soloing"):
            return "companion"
        top = abs(start - laid.start) < _EPS
        fresh = before is None or before.head or abs(start - since) < _EPS
        if before is None or fresh or (top and self._turns.uneven == "restart"):
            return self._turns.first
        return "player" if before.who == "companion" else "companion"


def _head_player(laid: Laid) -> Who:
    if laid.melody_by == "companion":
        return "companion"
    return "player" if laid.melody_by == "player" else "none"
