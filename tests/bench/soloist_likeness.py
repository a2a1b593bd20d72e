"""Are the replies made like people's lines? ``python -m tests.bench.soloist_likeness``.

Every published statistic of human solos beside the same statistic of the replies, own
implementation: *replies* is the median over pseudo-solos (replies of one style over one tune,
strung together until they hold 300 notes, a usual solo), *pooled* is over all replies at once and
is what is judged (patterns that recur excepted: a pool holds more of them), by whether it lies
between people's 5th and 95th percentile. With a
data folder the people in it are measured too: whole (*check*: how near this implementation comes
to the published medians) and cut into the same turns (*turns*: what the turn allows). Landings and
endings may be stricter than people's: the hard rules ask for it.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from itertools import pairwise
from math import isnan, nan
from statistics import fmean

import numpy as np

from tests.bench import soloist_people as people
from tests.bench.soloist_calls import (
    PROCESSES,
    Exchange,
    arguments,
    exchanges,
    parsed,
    styles_of,
)
from tests.bench.soloist_lines import Line
from tests.bench.soloist_reference import (
    DEGREE_NAMES,
    DEGREES,
    DENSITY,
    QUARTERS,
    SPREAD,
    SWING,
    Spread,
)
from tests.bench.soloist_statistics import (
    DENSITY_EDGES,
    SWING_EDGES,
    beat_counts,
    bin_of,
    degree_table,
    roles_by_quarter,
    statistics_of,
    swing_ratios,
)
from tests.bench.words import load, say

LEAST_NOTES = 300
STRICTER = ("last note", "first note at a chord change", "chord tone or available")
"""Statistics in which a reply may lie above people's: the hard rules ask for it."""


def pseudo_solos(found: Sequence[Exchange]) -> dict[str, list[list[Line]]]:
    """Return the replies of each style strung together, tune by tune."""
    grouped: dict[tuple[str, str], list[Exchange]] = defaultdict(list)
    for one in found:
        grouped[one.style, one.tune].append(one)
    made: dict[str, list[list[Line]]] = defaultdict(list)
    for (style, _), rows in sorted(grouped.items()):
        solo: list[Line] = []
        for one in sorted(rows, key=lambda o: (o.session, o.turn)):
            solo.append(one.reply)
            if sum(map(len, solo)) >= LEAST_NOTES:
                made[style].append(solo)
                solo = []
    return made


def in_turns(one: people.Solo) -> list[Line]:
    """Return a human solo cut into turns of four bars, every second one left out."""
    parts = [people.ticks_in(one.line, *turn) for turn in people.turns(one)]
    return [part for part in parts[::2] if len(part) >= 2]


def pool(lines: Sequence[Line]) -> dict[str, list[float]]:
    """Return every statistic of all lines at once; patterns that recur are left out."""
    row = statistics_of(lines)
    return {name: [nan if "recur" in name else value] for name, value in row.items()}


def medians(solos: Iterable[Sequence[Line]]) -> dict[str, list[float]]:
    """Return every statistic's values over solos."""
    with ProcessPoolExecutor(PROCESSES) as workers:
        rows = list(workers.map(statistics_of, solos, chunksize=8))
    return {name: [row[name] for row in rows] for name in (rows[0] if rows else {})}


def middle(values: Sequence[float]) -> float:
    """Return the median of what could be measured."""
    known = [value for value in values if not isnan(value)]
    return float(np.median(known)) if known else nan


def verdict(name: str, value: float, spread: Spread) -> str:
    """Return where a value lies: empty inside people's range."""
    if isnan(value):
        return "?"
    if value < spread[0]:
        return "OUT low"
    if value > spread[2]:
        return "over (allowed)" if name.startswith(STRICTER) else "OUT high"
    return ""


def say_spread(columns: dict[str, dict[str, list[float]]], judged: Sequence[str]) -> None:
    """Print the table of statistics; the columns ``judged`` are held against people's range."""
    names = list(columns)
    say(f"{'statistic of one solo':<63}{'5th':>7}{'median':>7}{'95th':>7}"
        + "".join(f"{name[:9]:>10}" for name in names))  # fmt: skip
    outside: dict[str, list[str]] = {name: [] for name in judged}
    for name, spread in SPREAD.items():
        values = {c: middle(columns[c].get(name, [])) for c in names}
        row = f"{name[:62]:<63}" + "".join(f"{x:7.1f}" for x in spread)
        row += "".join(f"{values[c]:10.1f}" for c in names)
        marks = []
        for column in judged:
            mark = verdict(name, values[column], spread)
            if mark:
                marks.append(mark if len(judged) == 1 else f"{column}: {mark}")
            if mark.startswith("OUT"):
                outside[column].append(name)
        say(f"{row}  {', '.join(marks)}".rstrip())
    for column, out in outside.items():
        inside = len(SPREAD) - len(out)
        say(
            f"{column}: {inside} of {len(SPREAD)} statistics inside people's 5th to 95th percentile"
        )
        for name in out:
            say(f"    out: {name} {middle(columns[column][name]):.1f} of {SPREAD[name]}")


