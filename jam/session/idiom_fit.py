"""Does a line lie over its chart as a line does that was played over it?

Told by the share of notes that are chord tones, at the bar that was asked for and at every other
bar of the chorus. Over 38 solos in swing feel of the Weimar Jazz Database (Pfleiderer et al. 2017,
own counts) half of the notes are chord tones where they belong (median 0.50), two in five a bar or
more away (0.39), and no other bar of the chart is better by more than 0.04.
"""

from __future__ import annotations

from math import sqrt

from jam.charts.model import Chart
from jam.idiom.learn import Played

MARGIN = 0.08
"""How much larger the share of chord tones must be elsewhere, with many notes."""

LEAST_FITTING = 0.55
"""The share of chord tones and tensions of notes drawn by lot is about 0.6; the least of the solos
named above has as much."""

_FEWEST = 24


def misfit(line: Played, chart: Chart, from_bar: int) -> str:
    """Return in words that ``line``, laid over ``chart`` from bar ``from_bar`` of its file on (from
    1), would fit better elsewhere or fits nowhere; nothing if it does, or has too few notes."""
    top, bar_beats = line.bars.start(0), chart.metre.bar_beats
    bars = round(chart.chorus.beats / bar_beats)
    notes = [
        (n.heard_beat, n.pitch % 12)
        for phrase in line.phrases
        for n in phrase
        if n.heard_beat >= top
    ]
    if len(notes) < _FEWEST:
        return ""

    def share(later: int, *, strong: bool = False) -> float:
        agreed = 0
        for beat, pitch_class in notes:
            place = (beat - top - later * bar_beats) % chart.chorus.beats
            chord = line.changes.at(top + place).chord
            agreed += pitch_class in (chord.strong if strong else chord.tones)
        return agreed / len(notes)

    here, (best, later) = share(0), max((share(k), -k) for k in range(bars))
    if best - here > max(MARGIN, 2.0 / sqrt(len(notes))):
        better = from_bar - later
        better -= bars if better > bars else 0
        return (
            f"It hardly fits the chart there: {_percent(here)} of its notes are chord tones,"
            f" and {_percent(best)} would be with --from-bar {better}."
        )
    if (fitting := share(0, strong=True)) < LEAST_FITTING:
        return (
            f"It hardly fits the chart: {_percent(fitting)} of its notes are chord tones or"
            " tensions, no more than by lot. Is it this tune, in this key, from this bar on?"
        )
    return ""


def _percent(share: float) -> str:
    return f"{round(share * 100)} %"
