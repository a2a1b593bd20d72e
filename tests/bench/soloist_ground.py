"""What the soloist is asked over: a solo's chords or a tune's, with the calls of each turn.

Calls are turns of human solos, or the stand-in player's over the shipped tunes. Here a turn
becomes a question to the soloist, and what is answered a line to be measured. Beats are quarter
notes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from jam.charts.changes import bar_starts, changes_of
from jam.harmony.changes import Change, Changes
from jam.harmony.keys import Key
from jam.listening.describe import describe
from jam.listening.phrase import LineNote, PhraseDescription
from jam.players.soloist.request import Reply, Request, Story, Window
from jam.players.stand_in import phrases
from jam.session.idioms import find_idiom
from jam.session.resources import find_chart, find_style
from jam.transport.metre import Bars
from tests.bench import soloist_people as people
from tests.bench.soloist_lines import TICKS, Harmony, Line, on_grid, phrase_numbers

TURN_BARS = 4
FEWEST_NOTES = 4
EFFORT = 20_000


@dataclass(frozen=True)
class Ground:
    """What is played over: a solo's chords or a chart's, with the calls of each turn."""

    name: str
    bpm: float
    feel: str
    changes: Changes
    bars: Bars
    pulse_beats: float
    key: Key | None
    blues: bool
    turns: tuple[tuple[float, float], ...]
    calls: tuple[tuple[LineNote, ...], ...]
    humans: tuple[Line | None, ...]

    @property
    def harmony(self) -> Harmony:
        """Return the chords as symbols."""
        return people.harmony_of(self.changes)

    @property
    def bar_ticks(self) -> int:
        """Length of a bar."""
        return round(self.bars.bar_beats * TICKS)


def of_solo(solo: people.Solo) -> Ground:
    """Return the ground of a human solo."""
    turns = people.turns(solo, TURN_BARS)
    return Ground(
        name=solo.name,
        bpm=solo.bpm,
        feel="swing" if "SWING" in solo.feel else "straight",
        changes=solo.changes,
        bars=Bars(),
        pulse_beats=1.0,
        key=solo.key,
        blues=False,
        turns=tuple(turns),
        calls=tuple(people.said_in(solo, *turn) for turn in turns),
        humans=tuple(people.ticks_in(solo.line, *turn) for turn in turns),
    )


def of_chart(name: str, seed: int, *, choruses: int = 2, pace: float = 1.0) -> Ground:
    """Return the ground of a shipped tune, the stand-in player calling in every turn."""
    chart = find_chart(name).value
    beats = chart.chorus.beats
    changes: list[Change] = []
    starts: list[float] = []
    for number in range(choruses):
        changes += changes_of(chart, chart.chorus, number * beats)
        starts += bar_starts(chart.chorus, number * beats)
    bars = Bars(chart.metre.bar_beats, tuple(starts))
    last = (len(starts) // TURN_BARS) * TURN_BARS
    turns = [(bars.start(k), bars.start(k + TURN_BARS)) for k in range(0, last, TURN_BARS)]
    kept = Changes([c for i, c in enumerate(changes) if not i or c.beat > changes[i - 1].beat])
    bpm = min(300.0, max(60.0, chart.tempo_bpm * pace))
    rng = np.random.default_rng((seed, 11))
    swing = chart.feel == "swing"
    played = [phrases(kept, bars, [turn], bpm, rng, chart.key, swing=swing) for turn in turns]
    beat_sec = 60.0 / bpm
    calls = []
    for notes in played:
        line = []
        for note in sorted(notes, key=lambda n: n.beat):
            on = note.beat * beat_sec + note.late_sec
            end = on + note.beats * beat_sec
            heard = on / beat_sec
            line.append(LineNote(on, end, note.pitch, note.velocity, heard, note.beats))
        calls.append(tuple(line))
    return Ground(
        name, bpm, chart.feel, kept, bars, chart.metre.pulse_beats, chart.key, chart.blues,
        tuple(turns), tuple(calls), (None,) * len(turns),
    )  # fmt: skip


# --- asking ------------------------------------------------------------------------------


@lru_cache(maxsize=64)
def style_of(name: str) -> Any:
    """Return a shipped style."""
    return find_style(name).value


def request_for(
    ground: Ground, turn: int, style: str, seed: int, call: PhraseDescription | None
) -> Request:
    """Return the question for turn number ``turn`` of a ground."""
    start, end = ground.turns[turn]
    lead = ground.pulse_beats * (2 if ground.bpm > 200 else 1)
    free = start - lead if call is None else max(start - lead, call.end_beat + 0.1)
    chorus = max(1, len(ground.turns) // 4)
    told: dict[str, Any] = {
        "window": Window(start, end, min(free, start), end + ground.pulse_beats),
        "changes": ground.changes,
        "bars": ground.bars,
        "pulse_beats": ground.pulse_beats,
        "bpm": ground.bpm,
        "feel": ground.feel,
        "style": style_of(style),
        "seed": (seed, turn),
        "call": call,
        "key": ground.key,
        "blues": ground.blues,
        "effort": EFFORT,
        "idiom": find_idiom(style_of(style).idiom.name).value,
        "story": Story((turn % chorus) / chorus, turn // chorus, (turn + 2) % chorus < 2),
    }
    return Request(**told)


def heard_call(notes: Sequence[LineNote], ground: Ground) -> PhraseDescription | None:
    """Return the description of a call, None where hardly anything was played."""
    return describe(notes, ground.changes, ground.bars) if len(notes) >= FEWEST_NOTES else None


def line_of(reply: Reply, ground: Ground, *, own_grid: bool = False) -> Line:
    """Return a reply as a line; on the grid it was planned on, or on that of its heard onsets."""
    notes = reply.notes
    heard = tuple(note.sounds_beat for note in notes)
    planned = tuple(round(note.beat * TICKS) for note in notes)
    ticks = planned if own_grid else tuple(on_grid(heard, ground.bpm))
    lengths = tuple(note.sounds_beats for note in notes)
    return Line(
        ground.name, ground.bpm, ticks, heard, lengths, tuple(note.pitch for note in notes),
        phrase_numbers(ticks, lengths), ground.harmony, ground.bar_ticks,
        tuple(note.velocity for note in notes),
    )  # fmt: skip


def call_line(notes: Sequence[LineNote], ground: Ground) -> Line:
    """Return a call as a line on the measuring tools' own grid."""
    heard = tuple(note.heard_beat for note in notes)
    ticks = tuple(on_grid(heard, ground.bpm))
    lengths = tuple(note.heard_beats for note in notes)
    return Line(
        ground.name, ground.bpm, ticks, heard, lengths, tuple(note.pitch for note in notes),
        phrase_numbers(ticks, lengths), ground.harmony, ground.bar_ticks,
        tuple(note.velocity for note in notes),
    )  # fmt: skip
