"""What one phrase looks like, in about a hundred and forty numbers.

Taken from notes, chords and onsets alone, on the measuring tools' own grid; nothing depends on how
long a phrase is or how high it lies. ``timing`` features (where notes lie against the grid, how
long they sound) are kept apart: people's beats in the data were marked by hand.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import groupby, pairwise
from math import log2, nan
from statistics import fmean, pstdev

import numpy as np

from tests.bench.soloist_lines import BAR, TICKS, Line
from tests.bench.soloist_statistics import change_places, swing_ratios

FEWEST = 6
COARSE = ("repeat", "step up", "step down", "skip up", "skip down")
PATTERNS = {
    "no note": (),
    "on the beat alone": (0,),
    "off-beat alone": (6,),
    "two eighths": (0, 6),
    "triplet": (0, 4, 8),
    "sixteenths": (0, 3, 6, 9),
}


def features_of(line: Line) -> dict[str, float]:
    """Return every feature of a phrase of six notes or more; nan where it cannot be measured."""
    return {
        **_intervals(line),
        **_contour(line),
        **_rhythm(line),
        **_harmony(line),
        **_resolution(line),
        **_again(line),
        **_timing(line),
    }


def is_timing(name: str) -> bool:
    """Tell whether a feature is about where exactly notes lie and how long they sound."""
    return name.startswith("timing")


def share(flags: Sequence[bool]) -> float:
    """Return the share of what is true; nan of nothing."""
    return sum(flags) / len(flags) if flags else nan


def entropy(values: Sequence[object]) -> float:
    """Return the entropy in bits of how often each value occurs."""
    total = len(values)
    return -sum(n / total * log2(n / total) for n in Counter(values).values()) if total else nan


def coarse(step: int) -> str:
    """Return the class of an interval, one of `COARSE`."""
    if step == 0:
        return "repeat"
    return f"{'step' if abs(step) <= 2 else 'skip'} {'up' if step > 0 else 'down'}"


# --- pitches -----------------------------------------------------------------------------


def _intervals(line: Line) -> dict[str, float]:
    steps = line.intervals
    sizes = [abs(s) for s in steps]
    pairs = Counter(pairwise(coarse(s) for s in steps))
    leaps = [(a, b) for a, b in pairwise(steps) if abs(a) >= 5]
    found = {f"interval {s:+d}": share([x == s for x in steps]) for s in range(-5, 6)}
    found |= {
        "interval -6 and wider down": share([s <= -6 for s in steps]),
        "interval +6 and wider up": share([s >= 6 for s in steps]),
        "interval, mean size": fmean(sizes),
        "interval, spread of sizes": pstdev(sizes),
        "interval, largest": max(sizes),
        "interval, largest up": max(0, *steps),
        "interval, largest down": max(0, *(-s for s in steps)),
        "interval, different ones": len(set(steps)) / len(steps),
        "interval entropy": entropy(steps),
        "leap: then a step back": share([abs(b) in (1, 2) and a * b < 0 for a, b in leaps]),
        "leap: on in the same direction": share([a * b > 0 for a, b in leaps]),
        "pair: two semitones one way": share(
            [abs(a) == 1 and a == b for a, b in pairwise(steps)]
        ),
        "pair: there and back": share([a == -b and a != 0 for a, b in pairwise(steps)]),
        "pair: thirds one way": share(
            [abs(a) in (3, 4) and abs(b) in (3, 4) and a * b > 0 for a, b in pairwise(steps)]
        ),
    }  # fmt: skip
    total = max(1, len(steps) - 1)
    found |= {f"pair: {a}, {b}": pairs[a, b] / total for a in COARSE for b in COARSE}
    return found


def _contour(line: Line) -> dict[str, float]:
    pitches = np.asarray(line.pitches, float)
    steps = [s for s in line.intervals if s]
    ways = [s > 0 for s in steps]
    runs = [len(list(run)) for _, run in groupby(ways)]
    count = len(pitches)
    third = max(1, count // 3)
    around = (pitches[:third].mean() + pitches[-third:].mean()) / 2
    return {
        "contour: range": float(np.ptp(pitches)),
        "contour: net interval": float(pitches[-1] - pitches[0]),
        "contour: size of net interval": float(abs(pitches[-1] - pitches[0])),
        "contour: rise of the thirds": float(pitches[-third:].mean() - pitches[:third].mean()),
        "contour: arch": float(pitches[third : count - third].mean() - around)
        if count > 2 * third
        else nan,
        "contour: place of the peak": float(np.argmax(pitches)) / (count - 1),
        "contour: place of the lowest": float(np.argmin(pitches)) / (count - 1),
        "contour: turns of direction": share([a != b for a, b in pairwise(ways)]),
        "contour: runs of 1": share([n == 1 for n in runs]),
        "contour: runs of 4 and more": share([n >= 4 for n in runs]),
        "contour: longest run": max(runs, default=0),
        "contour: spread of pitches": float(pitches.std()),
        "pitches: different ones": len(set(line.pitches)) / count,
        "pitches: share of the commonest": Counter(line.pitches).most_common(1)[0][1] / count,
        "pitches: entropy of classes": entropy([p % 12 for p in line.pitches]),
    }


# --- rhythm ------------------------------------------------------------------------------


def gaps_of(line: Line) -> list[int]:
    """Return ticks from onset to onset."""
    return [b - a for a, b in pairwise(line.ticks)]


def _rhythm(line: Line) -> dict[str, float]:
    gaps = gaps_of(line)
    places = [t % TICKS for t in line.ticks]
    beats: dict[int, list[int]] = {}
    for tick in line.ticks:
        beats.setdefault(tick // TICKS, []).append(tick % TICKS)
    first, last = line.ticks[0] // TICKS, line.ticks[-1] // TICKS
    patterns = [tuple(beats.get(beat, ())) for beat in range(first + 1, last)]
    counts = [len(p) for p in patterns]
    same = [len(list(run)) for _, run in groupby(gaps)]
    found = {
        "gap: 3 ticks and less": share([g <= 3 for g in gaps]),
        "gap: triplet (4)": share([g == 4 for g in gaps]),
        "gap: eighth (5-7)": share([5 <= g <= 7 for g in gaps]),
        "gap: 8-10": share([8 <= g <= 10 for g in gaps]),
        "gap: quarter (11-13)": share([11 <= g <= 13 for g in gaps]),
        "gap: 14-19": share([14 <= g <= 19 for g in gaps]),
        "gap: 20 and more": share([g >= 20 for g in gaps]),
        "gap: entropy": entropy(gaps),
        "gap: entropy of pairs": entropy(list(pairwise(gaps))),
        "gap: different ones": len(set(gaps)) / len(gaps),
        "gap: changes": share([a != b for a, b in pairwise(gaps)]),
        "gap: longest run of equal ones": max(same) / len(gaps),
        "gap: long to short (twice)": share([a >= 2 * b for a, b in pairwise(gaps)]),
        "gap: short to long (twice)": share([b >= 2 * a for a, b in pairwise(gaps)]),
        "gap: last against usual": gaps[-1] / fmean(gaps),
        "gap: first against usual": gaps[0] / fmean(gaps),
        "place: on the beat": share([p == 0 for p in places]),
        "place: off-beat eighth": share([p in (5, 6, 7) for p in places]),
        "place: triplet places": share([p in (4, 8) for p in places]),
        "place: sixteenth places": share([p in (3, 9) for p in places]),
        "place: elsewhere": share([p in (1, 2, 10, 11) for p in places]),
        "place: entropy": entropy(places),
        "place: first note off the beat": float(places[0] != 0),
        "place: last note off the beat": float(places[-1] != 0),
        "place: bar's first beat struck": _struck(line, 0),
        "place: third beat struck": _struck(line, 2),
        "off-beat held over the beat": share(
            [a % TICKS != 0 and b // TICKS > a // TICKS + 1 - (b % TICKS == 0) and b % TICKS != 0
             for a, b in pairwise(line.ticks)]
        ),
        "beats: notes to the beat": fmean(counts) if counts else nan,
        "beats: spread of notes to the beat": pstdev(counts) if counts else nan,
        "beats: entropy of patterns": entropy(patterns),
        "beats: same pattern again": share([a == b for a, b in pairwise(patterns)]),
        "beats: other patterns": share([p not in PATTERNS.values() for p in patterns]),
    }  # fmt: skip
    found |= {f"beats: {name}": share([p == want for p in patterns])
              for name, want in PATTERNS.items()}  # fmt: skip
    return found


def _struck(line: Line, beat: int) -> float:
    bar = line.bar if line.bar else BAR
    wanted = [
        t for t in range(line.ticks[0], line.ticks[-1] + 1) if t % bar == (beat * TICKS) % bar
    ]
    struck = set(line.ticks)
    return share([t in struck for t in wanted])


# --- harmony -----------------------------------------------------------------------------

_STRONG = ("chord", "tension", "altered")


def _harmony(line: Line) -> dict[str, float]:
    known = [i for i, role in enumerate(line.roles) if role]
    roles = [line.roles[i] for i in known]
    degrees = [line.degrees[i] for i in known]
    on = [line.roles[i] for i in known if line.ticks[i] % TICKS == 0]
    strong = [line.roles[i] for i in known if line.ticks[i] % (2 * TICKS) == 0]
    off = [line.roles[i] for i in known if line.ticks[i] % TICKS in (5, 6, 7)]
    changes = [i for _, i in change_places([line])]
    last, first = line.degrees[-1], line.degrees[0]
    found = {f"role: {r}": share([x == r for x in roles])
             for r in ("chord", "tension", "altered", "other")}  # fmt: skip
    found |= {
        "role: chord tones on beats": share([r == "chord" for r in on]),
        "role: chord tones on beats 1 and 3": share([r == "chord" for r in strong]),
        "role: other on beats": share([r == "other" for r in on]),
        "role: chord tones off the beat": share([r == "chord" for r in off]),
        "role: other off the beat": share([r == "other" for r in off]),
        "change: chord tone": share([line.roles[i] == "chord" for i in changes]),
        "change: 3rd or 7th": share([line.degrees[i] in (3, 4, 10, 11) for i in changes]),
        "change: root": share([line.degrees[i] == 0 for i in changes]),
        "change: reached by step": share(
            [abs(line.intervals[i - 1]) in (1, 2) for i in changes if i]
        ),
        "last: chord tone": float(line.roles[-1] == "chord") if line.roles[-1] else nan,
        "last: root": float(last == 0),
        "last: 3rd": float(last in (3, 4)),
        "last: 5th": float(last == 7),
        "last: neither": float(line.roles[-1] == "other"),
        "first: chord tone": float(line.roles[0] == "chord") if line.roles[0] else nan,
        "first: root": float(first == 0),
        "first: 3rd": float(first in (3, 4)),
        "first: 5th": float(first == 7),
    }
    names = ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7")
    found |= {f"degree {n}": share([d == k for d in degrees]) for k, n in enumerate(names)}
    return found


def _resolution(line: Line) -> dict[str, float]:
    """What becomes of the notes that are neither chord tone nor tension."""
    other = [i for i, role in enumerate(line.roles[:-1]) if role == "other"]
    runs = [len(list(g)) for role, g in groupby(line.roles) if role == "other"]
    not_chord = [
        len(list(g)) for chord, g in groupby(r == "chord" for r in line.roles) if not chord
    ]
    gaps = gaps_of(line)
    return {
        "outside: on by a step": share([abs(line.intervals[i]) in (1, 2) for i in other]),
        "outside: on by a semitone": share([abs(line.intervals[i]) == 1 for i in other]),
        "outside: at once to a strong one by step": share(
            [abs(line.intervals[i]) in (1, 2) and line.roles[i + 1] in _STRONG for i in other]
        ),
        "outside: at once to a chord tone": share([line.roles[i + 1] == "chord" for i in other]),
        "outside: left by a skip": share([abs(line.intervals[i]) >= 3 for i in other]),
        "outside: reached by a skip": share(
            [abs(line.intervals[i - 1]) >= 3 for i in other if i]
        ),
        "outside: longest run": float(max(runs, default=0)),
        "outside: longer than an eighth": share([gaps[i] > 7 for i in other]),
        "away from chord tones: longest run": max(not_chord, default=0) / len(line),
        "skip: from chord tone to chord tone": share(
            [line.roles[i] == line.roles[i + 1] == "chord"
             for i, s in enumerate(line.intervals) if abs(s) >= 3]
        ),
        "step: between two chord tones or tensions": share(
            [line.roles[i] in _STRONG and line.roles[i + 1] in _STRONG
             for i, s in enumerate(line.intervals) if abs(s) in (1, 2)]
        ),
    }  # fmt: skip


# --- what comes again --------------------------------------------------------------------


def _again(line: Line) -> dict[str, float]:
    steps, gaps = line.intervals, gaps_of(line)
    both = list(zip(steps, gaps, strict=True))
    return {
        "again: 2 intervals": _recur(steps, 2),
        "again: 3 intervals": _recur(steps, 3),
        "again: 4 intervals": _recur(steps, 4),
        "again: contour of 4": _recur([(s > 0) - (s < 0) for s in steps], 4),
        "again: 3 gaps": _recur(gaps, 3),
        "again: 4 gaps": _recur(gaps, 4),
        "again: 2 intervals with rhythm": _recur(both, 2),
        "again: 3 intervals with rhythm": _recur(both, 3),
        "again: longest, intervals": _longest(steps) / len(steps),
        "again: longest, gaps": _longest(gaps) / len(gaps),
        "again: longest, contour": _longest([(s > 0) - (s < 0) for s in steps]) / len(steps),
        "again: at once (3 to 5 notes)": _at_once(steps),
        "again: same pitch two notes on": share(
            [a == c for a, c in zip(line.pitches, line.pitches[2:], strict=False)]
        ),
    }


def _recur(values: Sequence[object], size: int) -> float:
    windows = [tuple(values[i : i + size]) for i in range(len(values) - size + 1)]
    counts = Counter(windows)
    return share([counts[w] > 1 for w in windows])


def _longest(values: Sequence[object]) -> int:
    """Return the length of the longest run that comes twice without overlap."""
    for size in range(len(values) // 2, 0, -1):
        seen: dict[tuple[object, ...], int] = {}
        for i in range(len(values) - size + 1):
            window = tuple(values[i : i + size])
            if window in seen and seen[window] + size <= i:
                return size
            seen.setdefault(window, i)
    return 0


def _at_once(steps: Sequence[int]) -> float:
    """Return the share of places where three to five notes come again at once, bent a little."""
    hits = 0
    for i in range(len(steps)):
        for size in (3, 4, 5):
            again = steps[i + size : i + 2 * size - 1]
            first = steps[i : i + size - 1]
            if len(again) == size - 1 and all(
                abs(a - b) <= 1 and a * b >= 0 for a, b in zip(first, again, strict=True)
            ):
                hits += 1
                break
    return hits / len(steps)


# --- time --------------------------------------------------------------------------------


def _timing(line: Line) -> dict[str, float]:
    ms = 60_000.0 / line.bpm
    offs = [(h - t / TICKS) * ms for h, t in zip(line.heard, line.ticks, strict=True)]
    on = [o for o, t in zip(offs, line.ticks, strict=True) if t % TICKS == 0]
    half = [o for o, t in zip(offs, line.ticks, strict=True) if t % TICKS == 6]
    heard = [b - a for a, b in pairwise(line.heard)]
    legato = [n / g for n, g in zip(line.lengths, heard, strict=False) if g > 0]
    eighths = [h for h, g in zip(heard, gaps_of(line), strict=True) if g == 6]
    ratios = swing_ratios(line)
    jumps = [b - a for a, b in pairwise(offs)]
    return {
        "timing: on the beat, mean ms": fmean(on) if on else nan,
        "timing: on the beat, spread ms": pstdev(on) if len(on) > 1 else nan,
        "timing: off-beat eighth, mean ms": fmean(half) if half else nan,
        "timing: off-beat eighth, spread ms": pstdev(half) if len(half) > 1 else nan,
        "timing: note to note, mean jump ms": fmean(abs(j) for j in jumps),
        "timing: neighbours alike": _correlation(offs),
        "timing: swing ratio": float(np.median(ratios)) if ratios else nan,
        "timing: spread of swing": pstdev(ratios) if len(ratios) > 1 else nan,
        "timing: spread of eighths": pstdev(eighths) / fmean(eighths) if len(eighths) > 2 else nan,
        "timing: legato, mean": fmean(legato) if legato else nan,
        "timing: legato, spread": pstdev(legato) if legato else nan,
        "timing: legato, overlapping": share([x > 1.0 for x in legato]),
        "timing: legato, below half": share([x < 0.5 for x in legato]),
        "timing: last note, beats": line.lengths[-1],
        "timing: last note against usual": line.lengths[-1] / fmean(line.lengths),
    }


def _correlation(values: Sequence[float]) -> float:
    a, b = np.asarray(values[:-1]), np.asarray(values[1:])
    if len(a) < 4 or a.std() < 1e-6 or b.std() < 1e-6:
        return nan
    return float(np.corrcoef(a, b)[0, 1])
