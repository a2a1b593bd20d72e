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
from itertools import count
from math import ceil, floor, inf

from jam import log
from jam.core.band import Band
from jam.core.clocks import make_follower
from jam.core.conversation import Conversation
from jam.core.cues import CueReader
from jam.core.form import Form
from jam.core.hearing import Hearing
from jam.core.moment import Moment, Out
from jam.core.replies import Replies
from jam.core.schedule import Schedule
from jam.core.setup import Setup
from jam.core.snapshot import Snapshot
from jam.core.sounding import Harmony
from jam.core.turns import TurnPlan
from jam.events import Command, Input, Intent, IoReport, MidiIn, Silence, decode
from jam.transport.follower import Jump, Tap

_MARKS = 4
"""Marks in a beat."""


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
        self._setup = setup
        self._form = Form(setup)
        self._harmony = Harmony(setup, self._form)
        self._turns = TurnPlan(setup.turns, self._form)
        ids, self._note_ids = count(1), count(1)
        self._schedule = Schedule(setup.horizon_sec)
        self._talk = Conversation(
            setup, self._form, self._harmony, self._turns,
            Replies(self._schedule, self._note_ids), ids,
        )  # fmt: skip
        self._hearing = Hearing(setup, self._form, self._harmony, self._talk)
        self._band = Band(setup, self._form)
        self._cues = CueReader(setup.cues)
        self._styles = setup.styles or (setup.style,)
        self._follower = make_follower(setup, start_sec=0.0 if setup.autostart else None)
        self._mark: int | None = None
        self._barred: int | None = None
        self._told_beat = -inf
        self._told_chord = -inf
        self._told_turn = -inf
        self._stopped = False

    # --- the live path -------------------------------------------------------------------

    def step(self, inputs: Sequence[Input], now: float, effort: int) -> StepResult:
        """Take ``inputs`` (stamped up to ``now``), fire every mark that is due, and answer.

        Deterministic: the same calls give the same result, note for note.
        """
        out = Out()
        for event in sorted(inputs, key=lambda event: event.t):
            self._run_marks(min(event.t, now), now, effort, out)
            self._take(event, now, effort, out)
        self._run_marks(now, now, effort, out)
        return StepResult(
            tuple(out.commands),
            tuple(out.records),
            self._snapshot(now),
            self._next_due(),
            self._ended(now),
        )

    def _run_marks(self, until: float, now: float, effort: int, out: Out) -> None:
        """Fire the marks that fall due up to second ``until``, in order."""
        follower = self._follower
        if follower is None or self._stopped:
            return
        follower.settle(until)
        while (time := follower.time) is not None and follower.running:
            if self._mark is None:
                self._mark = self._first_mark(until)
            gathered = self._hearing.due_sec
            mark_sec = time.sec(self._mark / _MARKS)
            if gathered is not None and gathered <= min(mark_sec, until):
                moment = Moment(now, time.beat(gathered), time, effort)
                self._hearing.gather(gathered, moment, out)
                self._hand_over(moment, out)
            elif mark_sec <= until + 1e-9:
                self._on_mark(Moment(now, self._mark / _MARKS, time, effort), out)
                self._mark += 1
            else:
                return

    def _on_mark(self, m: Moment, out: Out) -> None:
        if m.beat == floor(m.beat):
            self._tell_beat(m, out)
            self._tell_chords(m, out)
        self._hearing.mark(m, out)
        self._tell_turn(m, out)
        if self._may_talk(m):
            self._talk.quarter(m, out)
        self._play_band(m, out)
        self._hand_over(m, out)

    def _hand_over(self, m: Moment, out: Out) -> None:
        """Hand over what sounds within the horizon or before the mark after the next."""
        ahead = 1.5 * (m.time.sec(m.beat + 1.0 / _MARKS) - m.time.sec(m.beat))
        out.commands += self._schedule.hand_over(m.now, ahead, m.time)

    def _may_talk(self, m: Moment) -> bool:
        end = self._setup.end_beat
        return m.beat < self._form.end_beat and (end is None or m.beat < end)

    def _play_band(self, m: Moment, out: Out) -> None:
        """Ask the band for every bar that begins within a bar from now."""
        bar, _ = self._form.bars.at(m.beat)
        if self._barred is None:
            self._barred = bar
        self._form.reach(m.beat + 2 * self._form.metre.bar_beats)
        while self._barred <= bar + 1:
            until = self._form.bars.start(self._barred + 2)
            changes = self._harmony.changes(until, m.time)
            self._schedule.add(self._band.bar(self._barred, m.bpm, changes, self._note_ids))
            self._barred += 1

    # --- inputs --------------------------------------------------------------------------

    def _take(self, event: Input, now: float, effort: int, out: Out) -> None:
        match event:
            case MidiIn():
                self._take_midi(event, now, effort, out)
            case Intent(t, name, value):
                out.records.append(log.intent(now, name, value, t=t))
                self._cue(name, t, now, effort, out)
            case IoReport(t, what, detail):
                out.records.append(log.io(now, what, detail, t=t))

    def _take_midi(self, event: MidiIn, now: float, effort: int, out: Out) -> None:
        message = decode(event)
        part = self._hearing.part_of(message) if message is not None else None
        heard_as = part if part in ("line", "comping") else None
        out.records.append(log.midi_in(event.t, now, event.port, event.data, heard_as))
        if message is None:
            return
        cue = self._cues.read(message)
        if cue is not None:
            self._cue(cue, event.t, now, effort, out)
            return
        jump = self._follower.hear(message) if self._follower is not None else None  # type: ignore[arg-type]
        if jump is not None:
            self._jump(jump, now, out)
        time = self._follower.time if self._follower is not None else None
        if time is not None:
            moment = Moment(now, time.beat(event.t), time, effort)
            self._hearing.take(message, part, moment, out)
            self._hand_over(moment, out)

    def _cue(self, name: str, t: float, now: float, effort: int, out: Out) -> None:
        out.records.append(log.cue(now, name, t=t))
        if name == "start" and (self._follower is None or self._stopped):
            self._follower = make_follower(self._setup, start_sec=t)
            self._mark, self._stopped = None, False
        elif name == "panic":
            self._schedule.clear()
            self._talk.forget(self._beat(t))
            self._hearing.release_all(t, self._beat(t))
            out.commands.append(Silence())
        elif name == "tap" and self._follower is not None:
            jump = self._follower.hear(Tap(t))
            if jump is not None:
                self._jump(jump, now, out)
        elif name == "next style":
            place = self._styles.index(self._talk.style) if self._talk.style in self._styles else -1
            self._talk.style = self._styles[(place + 1) % len(self._styles)]
        elif self._follower is not None and self._follower.time is not None:
            time = self._follower.time
            self._musical_cue(name, Moment(now, time.beat(t), time, effort), out)

    def _musical_cue(self, name: str, m: Moment, out: Out) -> None:
        if name == "take it":
            self._turns.take(m.beat)
            self._talk.reopen(m.beat)
        elif name == "lay out":
            self._turns.lay_out(m.beat)
            self._talk.hush(m, out)
        elif name == "last time":
            self._form.last_time(m.beat)
            self._turns.relay(m.beat)
            self._talk.chord_changed(m, out)
        elif name == "stop":
            self._talk.hush(m, out)
            self._schedule.clear()
            self._stopped = True
            out.commands.append(Silence())

    def _jump(self, jump: Jump, now: float, out: Out) -> None:
        out.records.append(log.jump(now, t=jump.t, beat=jump.beat, why=jump.why))
        out.commands.append(Silence())
        self._schedule.clear()
        self._talk.forget(jump.beat)
        self._turns.relay(jump.beat)
        self._mark = ceil(jump.beat * _MARKS - 1e-6)
        self._barred = None
        self._told_beat = self._told_chord = self._told_turn = jump.beat - 1e-3

    # --- what is told --------------------------------------------------------------------

    def _tell_beat(self, m: Moment, out: Out) -> None:
        """Announce the beat that comes next (and the first one when it falls)."""
        for beat in (m.beat, m.beat + 1.0):
            if beat <= self._told_beat:
                continue
            self._told_beat = beat
            bar, place = self._form.bars.at(beat)
            follower = self._follower
            assert follower is not None
            out.records.append(
                log.beat(
                    m.time.sec(beat), m.now, beat, bar=bar + 1, beat_in_bar=floor(place) + 1,
                    bpm=m.time.bpm_at(beat), source=follower.source, locked=follower.locked,
                )
            )  # fmt: skip

    def _tell_chords(self, m: Moment, out: Out) -> None:
        """Log the chart's chords a bar before they come."""
        if self._harmony.by_ear:
            return
        until = m.beat + self._form.metre.bar_beats
        for change in self._harmony.changes(until, m.time):
            if self._told_chord < change.beat <= until + 1e-6:
                self._told_chord = change.beat
                out.records.append(
                    log.chord(
                        m.time.sec(change.beat), m.now, change.beat, change.chord.symbol, "chart"
                    )
                    | ({"passing": True} if change.passing else {})
                )

    def _tell_turn(self, m: Moment, out: Out) -> None:
        if m.beat < 0.0 or m.beat >= self._form.end_beat:
            return
        turn = self._turns.at(m.beat)
        if turn.start > self._told_turn + 1e-6 or turn.start == 0.0 > self._told_turn:
            self._told_turn = turn.start
            t = m.time.sec(turn.start)
            out.records.append(log.turn(t, m.now, turn.start, turn.who, turn.end - turn.start))

    # --- odds and ends -------------------------------------------------------------------

    def _first_mark(self, t: float) -> int:
        """The first mark: the beginning of a count-in that lies ahead, else the next one."""
        assert self._follower is not None
        assert self._follower.time is not None
        beat = self._follower.time.beat(min(t, 0.0) if self._setup.clock != "midi" else t)
        if self._setup.clock in ("taps", "midi"):
            beat = self._follower.time.beat(t)
        return ceil(beat * _MARKS - 1e-6)

    def _beat(self, t: float) -> float:
        time = self._follower.time if self._follower is not None else None
        return 0.0 if time is None else time.beat(t)

    def _next_due(self) -> float:
        follower = self._follower
        if follower is None or follower.time is None or not follower.running or self._stopped:
            return inf
        if self._mark is None:
            return 0.0
        mark = follower.time.sec(self._mark / _MARKS)
        gathered = self._hearing.due_sec
        return mark if gathered is None else min(mark, gathered)

    def _ended(self, now: float) -> bool:
        if self._stopped:
            return True
        over = self._form.end_beat
        return over < inf and self._beat(now) >= over + self._form.metre.bar_beats

    def _snapshot(self, now: float) -> Snapshot:
        follower = self._follower
        time = follower.time if follower is not None else None
        beat = None if time is None else time.beat(now)
        place = 0.0 if beat is None else beat
        bar, in_bar = self._form.bars.at(place)
        changes = self._harmony.changes(place, time)
        chord = changes.at(place).chord if len(changes) else None
        coming = changes.after(place) if len(changes) else None
        laid = self._form.at(max(0.0, place))
        turn = self._turns.at(max(0.0, place))
        return Snapshot(
            now=now,
            beat=beat,
            bar=bar + 1,
            beat_in_bar=in_bar + 1.0,
            bpm=0.0 if time is None else time.bpm_at(place),
            source=follower.source if follower is not None else "none",
            locked=follower.locked if follower is not None else False,
            section=self._form.section(max(0.0, place)),
            phase=laid.phase,
            chorus=laid.number,
            chord=None if chord is None else chord.symbol,
            next_chord=None if coming is None else coming.chord.symbol,
            next_chord_beat=None if coming is None else coming.beat,
            strong=frozenset() if chord is None else chord.strong,
            who=turn.who,
            turn_ends_beat=turn.end,
            reply=None if self._talk.active is None else self._talk.active.id,
            style=self._talk.style.name,
            running=follower is not None and follower.running and not self._stopped,
        )
