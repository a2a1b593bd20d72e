"""The conversation: when the companion speaks, what it answers, and when it holds its tongue.

Decisions fall on quarter marks (every quarter of a beat), so that they do not hang on how often
the core is stepped. A reply is planned a pulse and a half before its turn, from what was played so
far; if the player goes on, it is taken back and the companion waits for the phrase to end (H4).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import ceil

from jam.core.form import Form
from jam.core.moment import Moment, Out
from jam.core.replies import Active, Replies, call_record
from jam.core.setup import Setup
from jam.core.sounding import Harmony
from jam.core.turns import CHUNK_BARS, Turn, TurnPlan
from jam.events import PlannedNote
from jam.harmony.changes import Changes
from jam.listening.cells import cells_of
from jam.listening.describe import describe
from jam.listening.line import Line
from jam.listening.phrase import GridNote, LineNote, PhraseDescription
from jam.listening.segmenter import RestRule
from jam.players.soloist.request import Prefix, Request, Window
from jam.players.soloist.soloist import answer, answer_anew, pattern
from jam.styles.profile import Style

_QUARTER = 0.25
_LEAST_ROOM_BEATS = 2.0
_BREATH_BEATS = 2.0
"""A rest inside a solo: people pause 2 to 4 beats between phrases (medians over solos of the
Weimar Jazz Database, Pfleiderer et al. 2017), and are not to be talked over."""
_MEMORY = 8
_SOONEST_SEC = 0.02
"""How soon after a chord was named the first note of a new tail may sound."""
_FAST_BPM = 200.0


@dataclass(frozen=True, slots=True)
class _Piece:
    """A stretch to be answered in one reply."""

    start: float
    end: float
    opens_turn: bool


class Conversation:
    """The companion's half of the talk; the one owner of calls and replies."""

    def __init__(
        self,
        setup: Setup,
        form: Form,
        harmony: Harmony,
        turns: TurnPlan,
        replies: Replies,
        ids: Iterator[int],
    ) -> None:
        self.line = Line()
        self.style: Style = setup.style
        self.active: Active | None = None
        self._setup = setup
        self._feel = setup.chart.feel if setup.chart else setup.feel
        self._form = form
        self._harmony = harmony
        self._turns = turns
        self._replies = replies
        self._ids = ids
        self._rest = RestRule()
        self._done_until = -1e9
        self._ended_beat = -1e9
        self._call_from = -1e9
        self._held_back: tuple[float, float] | None = None
        self._last_call: tuple[int | None, PhraseDescription | None] = (None, None)
        self._own: PhraseDescription | None = None
        self._recent: list[tuple[int, ...]] = []

    # --- what is heard -------------------------------------------------------------------

    def note_on(
        self, pitch: int, velocity: int, t: float, beat: float, m: Moment, out: Out
    ) -> None:
        """Take a note of the player's line; a reply that waits for its turn waits on."""
        self.line.note_on(pitch, velocity, t, beat)
        active = self.active
        if active is None or self._turns.turns.kind == "solo":
            return
        if self._replies.begun(active, m.now):
            self._end_or_yield(m, out)
        else:
            self._take_back(active, m, out)

    def note_off(self, pitch: int, t: float, beat: float) -> None:
        """Take the end of a note of the player's line."""
        self.line.note_off(pitch, t, beat)

    def chord_changed(self, m: Moment, out: Out) -> None:
        """Another chord has arrived than the one planned for: plan the tail anew."""
        active = self.active
        if active is None or not active.notes:
            return
        begun = self._replies.begun(active, m.now)
        if len(begun) == len(active.notes) and self._stays(begun[-1][1], m):
            return
        prefix = self._prefix(active, begun, m)
        request = replace(active.request, changes=self._changes(active.request.window.latest, m))
        reply = answer_anew(request, active.reply, prefix)
        stays = not begun or self._stays(begun[-1][1], m)
        self._replies.retail(active, reply, prefix, len(begun), m, out, stays=stays)

    # --- what is asked -------------------------------------------------------------------

    def quarter(self, m: Moment, out: Out) -> None:
        """Decide what is to be decided on a quarter mark."""
        self._end_or_yield(m, out)
        if self._turns.turns.kind == "free":
            self._open_free_turn(m)
        piece = self._piece(m.beat)
        if piece is None or m.beat < piece.start - self._lead(m) - 1e-6:
            return
        if m.beat > piece.end - _LEAST_ROOM_BEATS:
            self._done_until = piece.end
            return
        if self.active is not None and self.active.end_beat > piece.start + 1e-6:
            return
        if self._may_begin(m, piece):
            self._answer(m, piece, out)

    def hush(self, m: Moment, out: Out) -> None:
        """End the reply soon (lay out, last time, stop)."""
        active = self.active
        if active is None:
            return
        if self._replies.begun(active, m.now):
            self._replies.close(active, m, out, m.beat + 0.5)
        else:
            self._replies.withdraw(active, m, out)
            self.active = None

    def forget(self, beat: float) -> None:
        """Begin anew at ``beat`` (panic, jump): what was planned is gone already."""
        self.active = None
        self._done_until = self._call_from = self._ended_beat = beat
        self._held_back = None

    def reopen(self, beat: float) -> None:
        """Let turns from ``beat`` on be answered though they were dealt with (take it)."""
        self._done_until = min(self._done_until, beat)

    # --- turns ---------------------------------------------------------------------------

    def _end_or_yield(self, m: Moment, out: Out) -> None:
        active = self.active
        if active is None:
            return
        if m.beat >= max(active.end_beat, active.request.window.end) - 1e-6 or not active.notes:
            self.active = None
            return
        if self._turns.turns.kind == "solo":
            return
        end = active.request.window.end
        entered = self.line.last_onset_beat
        if entered is None:
            return
        if self._turns.turns.kind == "free" and entered > active.first_beat + _QUARTER:
            self._replies.close(active, m, out, m.beat + 0.5)
            turn = self._turns.at(m.beat)
            if turn.who == "companion":
                self._turns.give_back(turn, ceil(m.beat + 0.5))
            self._done_until = self._call_from = m.beat
            active.request = replace(
                active.request, window=replace(active.request.window, end=m.beat)
            )
        elif m.beat >= end - _QUARTER - 1e-6 and entered >= end - self._pulse - 1e-6:
            self._replies.close(active, m, out, end + 0.5)

    def _open_free_turn(self, m: Moment) -> None:
        if self.active is not None or self._turns.at(m.beat).who == "companion":
            return
        following = self._turns.after(self._turns.at(m.beat))
        if following is not None and following.who == "companion":
            return
        entered = self.line.last_onset_beat
        if entered is None or entered < self._call_from or self.line.held:
            return
        heard = self.line.notes_since(self._call_from, m.now, m.beat)
        if len(heard) < 3:
            return
        bars = self._form.bars
        silence = self.line.silence_beats(m.beat)
        length = 4 if heard[-1].heard_beat - heard[0].heard_beat > 2.5 * bars.bar_beats else 2
        if self._turns.turns.eager:
            if silence >= max(1.0, self._rest.rest_beats(m.bpm)) - 1e-6:
                start = ceil(m.beat + _QUARTER) + 0.5
                bar, _ = bars.at(start)
                self._turns.open(start, bars.start(bar + length))
            return
        bar, _ = bars.at(m.beat)
        seam = bars.start(bar + 2 - bar % 2)
        if seam >= self._form.end_beat - 1e-6:
            return
        wait = seam - m.beat
        if wait <= self._lead(m) + 1e-6 and silence + wait >= _BREATH_BEATS - 1e-6:
            bar, _ = bars.at(seam)
            self._turns.open(seam, bars.start(bar + length))

    def _piece(self, beat: float) -> _Piece | None:
        """Return the next stretch of the companion's that has not been dealt with."""
        turn: Turn | None = self._turns.at(max(beat, self._done_until))
        while turn is not None and (
            turn.who != "companion" or turn.head or turn.end <= self._done_until + 1e-6
        ):
            if turn.start > beat + 16.0:
                return None
            turn = self._turns.after(turn)
        if turn is None:
            return None
        start = max(turn.start, self._done_until)
        bars = self._form.bars
        end = turn.end
        first, _ = bars.at(start)
        if end > bars.start(first + 2 * CHUNK_BARS) + 1e-6:
            end = bars.start(first + CHUNK_BARS)
        return _Piece(start, end, opens_turn=start == turn.start)

    def _may_begin(self, m: Moment, piece: _Piece) -> bool:
        if self._turns.turns.kind == "solo" or not piece.opens_turn:
            return True
        if self.line.held:
            return False
        silence = self.line.silence_beats(m.beat)
        if m.beat >= piece.start - 1e-6 or m.beat < piece.start - 2 * _QUARTER - 1e-6:
            return silence >= self._rest.rest_beats(m.bpm) - 1e-6
        return silence >= _QUARTER - 1e-6

    # --- answering -----------------------------------------------------------------------

    def _answer(self, m: Moment, piece: _Piece, out: Out) -> None:
        answers, description = self._what_was_said(m, piece, out)
        window = self._window(m, piece)
        number = next(self._ids)
        changes = self._changes(window.latest, m)
        if not len(changes):
            self._done_until = piece.end
            return
        request = Request(
            window=window,
            changes=changes,
            bars=self._form.bars,
            pulse_beats=self._pulse,
            bpm=m.bpm,
            feel=self._feel,
            style=self.style,
            seed=(self._setup.seed, number),
            call=description,
            key=self._harmony.key,
            blues=self._harmony.blues,
            recent=tuple(self._recent),
            effort=m.effort,
        )
        reply = answer(request)
        self._held_back = (self._call_from, self._done_until)
        self.active = self._replies.begin(number, answers, request, reply, m, out)
        self._ended_beat = self.active.end_beat
        self._done_until = piece.end
        self._call_from = piece.end - self._pulse
        self._own = _own_description(reply.notes, self._form)
        self._recent = [*self._recent, pattern([n.pitch for n in reply.notes])][-_MEMORY:]
        self.line.forget_before(self._call_from - 64.0)

    def _what_was_said(
        self, m: Moment, piece: _Piece, out: Out
    ) -> tuple[int | None, PhraseDescription | None]:
        if self._turns.turns.kind == "solo":
            return None, self._own
        if not piece.opens_turn:
            return self._last_call
        notes = self._call_notes(m)
        if not notes:
            self._last_call = (None, None)
            return self._last_call
        number = next(self._ids)
        out.records.append(call_record(number, notes, m.now))
        changes = self._changes(m.beat, m)
        if len(changes) and len(notes) >= 3:
            self._last_call = (number, describe(notes, changes, self._form.bars))
        else:
            self._last_call = (number, None)
        return self._last_call

    def _call_notes(self, m: Moment) -> tuple[LineNote, ...]:
        """Return what the player said since the last reply, eight bars of it at most."""
        bar, _ = self._form.bars.at(m.beat)
        since = max(self._call_from, self._form.bars.start(bar - 8))
        return self.line.notes_since(since - 1e-6, m.now, m.beat)

    def _window(self, m: Moment, piece: _Piece) -> Window:
        pulses = 2.0 if m.bpm > _FAST_BPM else 1.0
        breath_beats = max(0.5, 0.25 * m.bpm / 60.0)
        soonest = max(m.beat + _QUARTER, self._ended_beat + breath_beats)
        start = max(piece.start, ceil(soonest * 2.0 - 1e-6) / 2.0)
        pickup = pulses * self._pulse if piece.opens_turn else 0.0
        earliest = max(piece.start - pickup, soonest)
        return Window(start, piece.end, min(earliest, start), piece.end + self._pulse)

    def _take_back(self, active: Active, m: Moment, out: Out) -> None:
        self._replies.withdraw(active, m, out)
        self.active = None
        if self._held_back is not None:
            self._call_from, self._done_until = self._held_back
        if self._recent:
            self._recent.pop()

    def _prefix(self, active: Active, begun: list[tuple[int, PlannedNote]], m: Moment) -> Prefix:
        """Return what is kept: the sounding note too, if it fits the new chord."""
        soon = m.beat + _SOONEST_SEC * m.bpm / 60.0
        pitches = tuple(note.pitch for _, note in begun)
        if begun and self._stays(begun[-1][1], m):
            rest = active.notes[len(begun) :]
            last = begun[-1][1]
            soon = max(soon, min(last.beat + last.beats, rest[0][1].beat if rest else 1e9))
        pending = tuple(
            note.pitch for _, note in begun[-2:] if note.role in ("approach", "leaning")
        )
        if begun and begun[-1][1].role not in ("approach", "leaning"):
            pending = ()
        held = None
        if begun:
            last = begun[-1][1]
            end = last.beat + last.beats
            held = (last.beat, end if self._stays(last, m) else min(end, m.beat))
        return Prefix(soon, pitches, pending, _breath_beat(begun, m), held)

    def _stays(self, note: PlannedNote, m: Moment) -> bool:
        """Tell whether a sounding note is strong on the chord that has arrived, or over by now."""
        if note.beat + note.beats <= m.beat + 1e-6:
            return True
        return self._changes(m.beat, m).at(m.beat).chord.is_strong(note.pitch)

    def _changes(self, until: float, m: Moment) -> Changes:
        return self._harmony.changes(until + 2 * self._form.metre.bar_beats, m.time)

    @property
    def _pulse(self) -> float:
        return self._form.metre.pulse_beats

    def _lead(self, m: Moment) -> float:
        pulses = 2.0 if m.bpm > _FAST_BPM else 1.0
        return pulses * self._pulse + 0.5


