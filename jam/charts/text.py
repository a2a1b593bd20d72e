"""A chart as plain text: title, key and tempo, then the changes by section, four bars a line.

The bars are written as they may be typed into a chart (`jam.charts.changes_text`).
"""

from __future__ import annotations

from itertools import groupby

from jam.charts.metres import count_beats
from jam.charts.model import Bar, Chart, Passage
from jam.transport.metre import Metre

BARS_A_LINE = 4


def chart_to_text(chart: Chart) -> str:
    """Return the chart as lines of plain text; of the last time only what differs."""
    lines = [chart.title, _facts(chart)]
    if chart.about:
        lines.append(chart.about)
    lines += ["", *_passage_lines(chart.chorus, chart.metre)]
    if chart.last.bars != chart.chorus.bars:
        same = _common_bars(chart)
        rest = Passage(chart.last.bars[same:])
        lines += ["", f"last time, after bar {same}:", *_passage_lines(rest, chart.metre)]
    return "\n".join(lines) + "\n"


def bar_text(bar: Bar, metre: Metre) -> str:
    """Return the changes of one bar as they may be typed; % for a bar without any."""
    if not bar.changes:
        return "%"
    size = count_beats(metre)
    ends = [change.beat for change in bar.changes[1:]] + [bar.beats]
    lengths = [(end - change.beat) / size for change, end in zip(bar.changes, ends, strict=True)]
    shared = len(set(lengths)) == 1 and (lengths[0].is_integer() or lengths[0] in (0.5, 1.5))
    words = []
    for change, length in zip(bar.changes, lengths, strict=True):
        mark = "~" if change.passing else ""
        words.append(mark + change.chord.symbol + ("" if shared else f":{length:g}"))
    return " ".join(words)


def _facts(chart: Chart) -> str:
    pulses = chart.tempo_bpm / chart.metre.pulse_beats
    form = f"{len(chart.chorus.bars)} bars"
    blues = ", blues" if chart.blues else ""
    return f"{chart.key.name}, {chart.metre}, {pulses:g} a minute, {chart.feel}{blues}, {form}"


def _common_bars(chart: Chart) -> int:
    same = 0
    for one, other in zip(chart.chorus.bars, chart.last.bars, strict=False):
        if one != other:
            break
        same += 1
    return same


def _passage_lines(passage: Passage, metre: Metre) -> list[str]:
    lines = []
    for section, group in groupby(passage.bars, key=lambda bar: bar.section):
        bars = [bar_text(bar, metre) for bar in group]
        for index in range(0, len(bars), BARS_A_LINE):
            label = section if index == 0 else ""
            row = " | ".join(f"{text:<8}" for text in bars[index : index + BARS_A_LINE])
            lines.append(f"{label:<4}| {row} |")
    return lines
