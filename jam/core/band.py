"""The built-in rhythm section, asked bar by bar, a bar ahead."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import inf

import numpy as np

from jam.charts.model import Feel
from jam.core.form import Form
from jam.core.schedule import Pinned
from jam.core.setup import Setup
from jam.events import PartNote
from jam.harmony.changes import Changes
from jam.players.band import BandPlayer, Span
from jam.players.bass import Bass
from jam.players.channels import MELODY
from jam.players.click import Click
from jam.players.comping import Comping
from jam.players.drums import Drums
from jam.transport.swing import cymbal_ratio, swing_beat

_DOTTED_QUARTER = 1.5
"""The pulse of 6/8 and 12/8: their eighths are written as they sound."""


class Band:
    """Bass, comping, drums, click and the melody of a head.

    Every player has a generator of its own for every bar, made from the seed and their numbers,
    so that a bar is played the same way whoever else plays and whatever was asked before.
    """

    def __init__(self, setup: Setup, form: Form) -> None:
        self._seed = setup.seed
        self._form = form
        self._feel: Feel = setup.chart.feel if setup.chart else setup.feel
        self._players: list[BandPlayer] = [Drums(), Bass(), Comping()] if setup.with_band else []
        self._click = Click()
        self._clicks_on = setup.with_click
        self._with_band = setup.with_band

    def bar(self, bar: int, bpm: float, changes: Changes, ids: Iterator[int]) -> list[Pinned]:
        """Return the notes of ``bar``; a count-in bar (negative) is clicks alone."""
        start, end = self._form.bars.start(bar), self._form.bars.start(bar + 1)
        tune_end = self._form.end_beat
        if start >= tune_end:
            return []
        ending = tune_end if tune_end < inf and end >= tune_end - 1e-6 else None
        span = Span(
            start, end, changes, self._form.bars, self._form.metre, bpm, self._feel,
            self._generator(bar, 0), ending=None if ending is None else self._last_beat(end),
        )  # fmt: skip
        notes: list[PartNote] = []
        if bar < 0 or self._clicks_on:
            notes += self._click.play(span)
        if bar >= 0 and len(changes):
            for number, player in enumerate(self._players, start=1):
                notes += player.play(replace(span, rng=self._generator(bar, number)))
        notes += self._melody(start, end)
        swings = self._feel == "swing" and self._form.metre.pulse_beats != _DOTTED_QUARTER
        ratio = cymbal_ratio(bpm) if swings else 1.0
        return [_pinned(note, ratio, next(ids)) for note in notes]

    def _generator(self, bar: int, player: int) -> np.random.Generator:
        return np.random.default_rng((self._seed, 1_000_000 + bar, player))

    def _last_beat(self, end: float) -> float:
        bar, _ = self._form.bars.at(end - 1e-3)
        return self._form.bars.start(bar)

    def _melody(self, start: float, end: float) -> list[PartNote]:
        return [
            PartNote("melody", MELODY, note.beat, note.beats, note.pitch, 86)
            for note in self._form.melody(start, end)
        ]


def _pinned(note: PartNote, ratio: float, number: int) -> Pinned:
    if note.part == "melody":
        ratio = 1.0 + (ratio - 1.0) * 0.5
    return Pinned(
        swing_beat(note.beat, ratio),
        number,
        swing_beat(note.beat + note.beats, ratio),
        note.part,
        note.channel,
        note.pitch,
        note.velocity,
        note.late_sec,
    )
