"""What the log is told as time goes on: beats, chords and turns.

Each beat is announced once, a beat ahead, and never amended; the chart's chords are named a bar
ahead and amended if the form or the tempo moves them; a turn is named when it begins.
"""

from __future__ import annotations

from math import ceil, floor, inf

from jam import log
from jam.core.form import Form
from jam.core.moment import Moment, Out
from jam.core.sounding import Harmony
from jam.core.turns import TurnPlan, Who
from jam.transport.follower import Source

_EPS = 1e-6

_Named = tuple[str, bool]
"""A chord's symbol, and whether it is passing."""


class Teller:
    """Writes the records of beats, chords and turns, each when it is due."""

    def __init__(self, form: Form, harmony: Harmony, turns: TurnPlan) -> None:
        self._form = form
        self._harmony = harmony
        self._turns = turns
        self.begin_at(-inf)

    def begin_at(self, beat: float) -> None:
        """Tell anew from ``beat`` on: a jump has led there."""
        self._next_beat = beat
        self._chords: dict[float, _Named] | None = None
        self._turn: tuple[float, Who] = (-inf, "none")

    def tell(self, m: Moment, source: Source, *, locked: bool, out: Out) -> None:
        """Tell what is due at the mark ``m``."""
        self._tell_beats(m, source, locked, out)
        if m.beat == floor(m.beat) or self._chords is None:
            self._tell_chords(m, out)
        self._tell_turn(m, out)

    def _tell_beats(self, m: Moment, source: Source, locked: bool, out: Out) -> None:
        """Announce the beats up to one beat ahead.

        The first one may have begun by a hair when it becomes known: it falls now, then.
        """
        first = self._next_beat == -inf or self._chords is None
        beat = float(max(ceil(m.beat - _EPS), self._next_beat))
        while beat <= m.beat + 1.0 + _EPS:
            bar, place = self._form.bars.at(beat)
            t = m.time.sec(beat)
            out.records.append(
                log.beat(
                    max(t, m.now) if first else t, m.now, beat, bar=bar + 1,
                    beat_in_bar=floor(place + _EPS) + 1, bpm=m.time.bpm_at(beat),
                    source=source, locked=locked,
                )
            )  # fmt: skip
            beat += 1.0
        self._next_beat = beat

    def _tell_chords(self, m: Moment, out: Out) -> None:
        """Name the chords of the coming bar, and the one that holds if none has been named."""
        if self._harmony.by_ear:
            self._chords = {}
            return
        until = m.beat + self._form.metre.bar_beats + _EPS
        changes = self._harmony.changes(until, m.time)
        coming = {c.beat: (c.chord.symbol, c.passing) for c in changes.between(m.beat, until)}
        if self._chords is None and len(changes):
            held = changes.at(m.beat)
            coming = {held.beat: (held.chord.symbol, held.passing)} | coming
        told = self._chords or {}
        for beat in sorted(coming.keys() | {b for b in told if b > m.beat}):
            if told.get(beat) != coming.get(beat):
                symbol, passing = coming.get(beat, (None, False))
                record = log.chord(m.time.sec(beat), m.now, beat, symbol, "chart")
                out.records.append(record | ({"passing": True} if passing else {}))
        self._harmony.settle(until)
        self._chords = coming

    def _tell_turn(self, m: Moment, out: Out) -> None:
        """Name a turn that begins; one that was taken late may have begun a little before."""
        if m.beat < 0.0 or m.beat >= self._turns.end_beat - _EPS:
            return
        turn = self._turns.at(m.beat)
        start, who = self._turn
        if turn.start > start + _EPS or turn.who != who:
            start = max(start, turn.start)
            self._turn = (start, turn.who)
            t = m.time.sec(start)
            out.records.append(log.turn(t, m.now, start, turn.who, turn.end - start))
