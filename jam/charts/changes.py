"""A passage's changes and bar lines on the session's beats.

Each change is given its function from the chord that follows it; the last one of a chorus is
followed by the top of the chorus, the last one of the last time by nothing. A passing chord is
not what the chord before it leads to.
"""

from __future__ import annotations

from itertools import accumulate

from jam.charts.model import Chart, ChartChange, Passage
from jam.harmony.changes import Change
from jam.harmony.chord import Chord
from jam.harmony.functions import function_of


def bar_starts(passage: Passage, first_beat: float) -> list[float]:
    """Return the beat of each bar line of ``passage``, which begins at ``first_beat``.

    There is one for each bar; the end of the passage is not among them.
    """
    lengths = (bar.beats for bar in passage.bars[:-1])
    return list(accumulate(lengths, initial=first_beat)) if passage.bars else []


def changes_of(chart: Chart, passage: Passage, first_beat: float) -> list[Change]:
    """Return the changes of ``passage`` as it is played from ``first_beat`` on.

    A chord named again while it sounds is no change, so each lasts until the next in the list.
    """
    placed = _placed(passage, first_beat)
    after = _first_chord(chart.chorus) if passage == chart.chorus else None
    changes = []
    for index, (beat, change) in enumerate(placed):
        following = _following(placed[index + 1 :], change) or after
        function = function_of(change.chord, following, chart.key, chart.blues)
        changes.append(Change(beat, change.chord, change.passing, function))
    return changes


def _placed(passage: Passage, first_beat: float) -> list[tuple[float, ChartChange]]:
    placed: list[tuple[float, ChartChange]] = []
    for start, bar in zip(bar_starts(passage, first_beat), passage.bars, strict=True):
        for change in bar.changes:
            before = placed[-1][1] if placed else None
            if before and before.chord == change.chord and before.passing == change.passing:
                continue
            placed.append((start + change.beat, change))
    return placed


def _following(rest: list[tuple[float, ChartChange]], change: ChartChange) -> Chord | None:
    for _, other in rest:
        if change.passing or not other.passing:
            return other.chord
    return None


def _first_chord(passage: Passage) -> Chord | None:
    for bar in passage.bars:
        if bar.changes:
            return bar.changes[0].chord
    return None
