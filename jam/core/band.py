"""The built-in rhythm section, asked bar by bar, a bar ahead."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from math import inf

import numpy as np

from jam.charts.model import Feel
from jam.core.form import Form
from jam.core.guard import Guard
from jam.core.moment import Moment, Out
from jam.core.schedule import Pinned, held_beats
from jam.core.setup import Setup
from jam.core.sounding import Harmony
from jam.events import PartNote
from jam.harmony.changes import Changes
from jam.players.band import BandPlayer, Span
from jam.players.bass import Bass
from jam.players.channels import CHANNELS
from jam.players.click import Click
from jam.players.comping import Comping
from jam.players.drums import Drums
from jam.transport.swing import cymbal_ratio, swing_beat

_DOTTED_QUARTER = 1.5
"""The pulse of 6/8 and 12/8: their eighths are written as they sound."""

_EPS = 1e-6


class Band:
    """Bass, comping, drums, click and the melody of a head.

    Every player has a generator of its own for every bar, made from the seed and their numbers,
    so that a bar is played the same way whoever else plays and whatever was asked before.
    """

    def __init__(self, setup: Setup, form: Form, ids: Iterator[int], guard: Guard) -> None:
        self._setup = setup
        self._form = form
        self._guard = guard
        self._ids = ids
        self._feel: Feel = setup.chart.feel if setup.chart else setup.feel
        self._players: list[BandPlayer] = [Drums(), Bass(), Comping()] if setup.with_band else []
        self._click = Click()
        self._clicks_on = setup.with_click
        self._asked: dict[int, list[int]] = {}
        self.held: list[int] = []

    def due(self, m: Moment, harmony: Harmony, out: Out) -> list[Pinned]:
        """Return the notes of every bar that begins within a bar and was not asked for yet.

        Of a bar that has begun already only what is still to come is played.
        """
        form = self._form
        bar, _ = form.bars.at(m.beat)
        form.reach(m.beat + 2 * form.metre.bar_beats)
        self._asked = {asked: ids for asked, ids in self._asked.items() if asked >= bar}
        notes: list[Pinned] = []
        for coming in (bar, bar + 1):
            if coming not in self._asked:
                changes = harmony.changes(form.bars.start(coming + 2), m.time)
                played = self._bar(coming, changes, m, out)
                played = [note for note in played if note.on_beat > m.beat - 0.1]
                self._asked[coming] = [note.id for note in played]
                notes += played
        return notes

    def take_back(self, beat: float) -> list[int]:
        """Return the notes of the bars that begin after ``beat``: they will be asked for anew."""
        after = [bar for bar in self._asked if self._form.bars.start(bar) > beat]
        return [number for bar in after for number in self._asked.pop(bar)]

    def forget(self) -> None:
        """Ask anew for all bars: a jump has led elsewhere."""
        self._asked.clear()
        self.held.clear()

    def _bar(self, bar: int, changes: Changes, m: Moment, out: Out) -> list[Pinned]:
        """Return the notes of ``bar``; a count-in bar (negative) is clicks alone."""
        bpm = m.bpm
        start, end = self._form.bars.start(bar), self._form.bars.start(bar + 1)
        tune_end = self._form.end_beat
        if start >= tune_end:
            return []
        last = tune_end < inf and end >= tune_end - 1e-6
        span = Span(
            start, end, changes, self._form.bars, self._form.metre, bpm, self._feel,
            self._generator(bar, 0), ending=self._form.last_bar_beat if last else None,
        )  # fmt: skip
        notes: list[PartNote] = []
        if self._clicks_on or -self._form.road_map.count_in_bars <= bar < 0:
            notes += self._click.play(span)
        if bar >= 0 and len(changes):
            for number, player in enumerate(self._players, start=1):
                own = replace(span, rng=self._generator(bar, number))
                play_it = partial(_play_into, notes, player, own)
                self._guard.run(f"the band's {type(player).__name__.lower()}", play_it, m, out)
        notes += self._melody(start, end)
        swings = self._feel == "swing" and self._form.metre.pulse_beats != _DOTTED_QUARTER
        ratio = cymbal_ratio(bpm) if swings else 1.0
        return [self._pinned(note, ratio, bpm) for note in notes]

    def _generator(self, bar: int, player: int) -> np.random.Generator:
        return np.random.default_rng((self._setup.seed, 1_000_000 + bar, player))

    def _melody(self, start: float, end: float) -> list[PartNote]:
        return [
            PartNote("melody", CHANNELS["melody"], note.beat, note.beats, note.pitch, 86)
            for note in self._form.melody(start, end)
        ]

    def _pinned(self, note: PartNote, ratio: float, bpm: float) -> Pinned:
        if note.part == "melody":
            ratio = 1.0 + (ratio - 1.0) * 0.5
        on_beat, off_beat = (swing_beat(b, ratio) for b in (note.beat, note.beat + note.beats))
        number, channel = next(self._ids), self._setup.channel_of(note.part)
        if self._is_held(note):
            off_beat = on_beat + held_beats(bpm)
            self.held.append(number)
        return Pinned(
            on_beat, number, off_beat, note.part, channel, note.pitch, note.velocity, note.late_sec
        )

    def _is_held(self, note: PartNote) -> bool:
        """Return whether this is a last note, under a fermata."""
        last = self._form.last_bar_beat
        if not self._form.fermata or note.beat + note.beats <= last + _EPS:
            return False
        if note.part == "melody":
            return not self._form.melody(note.beat + _EPS, self._form.end_beat)
        return note.part in ("bass", "comping") and note.beat >= last - _EPS


def _play_into(notes: list[PartNote], player: BandPlayer, span: Span) -> None:
    notes += player.play(span)
