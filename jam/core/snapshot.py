"""What can be shown at any moment: one frozen value, the latest wins."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from jam.core.clockwork import Clockwork
from jam.core.form import Form
from jam.core.sounding import Harmony
from jam.core.turns import TurnPlan


@dataclass(frozen=True, slots=True)
class Snapshot:
    """The state of the session after a step.

    ``beat`` is None before the tempo is known; ``bar`` and ``beat_in_bar`` count from 1.
    ``strong`` are the pitch classes allowed now as chord tones or tensions. ``turn_ends_beat`` is
    None after the tune's end. ``reply`` is the id of the reply that is sounding or waiting, None
    when there is none.

    ``waiting`` says that nothing has been started yet, ``count_in`` that beat 0 is still to come.
    ``form_bar`` of ``form_bars`` is the bar of the passage, from 1 (0 of 0 without a chart);
    ``choruses`` how many there are between the heads (None while that is open). ``next_who`` has
    the turn after this one, in ``beats_to_turn`` beats (None after the last; in the count-in: until
    the first beat). ``ending`` is how the tune ends, once that was asked for or has begun.
    ``holding`` says that the tempo is held.
    """

    now: float
    beat: float | None
    bar: int
    beat_in_bar: float
    bpm: float
    source: str
    locked: bool
    section: str
    phase: str
    chorus: int
    chord: str | None
    next_chord: str | None
    next_chord_beat: float | None
    strong: frozenset[int]
    who: str
    turn_ends_beat: float | None
    reply: int | None
    style: str
    running: bool
    waiting: bool = False
    count_in: bool = False
    form_bar: int = 0
    form_bars: int = 0
    choruses: int | None = None
    laid_out: bool = False
    next_who: str | None = None
    beats_to_turn: float | None = None
    ending: str = ""
    holding: bool = False


def take_snapshot(
    now: float,
    clock: Clockwork,
    form: Form,
    harmony: Harmony,
    turns: TurnPlan,
    *,
    reply: int | None,
    style: str,
) -> Snapshot:
    """Return the state at second ``now``; ``reply`` and ``style`` are the conversation's."""
    time = clock.time
    place = 0.0 if time is None else time.beat(now)
    if time is not None and not clock.running and not clock.waiting:
        place = min(place, clock.mark_beat)
    in_tune = max(0.0, place)
    bar, in_bar = form.bars.at(place)
    changes = harmony.changes(place, time)
    chord = changes.at(place).chord if len(changes) else None
    coming = changes.after(place)
    laid = form.at(in_tune)
    turn = turns.at(in_tune)
    coming_turn = None if turn.end == inf else turns.after(turn)
    form_bar, form_bars = form.form_bar(in_tune)
    turn_end = 0.0 if place < 0.0 else turn.end
    return Snapshot(
        now=now,
        beat=None if time is None else place,
        bar=bar + 1,
        beat_in_bar=in_bar + 1.0,
        bpm=0.0 if time is None else time.bpm_at(place),
        source=clock.source or "none",
        locked=clock.locked,
        section=form.section(in_tune),
        phase=laid.phase,
        chorus=laid.number,
        chord=None if chord is None else chord.symbol,
        next_chord=None if coming is None else coming.chord.symbol,
        next_chord_beat=None if coming is None else coming.beat,
        strong=frozenset() if chord is None else chord.strong,
        who=turn.who,
        turn_ends_beat=None if turn.end == inf else turn.end,
        reply=reply,
        style=style,
        running=clock.running,
        waiting=clock.waiting,
        count_in=time is not None and place < 0.0,
        form_bar=form_bar,
        form_bars=form_bars,
        choruses=form.choruses,
        laid_out=turns.laid_out(in_tune),
        next_who=None if coming_turn is None else coming_turn.who,
        beats_to_turn=None if turn_end == inf or time is None else turn_end - place,
        ending=form.ending(in_tune),
        holding=clock.holding,
    )
