"""The one owner of musical state: events in, events out.

`Core.step` takes stamped inputs, the time, and the effort that planning may spend; it returns
commands (whole notes with the seconds at which they sound), log records and a snapshot. It reads
no clock and opens nothing. Everything musical is decided at *marks*, every quarter of a beat, at
fresh onsets that have gathered, or on an input; marks fall due in order of time, so that stepping
more often changes nothing.

The live path, in order: transport, then what was heard (line, chords), then turns and the
conversation, then the band, then the notes that are due.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from itertools import count

from jam import log
from jam.core.band import Band
from jam.core.clockwork import MARKS, Clockwork
from jam.core.conversation import Conversation
from jam.core.cues import CueReader
from jam.core.form import Form
from jam.core.guard import Guard
from jam.core.hearing import Hearing
from jam.core.moment import Moment, Out
from jam.core.replies import Replies
from jam.core.schedule import Schedule
from jam.core.setup import CUES, Setup
from jam.core.snapshot import Snapshot, take_snapshot
from jam.core.sounding import Harmony
from jam.core.style_rack import NEW_STYLE, StyleRack
from jam.core.telling import Teller
from jam.core.turn_signal import TurnSignal
from jam.core.turns import TurnPlan
from jam.events import (
    BAND,
    CLOCK,
    CUE,
    PLAYER,
    Command,
    Input,
    Intent,
    IoReport,
    Message,
    MidiIn,
    Port,
    Silence,
    decode,
)
from jam.transport.follower import Jump, Tap

PORT_LOST = "port lost"
"""What an `IoReport` says when no more messages will come from a port; its ``role`` says which
(without one: from none)."""

_ROLES: dict[object, Port] = {port: port for port in (PLAYER, BAND, CLOCK, CUE)}


@dataclass(frozen=True)
class StepResult:
    """What a step decided.

    ``next_due`` is the session second at which the core wants to be stepped again (inf: only when
    there is input). ``ended`` says that the tune is over and nothing sounds any more.
    """

    commands: tuple[Command, ...]
    records: tuple[log.Record, ...]
    snapshot: Snapshot
    next_due: float
    ended: bool


class Core:
    """A session's musical state. One thread calls `step`, with ``now`` never going back."""

    def __init__(self, setup: Setup) -> None:
        self._form = Form(setup)
        self._harmony = Harmony(setup, self._form)
        self._turns = TurnPlan(setup.turns, self._form, setup.end_beat)
        self._clock = Clockwork(setup)
        self._schedule = Schedule(setup.horizon_sec)
        note_ids = count(1)
        replies = Replies(self._schedule, note_ids, setup.channel_of("companion"))
        self._guard = Guard()
        self._talk = Conversation(
            setup, self._form, self._harmony, self._turns, replies, count(1), self._guard
        )
        self._hearing = Hearing(setup, self._form, self._harmony, self._talk)
        self._band = Band(setup, self._form, note_ids, self._guard)
        self._teller = Teller(self._form, self._harmony, self._turns)
        self._signal = TurnSignal(
            self._form, self._turns, self._schedule, note_ids, setup.channel_of("click")
        )
        self._signals = setup.turn_signal
        self._cues = CueReader(setup)
        self._styles = StyleRack(setup)
        self._own_clock = setup.clock == "internal"
        self._ended = False

    # --- the live path -------------------------------------------------------------------

    def step(self, inputs: Sequence[Input], now: float, effort: int) -> StepResult:
        """Take ``inputs`` (stamped up to ``now``), fire every mark that is due, and answer.

        Deterministic: the same calls give the same result, note for note. To be performed again
        from its log a session is stepped at each ``next_due`` and at each input, in order.
        """
        out = Out()
        for event in sorted(inputs, key=lambda event: event.t):
            self._run_marks(min(event.t, now), now, effort, out)
            self._take(event, now, effort, out)
        self._run_marks(now, now, effort, out)
        snapshot = take_snapshot(
            now, self._clock, self._form, self._harmony, self._turns,
            reply=None if self._talk.active is None else self._talk.active.id,
            style=self._talk.style.name,
        )  # fmt: skip
        return StepResult(
            tuple(out.commands), tuple(out.records), snapshot, self._next_due(), self._ended
        )

    def _run_marks(self, until: float, now: float, effort: int, out: Out) -> None:
        """Fire the marks that fall due up to second ``until``, and gather onsets, in order."""
        clock = self._clock
        clock.settle(until)
        while (due := self._next_due()) <= until and (time := clock.time) is not None:
            if due < clock.mark_sec:
                moment = Moment(now, time.beat(due), time, effort)
                self._hearing.gather(due, moment, out)
                self._hand_over(moment, out)
            else:
                self._on_mark(Moment(now, clock.mark_beat, time, effort), out)
                clock.next_mark()

    def _on_mark(self, m: Moment, out: Out) -> None:
        source = self._clock.source
        assert source is not None
        self._teller.tell(m, source, locked=self._clock.locked, out=out)
        if self._form.bars.at(m.beat)[1] == 0.0:
            self._change_styles(m.time.sec(m.beat), m.now, out)
        self._hearing.mark(m, out)
        self._guard.run("the conversation", partial(self._talk.mark, m, out), m, out)
        self._schedule.add(self._band.due(m, self._harmony, out))
        if self._signals:
            out.commands += self._signal.mark(m)
        self._hand_over(m, out)
        over = m.beat >= self._form.end_beat and not self._form.holds(m.beat)
        self._ended = over and self._schedule.idle(m.now)

    def _hand_over(self, m: Moment, out: Out) -> None:
        """Hand over what sounds within the horizon or before the mark after the next."""
        ahead = 1.5 * (m.time.sec(m.beat + 1.0 / MARKS) - m.time.sec(m.beat))
        out.commands += self._schedule.hand_over(m.now, ahead, m.time)

    def _next_due(self) -> float:
        due, gathered = self._clock.mark_sec, self._hearing.due_sec
        return due if gathered is None or not self._clock.running else min(due, gathered)

    # --- inputs --------------------------------------------------------------------------

    def _take(self, event: Input, now: float, effort: int, out: Out) -> None:
        match event:
            case MidiIn():
                self._take_midi(event, now, effort, out)
            case Intent(t, name, value):
                out.records.append(log.intent(now, name, value, t=t))
                if name == NEW_STYLE:
                    self._new_style(value, t, now, out)
                else:
                    self._cue(name, t, now, effort, out)
            case IoReport(t, what, detail):
                out.records.append(log.io(now, what, detail, t=t))
                if what == PORT_LOST:
                    self._lose(_ROLES.get(detail.get("role")), t)

    def _take_midi(self, event: MidiIn, now: float, effort: int, out: Out) -> None:
        message = decode(event)
        is_cue = message is not None and self._cues.is_cue(message)
        part = None if message is None or is_cue else self._hearing.part_of(message)
        heard_as = part if part in ("line", "comping") else None
        out.records.append(log.midi_in(event.t, now, event.port, event.data, heard_as))
        if message is None:
            return
        cue = self._cues.read(message, running=self._clock.running)
        if cue is not None:
            self._cue(cue, event.t, now, effort, out)
        if cue is not None or is_cue:
            return
        if event.port == CLOCK:
            self._hear_clock(message, event.t, now, effort, out)
        elif self._clock.running and (time := self._clock.time) is not None:
            moment = Moment(now, time.beat(event.t), time, effort)
            self._hearing.take(message, part, moment, out)
            self._hand_over(moment, out)

    def _hear_clock(
        self, message: Message | Tap, t: float, now: float, effort: int, out: Out
    ) -> None:
        """Let the clock hear a message or a tap; move the notes if it moves the beat."""
        ran, before = self._clock.running, self._clock.time
        jump = self._clock.hear(message)
        if before is not None and (jump is not None or (ran and not self._clock.running)):
            stopped = Moment(now, before.beat(t), before, effort)
            self._silence(stopped, out)
            self._ended = self._form.holds(stopped.beat)
        if jump is not None:
            self._jump(jump, now, effort, out)
        time = self._clock.time
        if time is not None and time is not before and self._clock.running:
            self._hand_over(Moment(now, time.beat(t), time, effort), out)

    def _lose(self, port: Port | None, t: float) -> None:
        """Take what a lost port held for released; coast if it carried the clock."""
        self._cues.lose(port)
        if port in (None, CLOCK):
            self._clock.lose_source()
        if port in (None, PLAYER, BAND):
            self._hearing.release_all(t, self._clock.beat(t), port)

    def _silence(self, m: Moment, out: Out) -> None:
        """End all that sounds and forget all that was to come."""
        self._talk.silence(m, out)
        self._schedule.clear()
        self._signal.forget()
        out.commands.append(Silence())

    def _jump(self, jump: Jump, now: float, effort: int, out: Out) -> None:
        """Begin anew at the beat that the clock has jumped to, from the top if that is it."""
        out.records.append(log.jump(now, t=jump.t, beat=jump.beat, why=jump.why))
        if jump.beat <= 0.0:
            self._form.restart()
            self._turns.restart()
        self._turns.jump(jump.beat)
        self._signal.forget()
        self._ended = False
        self._talk.forget(jump.beat)
        self._band.forget()
        self._teller.begin_at(jump.beat)
        if self._clock.time is not None:
            self._hearing.jump(Moment(now, jump.beat, self._clock.time, effort), out)

    # --- cues ----------------------------------------------------------------------------

    def _cue(self, name: str, t: float, now: float, effort: int, out: Out) -> None:
        if name not in CUES:
            out.records.append(log.fault(now, f"no such cue: {name}", t=t))
            return
        out.records.append(log.cue(now, name, t=t))
        time = self._clock.time
        moment = None if time is None else Moment(now, time.beat(t), time, effort)
        if name == "start" or (name == "take it" and self._waits_to_start):
            self._start(t, now, effort, out)
        elif name == "tap":
            self._hear_clock(Tap(t), t, now, effort, out)
        elif name == "next style":
            self._styles.next()
            self._show_styles()
        elif name == "hold tempo":
            self._clock.hold(t)
        elif name == "cut off":
            self._cut_off(moment, out)
        elif moment is not None:
            self._musical_cue(name, moment, out)
        elif name == "follow":
            self._clock.follow(t)
        elif name == "panic":
            out.commands.append(Silence())

    def _new_style(self, value: object, t: float, now: float, out: Out) -> None:
        """Take a style whose file was changed; it waits for a bar line if the clock runs."""
        wrong = self._styles.take(value)
        if wrong:
            out.records.append(log.fault(now, wrong, t=t))
        if not self._clock.running:
            self._change_styles(t, now, out)
        self._show_styles()

    def _change_styles(self, t: float, now: float, out: Out) -> None:
        for style in self._styles.change():
            out.records.append(log.cue(now, NEW_STYLE, t=t, style=style.name))
        self._show_styles()

    def _show_styles(self) -> None:
        self._talk.style, self._talk.coming = self._styles.current, self._styles.coming

    @property
    def _waits_to_start(self) -> bool:
        """Whether the companion's own clock stands still."""
        return self._own_clock and not self._clock.running

    def _musical_cue(self, name: str, m: Moment, out: Out) -> None:
        match name:
            case "take it":
                self._talk.reopen(min(m.beat, self._turns.take(m.beat)))
            case "trade":
                self._trade(m, out)
            case "lay out":
                self._turns.lay_out(m.beat)
                self._talk.hush(m, out)
            case "last time" | "tag" | "fermata":
                self._end_so(name, m, out)
            case "follow":
                self._clock.follow(m.time.sec(m.beat))
                self._hand_over(self._now_at(m), out)
            case "panic":
                self._panic(m, out)
            case "stop":
                self._silence(m, out)
                self._clock.stop()
                self._ended = self._form.holds(m.beat)

    def _trade(self, m: Moment, out: Out) -> None:
        """Let the two trade; what is the player's from then on is left to the player."""
        start = self._turns.trade(m.beat)
        self._talk.obey(m, out)
        self._talk.reopen(min(m.beat, start))

    def _end_so(self, name: str, m: Moment, out: Out) -> None:
        """Let the tune end as asked; what was planned for another end is planned anew."""
        form = self._form
        goes_on = form.at(m.beat).end
        change = {"last time": form.last_time, "tag": form.tag, "fermata": form.hold_last}[name]
        change(m.beat)
        self._turns.relay(goes_on - 1.0 / MARKS)
        out.commands += self._schedule.withdraw(self._band.take_back(m.beat), m.now)
        if not form.holds(goes_on - 1.0 / MARKS):
            out.commands += self._schedule.cut(self._band.held, goes_on, m.time)
        self._talk.obey(m, out)
        self._talk.chord_changed(m, out)

    def _panic(self, m: Moment, out: Out) -> None:
        """End every note and go on: the band with its next notes, the companion with its next
        turn."""
        self._silence(m, out)
        self._band.forget()
        turn = self._turns.at(m.beat)
        self._talk.forget(turn.end if turn.to_talk else m.beat)
        self._cues.release_keys()
        self._hearing.release_all(m.time.sec(m.beat), m.beat)

    def _cut_off(self, m: Moment | None, out: Out) -> None:
        """End all sound, and the session."""
        if m is None:
            out.commands.append(Silence())
        else:
            self._silence(m, out)
            self._clock.stop()
        self._ended = True

    def _now_at(self, m: Moment) -> Moment:
        """Return the moment by the map of time that holds now."""
        time = self._clock.time
        assert time is not None
        return Moment(m.now, m.beat, time, m.effort)

    def _start(self, t: float, now: float, effort: int, out: Out) -> None:
        """Start the clock, or start it again: from the top if it is the companion's own."""
        jump = self._clock.start(t)
        if jump is not None:
            self._jump(jump, now, effort, out)