def say_swing(columns: dict[str, Sequence[Line]]) -> None:
    """Print the median swing ratio by tempo, with the number of pairs."""
    say(f"\n{'swing ratio, bpm':<18}{'25th':>7}{'median':>7}{'75th':>7}"
        + "".join(f"{name[:16]:>18}" for name in columns))  # fmt: skip
    pairs: dict[str, dict[str, list[float]]] = {}
    for name, lines in columns.items():
        pairs[name] = defaultdict(list)
        for line in lines:
            pairs[name][bin_of(line.bpm, SWING_EDGES)] += swing_ratios(line)
    for tempo, (low, mid, high) in SWING.items():
        cells = ""
        for name in columns:
            found = pairs[name].get(tempo, [])
            value = middle(found)
            mark = " " if low <= value <= high or isnan(value) else "!"
            cells += f"{value:9.2f}{mark} ({len(found):5})" if found else " " * 18
        say(f"{tempo:<18}{low:7.2f}{mid:7.2f}{high:7.2f}{cells}")


def say_density(columns: dict[str, Sequence[Line]]) -> None:
    """Print notes a beat inside phrases by tempo."""
    say(f"\n{'notes a beat, bpm':<18}{'people':>8}" + "".join(f"{n[:14]:>16}" for n in columns))
    for low, high in pairwise(DENSITY_EDGES):
        tempo = f"{low}-{high - 1}"
        row = f"{tempo:<18}{DENSITY[tempo]:8.2f}"
        for lines in columns.values():
            within = [line for line in lines if low <= line.bpm < high]
            counts = beat_counts(within)
            row += f"{fmean(counts):9.2f} ({len(within):4})" if counts else " " * 16
        say(row)


def say_degrees(columns: dict[str, Sequence[Line]]) -> None:
    """Print pooled degrees, and how far each set lies from people's in all."""
    for place, wanted in DEGREES.items():
        say(f"\ndegrees, {place:<10}" + "".join(f"{name:>7}" for name in DEGREE_NAMES) + "   apart")
        say(f"{'  people':<19}" + "".join(f"{x:7.1f}" for x in wanted))
        for name, lines in columns.items():
            row = degree_table([lines])[place]
            apart = sum(abs(a - b) for a, b in zip(row, wanted, strict=True)) / 2
            say(f"  {name[:16]:<17}" + "".join(f"{x:7.1f}" for x in row) + f"{apart:7.1f} %")


def say_quarters(columns: dict[str, Sequence[Line]]) -> None:
    """Print roles over the quarters of a phrase, pooled."""
    say("\nroles by quarter of the phrase: chord, tension, altered, other %")
    say(f"  {'people':<17}" + " | ".join(" ".join(f"{x:5.1f}" for x in q) for q in QUARTERS))
    for name, lines in columns.items():
        quarters = roles_by_quarter([lines])
        say(f"  {name[:16]:<17}" + " | ".join(" ".join(f"{x:5.1f}" for x in q) for q in quarters))


def _with_recurring(
    whole: dict[str, list[float]], solos: dict[str, list[float]]
) -> dict[str, list[float]]:
    return {name: solos[name] if "recur" in name else values for name, values in whole.items()}


def main(given: Sequence[str] | None = None) -> int:
    """Measure and print."""
    parser = arguments("soloist_likeness", __doc__ or "", replies=1000)
    options = parsed(parser, given, 300)
    found = exchanges(options)
    referred = [one for one in found if one.mainstream]
    without = [one for one in found if not one.mainstream]
    made = pseudo_solos(referred)
    columns: dict[str, dict[str, list[float]]] = {}
    lines: dict[str, Sequence[Line]] = {}
    human = [one for one in people.solos(people.folder(options.data)) if one.mainstream]
    if human:
        columns["check"] = medians([[one.line] for one in human])
        columns["turns"] = medians([in_turns(one) for one in human])
        lines["people here"] = [one.line for one in human]
    pooled = [solo for solos in made.values() for solo in solos]
    everything = [line for solo in pooled for line in solo]
    columns["replies"] = medians(pooled)
    columns["pooled"] = _with_recurring(pool(everything), columns["replies"])
    lines["replies"] = everything
    judged = ["pooled"]
    if len(made) > 1:
        for style, solos in made.items():
            lines[style] = [line for solo in solos for line in solo]
            columns[style] = _with_recurring(pool(lines[style]), medians(solos))
        judged += list(made)
    say(f"{len(referred)} replies of {', '.join(styles_of(options))}; {len(pooled)} pseudo-solos")
    say_spread(columns, judged)
    if human:
        apart = [
            abs(middle(columns["check"][name]) - spread[1]) / max(1e-9, spread[2] - spread[0])
            for name, spread in SPREAD.items()
        ]
        say(f"check: people here lie {np.mean(apart):.2f} of the 5-95 range from the published"
            f" medians on average, {max(apart):.2f} at most")  # fmt: skip
    say_swing(lines)
    say_density(lines)
    say_degrees(lines)
    say_quarters(lines)
    if without:
        kinds = sorted({one.tune for one in without})
        say(f"\nno reference (waltz, ballad, even eighths): {len(without)} replies, "
            + ", ".join(kinds))  # fmt: skip
    say(load())
    return 0


if __name__ == "__main__":
    sys.exit(main())
