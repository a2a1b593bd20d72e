"""Sessions to audit: the stand-in player with the companion, over tunes, styles, turns and tempi.

A scene says what is played; `play` renders it into a folder through the program's own door and
`grid` lists scenes so that every tune meets every style, in every way of taking turns.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from jam.session.demo import demo
from jam.session.options import TURN_CHOICES, DemoOptions, TurnChoice
from jam.session.perform import Performance
from jam.session.resources import find_chart, list_charts, list_styles

from .reading import Note
from .report import Audit

PACES = (1.0, 0.6, 1.0, 1.7)
"""Tempi of one round of the grid after another, as shares of the chart's own."""

SLOWEST_BPM, FASTEST_BPM = 60.0, 320.0


@dataclass(frozen=True)
class Scene:
    """One session. ``pace`` multiplies the chart's tempo."""

    chart: str
    style: str
    turns: TurnChoice = "4"
    seed: int = 1
    choruses: int = 2
    pace: float = 1.0

    @property
    def name(self) -> str:
        """Name that tells all, fit for a folder."""
        turns = self.turns if self.turns.isalpha() else f"{self.turns}s"
        return f"{self.chart}-{self.style}-{turns}-x{self.pace:g}-{self.seed}"


def tunes() -> list[str]:
    """Return the names of all charts."""
    return [entry.name for entry in list_charts()]


def styles() -> list[str]:
    """Return the names of all styles."""
    return [entry.name for entry in list_styles()]


def grid(number: int) -> list[Scene]:
    """Return round ``number`` (from 1): every tune in every style, turns going round.

    After as many rounds as there are ways of taking turns, every pair has met every one of them.
    """
    ways = TURN_CHOICES
    return [
        Scene(
            chart,
            style,
            turns=ways[(row + column + number) % len(ways)],
            seed=number,
            pace=PACES[(number - 1) % len(PACES)],
        )
        for row, chart in enumerate(tunes())
        for column, style in enumerate(styles())
    ]


def play(scene: Scene, folder: Path, *, wav: bool = False) -> Performance:
    """Render the scene into ``folder / scene.name``."""
    chart = scene.chart
    if scene.pace != 1.0:
        chart = str(retimed(scene.chart, scene.pace, folder / f"{scene.name}-chart"))
    options = DemoOptions(
        out=folder / scene.name,
        chart=chart,
        style=scene.style,
        seed=scene.seed,
        choruses=scene.choruses,
        turns=scene.turns,
        wav=wav,
    )
    return demo(options)


def retimed(chart: str, pace: float, folder: Path) -> Path:
    """Write the chart into ``folder`` at another tempo, kept playable, and return its path."""
    path = find_chart(chart).entry.path
    text = path.read_text(encoding="utf-8")
    match = re.search(r"^tempo:\s*([\d.]+)", text, re.MULTILINE)
    assert match is not None, f"{chart} says no tempo"
    bpm = min(FASTEST_BPM, max(SLOWEST_BPM, pace * float(match[1])))
    folder.mkdir(parents=True)
    copy = folder / path.name
    copy.write_text(f"{text[: match.start(1)]}{bpm:g}{text[match.end(1) :]}", encoding="utf-8")
    return copy


def answered(audits: Sequence[Audit]) -> list[tuple[tuple[Note, ...], tuple[Note, ...]]]:
    """Return the notes of each call beside those of each reply to it."""
    return [
        (call.notes, reply.notes)
        for audit in audits
        for reply in audit.replies
        for call in audit.session.calls
        if call.id == reply.answers
    ]
