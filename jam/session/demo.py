"""The demo: a stand-in player trades with the companion over an invented tune.

The stand-in waits for the count-in like anybody else: it takes the tempo from the first beat that
is announced, and plays its turns against that.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import inf

import numpy as np

from jam.charts.model import RoadMap
from jam.core.core import Core
from jam.core.form import Form
from jam.core.setup import Setup
from jam.core.turns import Turn, TurnPlan
from jam.events import PLAYER, MidiIn
from jam.harmony.changes import Changes
from jam.log import Log, Record
from jam.players.stand_in import StandInNote, phrases
from jam.session.asked import CHART, turns_of
from jam.session.drive import Drive
from jam.session.folder import PHRASES
from jam.session.idioms import idioms_of
from jam.session.options import DemoOptions
from jam.session.perform import Feed, Performance, Plan, header_of, perform, play_through
from jam.session.resources import asked_style, find_chart, find_config
from jam.session.text import session_text
from jam.transport.timeline import Timeline

_STAND_IN = 7
"""The stand-in's stream of random numbers, apart from all others of the same seed."""

_LONGEST_SEC = 3600.0
_DOTTED = 1.5


def demo(options: DemoOptions) -> Performance:
    """Play the demo into a folder; raises InputError for what cannot be used."""
    plan = _plan(options)
    performance = perform(options.out, plan, wav=options.wav, feed=_stand_in(plan.setup))
    path = performance.folder / PHRASES
    path.write_text(session_text(performance.log), encoding="utf-8", newline="\n")
    return performance


def unkept(options: DemoOptions) -> Log:
    """Play the demo and return its log; nothing is written, whatever ``options`` say of that."""
    plan = _plan(options)
    records: list[Record] = []
    play_through(Drive(Core(plan.setup), records.extend), plan, records, _stand_in(plan.setup))
    return Log(header_of(plan.setup, plan.style, plan.chart), tuple(records))


def _stand_in(setup: Setup) -> Feed:
    """Return the stand-in player, who waits for the first beat and takes the tempo from it."""

    def feed(drive: Drive, records: Sequence[Record]) -> None:
        drive.run(stop=lambda: _first_beat(records) is not None)
        beat = _first_beat(records)
        if beat is not None:
            time = Timeline(beat["bpm"], beat["beat"], beat["t"])
            drive.add(_messages(_played(setup, time.bpm), time))

    return feed


def _plan(options: DemoOptions) -> Plan:
    wired = find_config(home=options.home)
    config = wired.value
    chart = find_chart(options.chart or CHART, options.home)
    style = asked_style(options.style, wired, options.home)
    tune = chart.value
    setup = Setup(
        seed=options.seed,
        style=style.value,
        styles=(style.value,),
        idioms=idioms_of((style,), options.home),
        chart=tune,
        tempo_bpm=tune.tempo_bpm,
        metre=tune.metre,
        feel=tune.feel,
        key=tune.key,
        turns=turns_of(options.turns),
        road_map=RoadMap(max(1, tune.road_map.count_in_bars), "none", options.choruses, "none"),
    )
    return Plan(
        setup, config, style.entry.name, _LONGEST_SEC, (), chart.entry.name, chart.entry.path
    )


def _first_beat(records: Sequence[Record]) -> Record | None:
    return next((record for record in records if record["kind"] == "beat"), None)


def _played(setup: Setup, bpm: float) -> list[StandInNote]:
    """Return what the stand-in plays in its turns of the whole tune."""
    form = Form(setup)
    turns = list(_turns(setup, form))
    end = turns[-1][1] if turns else 0.0
    changes = Changes(form.changes(end + form.metre.bar_beats))
    rng = np.random.default_rng((setup.seed, _STAND_IN))
    dotted = form.metre.pulse_beats == _DOTTED
    swing = setup.feel == "swing" and not dotted
    notes = phrases(changes, form.bars, turns, bpm, rng, setup.key, swing=swing)
    return _on_eighths(notes) if dotted else notes


def _on_eighths(notes: Sequence[StandInNote]) -> list[StandInNote]:
    """Return the notes on the eighths of a dotted pulse, one on each."""
    placed = {round(note.beat * 2): note for note in reversed(notes)}
    ordered = sorted(placed)
    ends = [*ordered[1:], inf]
    return [
        replace(placed[n], beat=n / 2, beats=min(max(0.4, placed[n].beats), (end - n) / 2))
        for n, end in zip(ordered, ends, strict=True)
    ]


def _turns(setup: Setup, form: Form) -> Iterator[tuple[float, float]]:
    """Yield the player's turns; in free playing every other four bars are taken for one."""
    plan = TurnPlan(setup.turns, form)
    free = setup.turns.kind == "free"
    turn: Turn | None = plan.at(0.0)
    number = 0
    while turn is not None:
        if turn.who == "player" and not turn.head and not (free and number % 2):
            yield turn.start, turn.end
        turn, number = plan.after(turn), number + 1


def _messages(notes: Sequence[StandInNote], time: Timeline) -> list[MidiIn]:
    """Return the notes as MIDI on channel 1, in seconds of the session."""
    messages = []
    for note in notes:
        begin = time.sec(note.beat) + note.late_sec
        end = time.sec(note.beat + note.beats) + note.late_sec
        messages.append(MidiIn(begin, PLAYER, (0x90, note.pitch, note.velocity)))
        messages.append(MidiIn(end, PLAYER, (0x80, note.pitch, 0)))
    return messages