def _breath_beat(begun: list[tuple[int, PlannedNote]], m: Moment) -> float | None:
    """Return where the present breath began, None when the line is resting."""
    gap = max(0.5, 0.25 * m.bpm / 60.0)
    beat, end = None, m.beat
    for _, note in reversed(begun):
        if end - (note.beat + note.beats) >= gap - 1e-6:
            break
        beat = end = note.beat
    return beat


def _own_description(notes: tuple[PlannedNote, ...], form: Form) -> PhraseDescription | None:
    """Describe the companion's own phrase, so that a solo can go on from it."""
    if len(notes) < 3:
        return None
    grid = tuple(
        GridNote(
            n.beat, n.beats, n.pitch, n.velocity, n.degree, n.role in ("chord tone", "tension")
        )
        for n in notes
    )
    pitches = [n.pitch for n in notes]
    start, end = notes[0].beat, notes[-1].beat + notes[-1].beats
    third = max(1, len(pitches) // 3)
    rise = sum(pitches[-third:]) / third - sum(pitches[:third]) / third
    return PhraseDescription(
        grid,
        cells_of(grid, form.bars),
        start,
        end,
        len(notes) / max(1.0, end - start),
        min(pitches),
        max(pitches),
        sum(n.velocity for n in notes) / len(notes),
        1 if rise > 1 else -1 if rise < -1 else 0,
        starts_off_beat=start % 1.0 > 0.01,
        ends_off_beat=notes[-1].beat % 1.0 > 0.01,
        open_ending=notes[-1].role != "chord tone",
        triplets=0.0,
        swing_ratio=None,
    )
