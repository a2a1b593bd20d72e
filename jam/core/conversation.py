"""The conversation: when the companion speaks, what it answers, and when it holds its tongue.

Decisions fall on marks (every quarter of a beat), so that they do not hang on how often the core
is stepped. A reply is planned a pulse and a half before its turn, from what was played so far; if
the player goes on, it is taken back and the companion waits for the phrase to end (H4).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from math import inf

from jam.core import free
from jam.core.anew import breath_beats, plan_tail, plan_whole
from jam.core.asking import Asking
from jam.core.barge_in import EIGHTH_BEATS, WORDS, comes_in, give_floor, limit_beat
from jam.core.floor import about_to_begin, free_from, rest_needed, seems_over
from jam.core.form import Form
from jam.core.guard import Guard
from jam.core.moment import Moment, Out
from jam.core.own_phrase import describe_own
from jam.core.pieces import Piece, lead_beats, next_piece, window_of
from jam.core.replies import Active, Replies
from jam.core.said import Said
from jam.core.setup import Setup
from jam.core.sounding import Harmony
from jam.core.turns import TurnPlan
from jam.listening.line import TOGETHER_SEC, Line
from jam.listening.segmenter import RestRule
from jam.players.soloist.soloist import answer, pattern
from jam.styles.profile import Style

_SOLOIST = "the soloist"
_QUARTER = 0.25
_A_MOMENT_SEC = 0.015
_GOES_ON = "the player goes on"
_PLAYER_IN = "the player is in"
_HUSHED = "told to lay out"
_OTHER_STYLE = "another style is played"
_OTHER_TURNS = "its turn ends sooner"
_NO_TAIL = "no tail could be planned"
_LEAST_ROOM_BEATS = 2.0
"""With less than this left of a piece it is given up."""

_KEPT_BEATS = 128.0
_EPS = 1e-6


class Conversation:
    """The companion's half of the talk; the one owner of calls and replies.

    ``style`` is the one that is shown, ``coming`` the one of the next reply to begin.
    """

    def __init__(
        self,
        setup: Setup,
        form: Form,
        harmony: Harmony,
        turns: TurnPlan,
        replies: Replies,
        ids: Iterator[int],
        guard: Guard,
    ) -> None:
        self.line = Line()
        self.style: Style = setup.style
        self.coming: Style = setup.style
        self.active: Active | None = None
        self._former: Active | None = None
        self._form = form
        self._asking = Asking(setup, form, harmony, turns, ids)
        self._turns = turns
        self._replies = replies
        self._ids = ids
        self._guard = guard
        self._rest = RestRule()
        self._said = self._said_before = Said()
        self._opened: float | None = None
        self._ended_beat = -inf

    # --- what is heard -------------------------------------------------------------------

    def note_on(
        self, pitch: int, velocity: int, t: float, beat: float, m: Moment, out: Out
    ) -> None:
        """Take a note of the player's line; a reply that waits for its turn waits on."""
        self.line.note_on(pitch, velocity, t, beat)
        active = self.active
        if active is None or self._solo(m.beat):
            return
        if not active.opens or self._replies.begun(active, m.now):
            self._end_or_yield(m, out)
        else:
            self._take_back(active, m, out)

    def key_down(self, m: Moment, out: Out) -> None:
        """Hold back a reply that would begin before it is known whether this key is the line: its
        first note for a moment, or all of it where that cannot be."""
        active = self.active
        if active is None or not active.opens or self._solo(m.beat):
            return
        known = m.now + TOGETHER_SEC
        if self._replies.begun(active, m.now) or not self._replies.begun(active, known):
            return
        if not self._replies.postpone(active, known + _A_MOMENT_SEC, m, out):
            self._take_back(active, m, out)

    def note_off(self, pitch: int, t: float, beat: float) -> None:
        """Take the end of a note of the player's line."""
        self.line.note_off(pitch, t, beat)

    def chord_changed(self, m: Moment, out: Out) -> None:
        """Another chord has arrived than the one planned for: plan the tails anew."""
        if self._former is not None:
            latest = self.active.first_beat if self.active is not None else inf
            self._plan_or_end(self._former, latest, m, out)
        if self.active is not None:
            self._plan_or_end(self.active, inf, m, out)

    # --- what is asked -------------------------------------------------------------------

    def mark(self, m: Moment, out: Out) -> None:
        """Decide what is to be decided on a mark."""
        self._end_or_yield(m, out)
        self._change_style(m, out)
        if self._turns.manner(m.beat) == "free":
            self._open_free_turn(m)
        if self._form.fermata:
            self._hold_last(m, out)
        if m.beat % self._form.metre.bar_beats == 0.0:
            self.line.forget_before(m.beat - _KEPT_BEATS)
        piece = next_piece(self._turns, self._form, m.beat, self._said.done_until)
        if piece is None or m.beat < piece.start - self._lead(m) - _EPS:
            return
        if m.beat > piece.end - _LEAST_ROOM_BEATS:
            self._give_up(m, piece)
            return
        if self.active is not None and self.active.end_beat > piece.start + _EPS:
            return
        if self._may_begin(m, piece):
            answer_it = partial(self._answer, m, piece, out)
            if not self._guard.run(_SOLOIST, answer_it, m, out):
                self._give_up(m, piece)

    def hush(self, m: Moment, out: Out) -> None:
        """End what is sounding soon, and take back what is not (lay out)."""
        for active in (self._former, self.active):
            if active is not None:
                self._end_soon(active, m, out, _HUSHED)

    def obey(self, m: Moment, out: Out) -> None:
        """End a reply where the companion's turn ends now, if the plan of turns was changed."""
        active = self.active
        if active is None or active.closed or not active.notes:
            return
        window = active.request.window
        end = self._turns.talk_end(max(m.beat, window.start))
        if end >= window.end - _EPS:
            melody = self._form.melody(window.end - _EPS, window.latest)
            if not melody or active.end_beat <= melody[0].beat + _EPS:
                return
            end = melody[0].beat
        if self._replies.begun(active, m.now):
            self._replies.close(active, m, out, max(end, m.beat + EIGHTH_BEATS), _OTHER_TURNS)
        else:
            self._take_back(active, m, out, _OTHER_TURNS)

    def silence(self, m: Moment, out: Out) -> None:
        """Say that all that was sounding or waiting is over (panic, stop, jump)."""
        for active in (self._former, self.active):
            if active is not None:
                self._replies.silence(active, m, out)
        self.active = self._former = None

    def forget(self, beat: float) -> None:
        """Begin anew at ``beat``, the player's line too: the beats before are another time's."""
        self.line = Line()
        self.active = self._former = None
        self._ended_beat = -inf
        self._said = self._said_before = self._said.elsewhere(beat)

    def reopen(self, beat: float) -> None:
        """Let turns from ``beat`` on be answered though they were dealt with (take it)."""
        if self.active is not None:
            beat = max(beat, self.active.end_beat)
        self._said = replace(self._said, done_until=min(self._said.done_until, beat))

    # --- style ---------------------------------------------------------------------------

    def _change_style(self, m: Moment, out: Out) -> None:
        """Plan a reply anew of which nothing has sounded, if it was planned in another style than
        it would be now."""
        active = self.active
        if active is None or not active.notes or self._replies.begun(active, m.now):
            return
        if active.request.style is self.coming:
            return
        asked = self._asking.in_style(active.request, self.coming, m)
        plan_it = partial(plan_whole, active, asked, self._replies, m, out, _OTHER_STYLE)
        if self._guard.run(_SOLOIST, plan_it, m, out):
            self._said = self._said.in_other_words(
                pattern([n.pitch for _, n in active.notes]),
                describe_own(active.reply.notes, self._form.bars),
            )
        else:
            self._take_back(active, m, out, _OTHER_STYLE)

    # --- turns ---------------------------------------------------------------------------

    def _end_or_yield(self, m: Moment, out: Out) -> None:
        if self._former is not None and m.beat >= self._former.end_beat - _EPS:
            self._ended_beat = self._former.end_beat
            self._former = None
        active = self.active
        if active is None:
            return
        end = active.request.window.end
        over = active.end_beat if active.closed else max(active.end_beat, end)
        if m.beat >= over - _EPS or not active.notes:
            self._ended_beat = active.end_beat
            self.active = None
            return
        entered = self.line.last_onset_beat
        if entered is None or active.closed or self._solo(m.beat):
            return
        if comes_in(active, entered, self._turns, self._form, m):
            self._give_way(active, entered, m, out)
            return
        plays = self.line.held or entered >= end - self._pulse - _EPS
        last = self._turns.at(end).who != "companion" and not self._form.holds(m.beat)
        if plays and last and m.beat >= end - _QUARTER - _EPS:
            self._replies.close(active, m, out, max(end, entered) + EIGHTH_BEATS, _PLAYER_IN)

    def _end_soon(self, active: Active, m: Moment, out: Out, reason: str) -> None:
        if self._replies.begun(active, m.now):
            self._replies.close(active, m, out, m.beat + EIGHTH_BEATS, reason)
        else:
            self._take_back(active, m, out, reason)

    def _give_way(self, active: Active, entered: float, m: Moment, out: Out) -> None:
        """Give the floor back to a player who has come in; listen from there on."""
        limit = limit_beat(active, self._form, m)
        self._replies.close(active, m, out, limit, WORDS[active.request.style.barge_in])
        trading = self._turns.manner(m.beat) == "trade"
        end = give_floor(active, entered, limit, self._turns, m)
        self._said = replace(
            self._said, done_until=end, call_from=entered, broken_off=trading and end == limit
        )

    def _hold_last(self, m: Moment, out: Out) -> None:
        """Put the last note of a reply that ends the tune under the fermata, as it comes."""
        active = self.active
        if active is None or active.closed or not active.notes:
            return
        if active.notes[-1][1].sounds_beat > m.beat + EIGHTH_BEATS:
            return
        if active.request.window.end > self._form.last_bar_beat < active.end_beat:
            self._replies.hold_last(active, m, out)

    def _open_free_turn(self, m: Moment) -> None:
        turn = self._turns.at(m.beat)
        if self.active is not None or turn.who != "player":
            return
        following = self._turns.after(turn)
        if following is not None and following.who == "companion":
            if following.start == self._opened and self.line.held:
                self._turns.cut(following.start)
            return
        found = free.opening(
            self.line,
            self._form.bars,
            self._rest,
            m,
            call_from=self._said.call_from,
            lead_beats=self._lead(m),
            eager=self._turns.eager,
            length=self._turns.length,
        )
        if found is None or found[0] >= self._turns.end_beat - _EPS:
            return
        if self._form.at(found[0]).phase == "chorus":
            self._turns.open(*found)
            self._opened = found[0]

    def _give_up(self, m: Moment, piece: Piece) -> None:
        """Let a piece go by: the player has left no room, or the soloist failed.

        A phrase with which the player came in early, and which still goes on, is the next call.
        """
        resting = self.line.silence_beats(m.beat) >= self._rest.rest_beats(m.bpm) - _EPS
        call_from = self._said.call_from
        if piece.closes and (resting or not self._said.broken_off):
            call_from = piece.end - self._pulse
        self._said = replace(
            self._said, done_until=piece.end, call_from=call_from, broken_off=False
        )

    def _may_begin(self, m: Moment, piece: Piece) -> bool:
        """Tell whether the player leaves the floor: all keys up, and soon for long enough."""
        if self._solo(piece.start) or not self._opens(piece):
            return True
        return seems_over(self.line, self._floor_from(m, piece), m)

    def _floor_from(self, m: Moment, piece: Piece) -> float:
        """Return the beat from which the floor is free for the first reply of a turn."""
        open_floor = piece.start == self._opened
        if not open_floor and about_to_begin(self.line, piece.start, m):
            return m.beat
        need = rest_needed(self._rest, m.bpm, free=open_floor, eager=self._turns.eager)
        return free_from(self.line, need, m) - _EPS

    def _opens(self, piece: Piece) -> bool:
        return self._said.broken_off or self._said.talk != piece.talk

    # --- answering -----------------------------------------------------------------------

    def _answer(self, m: Moment, piece: Piece, out: Out) -> None:
        opens = self._opens(piece)
        ended = self.active.end_beat if self.active is not None else self._ended_beat
        soonest = ended + breath_beats(m.bpm)
        if opens and not self._solo(piece.start):
            soonest = max(soonest, self._floor_from(m, piece))
        window = window_of(piece, self._form, m, opens=opens, free_from=soonest)
        if not len(self._asking.changes(window.latest, m)) or window.end - window.start < 1.0:
            return
        before = self._said
        call = self._asking.call(piece, self.line, before, m, out, opens=opens)
        number = next(self._ids)
        request = self._asking.request(
            piece, window, before, call, number, self.coming, m, opens=opens
        )
        reply = answer(request)
        self._former = self.active
        self.active = Active(number, call[0], request, reply, opens)
        self._replies.begin(self.active, m, out)
        self._said_before = before
        said = replace(
            before.and_call(call[1] if opens and call[0] != before.call[0] else None),
            done_until=piece.end,
            call_from=piece.end - self._pulse,
            talk=piece.talk,
            call=call,
            broken_off=False,
            own=describe_own(reply.notes, self._form.bars),
        )
        self._said = said.and_reply(self.active, pattern([n.pitch for n in reply.notes]))

    def _take_back(self, active: Active, m: Moment, out: Out, reason: str = _GOES_ON) -> None:
        """Take back a reply that has not begun, as if it had not been planned."""
        self._replies.withdraw(active, m, out, reason)
        self.active, self._former = self._former, None
        self._said = self._said_before
        turn = self._turns.at(active.request.window.start)
        if turn.start == self._opened:
            self._turns.cut(max(m.beat, turn.start))

    def _plan_or_end(self, active: Active, latest: float, m: Moment, out: Out) -> None:
        """Plan the tail of a reply anew, or end the reply if that fails."""
        asked = self._asking.over_now(active.request, m)
        plan_it = partial(plan_tail, active, asked, latest, self._replies, m, out)
        if not self._guard.run(_SOLOIST, plan_it, m, out):
            self._end_soon(active, m, out, _NO_TAIL)

    # --- odds and ends -------------------------------------------------------------------

    def _solo(self, beat: float) -> bool:
        """Whether the companion plays alone at ``beat``, whatever the player does."""
        return self._turns.manner(beat) == "solo"

    @property
    def _pulse(self) -> float:
        return self._form.metre.pulse_beats

    def _lead(self, m: Moment) -> float:
        return lead_beats(self._pulse, m.bpm)
