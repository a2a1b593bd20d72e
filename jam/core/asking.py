"""What is the soloist asked? The call, what was said before, and the place in the tune.

A later reply of the same turn goes on with the call of the first; a solo goes on from what the
companion said itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from jam.core import free
from jam.core.form import Form
from jam.core.moment import Moment, Out
from jam.core.pieces import Piece
from jam.core.said import Said
from jam.core.setup import Setup
from jam.core.sounding import Harmony
from jam.core.story import story_of
from jam.core.talk_log import call_record
from jam.core.turns import TurnPlan
from jam.harmony.changes import Changes
from jam.listening.describe import describe
from jam.listening.line import Line
from jam.listening.phrase import LineNote, PhraseDescription
from jam.players.soloist.request import Request, Window
from jam.styles.profile import Style

_LONGEST_CALL_BARS = 8
_EPS = 1e-6

Call = tuple[int | None, PhraseDescription | None]
"""The number of a call and its description; None for what there was not."""


class Asking:
    """Puts together the questions to the soloist."""

    def __init__(
        self, setup: Setup, form: Form, harmony: Harmony, turns: TurnPlan, ids: Iterator[int]
    ) -> None:
        self._setup = setup
        self._feel = setup.chart.feel if setup.chart else setup.feel
        self._form = form
        self._harmony = harmony
        self._turns = turns
        self._ids = ids

    def changes(self, until: float, m: Moment) -> Changes:
        """Return the changes to past ``until``, and two bars on."""
        return self._harmony.changes(until + 2 * self._form.metre.bar_beats, m.time)

    def over_now(self, request: Request, m: Moment) -> Request:
        """Return the question over the changes as they are known now."""
        latest = request.window.latest
        return replace(
            request,
            changes=self.changes(latest, m),
            alternatives=self._harmony.alternatives(m.beat, latest),
        )

    def in_style(self, request: Request, style: Style, m: Moment) -> Request:
        """Return a question as it would be asked now, for a reply in ``style``."""
        asked = self.over_now(request, m)
        return replace(asked, style=style, idiom=self._setup.idiom_of(style))

    def call(
        self, piece: Piece, line: Line, said: Said, m: Moment, out: Out, *, opens: bool
    ) -> Call:
        """Return the call that the reply to ``piece`` answers, and log it if it is a new one.

        ``opens`` says that the reply is the first of its turn. After a mere stray note of the
        player's it goes on with the call of before.
        """
        if self._turns.manner(piece.start) == "solo":
            return None, None
        if not opens:
            return said.call
        notes = self._call_notes(line, said, m)
        if said.broken_off and said.talk == piece.talk and len(notes) < free.LEAST_NOTES:
            return said.call
        if not notes:
            return None, None
        number = next(self._ids)
        out.records.append(call_record(number, notes, m.now))
        if len(notes) < free.LEAST_NOTES:
            return number, None
        key, blues = self._harmony.key, self._harmony.blues
        changes = self.changes(m.beat, m)
        return number, describe(notes, changes, self._form.bars, key=key, blues=blues)

    def request(
        self, piece: Piece, window: Window, said: Said, call: Call, number: int, style: Style,
        m: Moment, *, opens: bool,
    ) -> Request:  # fmt: skip
        """Return the question whose answer is reply ``number``."""
        asked = Request(
            window=window,
            changes=self.changes(window.latest, m),
            bars=self._form.bars,
            pulse_beats=self._form.metre.pulse_beats,
            bpm=m.bpm,
            feel=self._feel,
            style=style,
            seed=(self._setup.seed, number),
            call=call[1],
            key=self._harmony.key,
            idiom=self._setup.idiom_of(style),
            blues=self._harmony.blues,
            recent=said.recent,
            memory=said.memory,
            story=story_of(piece, self._form, self._turns),
            alternatives=self._harmony.alternatives(m.beat, window.latest),
            effort=m.effort,
            prompt=opens and self._turns.eager and self._turns.manner(piece.start) == "free",
        )
        if self._goes_on_alone(piece, call, opens=opens):
            return replace(asked, call=said.own, own=said.own is not None)
        return asked

    def _goes_on_alone(self, piece: Piece, call: Call, *, opens: bool) -> bool:
        """Tell whether a reply goes on from the companion's own last phrase."""
        manner = self._turns.manner(piece.start)
        return manner == "solo" or (manner == "soloing" and (call[1] is None or not opens))

    def _call_notes(self, line: Line, said: Said, m: Moment) -> tuple[LineNote, ...]:
        """Return what the player said since the last reply, eight bars of it at most."""
        bar, _ = self._form.bars.at(m.beat)
        since = max(said.call_from, self._form.bars.start(bar - _LONGEST_CALL_BARS))
        return line.notes_since(since - _EPS, m.now, m.beat)
