"""How is a line made, in the statistics that are published of human solos?

Own implementation, from notes, phrases and chord symbols alone. One value a solo; a solo is one
line, or the replies of a session strung together (`solo_of`). Nothing is counted across the seam
of two turns. Beats are quarter notes, a tick is a twelfth of a beat.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import groupby, pairwise
from math import nan
from statistics import median

from tests.bench.soloist_lines import TICKS, Line

Solo = Sequence[Line]
EIGHTH = range(5, 9)
Places = Sequence[tuple[Line, int]]


def statistics_of(solo: Solo) -> dict[str, float]:
    """Return every statistic of one solo by the name it has in the table of human solos."""
    return {
        **role_shares(solo),
        **roles_by_place(solo),
        **interval_shares(solo),
        **phrase_measures(solo),
        **endings(solo),
        **rhythm_measures(solo),
        **at_changes(solo),
        **recurring(solo),
        **sequences(solo),
    }


def _notes(solo: Solo) -> list[tuple[Line, int]]:
    return [(line, i) for line in solo for i in range(len(line)) if line.roles[i]]


def _phrases(solo: Solo) -> list[tuple[Line, int, int]]:
    return [(line, a, b) for line in solo for a, b in line.spans]


def percent(flags: Iterable[bool]) -> float:
    """Return the share of what is true, in percent; nan of nothing."""
    kept = list(flags)
    return 100.0 * sum(kept) / len(kept) if kept else nan


def _role(places: Places, *names: str) -> float:
    return percent(line.roles[i] in names for line, i in places)


_STRONG = ("chord", "tension", "altered")


def role_shares(solo: Solo) -> dict[str, float]:
    """Shares of the four roles among all notes."""
    notes = _notes(solo)
    return {
        f"role {name} %, all notes": _role(notes, name)
        for name in ("chord", "tension", "altered", "other")
    }


def roles_by_place(solo: Solo) -> dict[str, float]:
    """Shares of strong notes and chord tones on each kind of beat."""
    notes = _notes(solo)
    half = 2 * TICKS
    wanted = {
        "beat 1": lambda line, i: line.ticks[i] % line.bar == 0,
        "beat 3": lambda line, i: line.ticks[i] % line.bar == half and line.bar == 4 * TICKS,
        "beats 2, 4": lambda line, i: (
            line.ticks[i] % TICKS == 0 and (line.ticks[i] % line.bar) not in (0, half)
        ),
        "off-beat 8th": lambda line, i: line.ticks[i] % TICKS in EIGHTH,
    }
    found = {}
    for name, there in wanted.items():
        places = [(line, i) for line, i in notes if there(line, i)]
        found[f"chord tone or available/altered tension %, {name}"] = _role(places, *_STRONG)
        found[f"chord tone %, {name}"] = _role(places, "chord")
    return found


def steps_of(solo: Solo) -> list[int]:
    """Return all intervals from note to note inside phrases."""
    return [step for line, a, b in _phrases(solo) for step in line.intervals[a : b - 1]]


def interval_shares(solo: Solo) -> dict[str, float]:
    """Repeats, steps, thirds, larger; up and down; runs in one direction; single intervals."""
    steps = steps_of(solo)
    runs = [
        len(list(run))
        for line, a, b in _phrases(solo)
        for way, run in groupby((s > 0) - (s < 0) for s in line.intervals[a : b - 1])
        if way
    ]
    counts = Counter(max(-13, min(13, step)) for step in steps)
    single = {
        "interval <= -13" if k == -13 else "interval >= 13" if k == 13 else f"interval {k:+d}": k
        for k in range(-13, 14)
    }
    return {
        "interval repeat %": percent(s == 0 for s in steps),
        "interval step (1-2) %": percent(abs(s) in (1, 2) for s in steps),
        "interval third (3-4) %": percent(abs(s) in (3, 4) for s in steps),
        "interval larger %": percent(abs(s) > 4 for s in steps),
        "interval up %": percent(s > 0 for s in steps),
        "interval down %": percent(s < 0 for s in steps),
        "direction runs of 1 interval %": percent(n == 1 for n in runs),
        "direction runs of 4+ intervals %": percent(n >= 4 for n in runs),
        **{name: 100.0 * counts[k] / max(1, len(steps)) for name, k in single.items()},
    }


def phrase_measures(solo: Solo) -> dict[str, float]:
    """Length, rests between, range; where phrases start and end in the beat."""
    phrases = _phrases(solo)
    rests = [
        (line.ticks[b] - line.ticks[a - 1]) / TICKS
        for line in solo
        for (_, a), (b, _) in pairwise(line.spans)
    ]
    ranges = [max(line.pitches[a:b]) - min(line.pitches[a:b]) for line, a, b in phrases]
    spans = [(line.ticks[b - 1] - line.ticks[a]) / TICKS for line, a, b in phrases]
    return {
        "notes per phrase, median": _median(b - a for _, a, b in phrases),
        "beats per phrase, median": _median(spans),
        "rest between phrases (last onset to next), beats, median": _median(rests),
        "phrases that start off the beat %": percent(
            line.ticks[a] % TICKS != 0 for line, a, _ in phrases
        ),
        "phrases that end off the beat %": percent(
            line.ticks[b - 1] % TICKS != 0 for line, _, b in phrases
        ),
        "range per phrase, semitones, median": _median(ranges),
    }


def _median(values: Iterable[float]) -> float:
    kept = list(values)
    return float(median(kept)) if kept else nan


def endings(solo: Solo) -> dict[str, float]:
    """Which degrees phrases end on."""
    last = [(line, b - 1) for line, _, b in _phrases(solo) if line.roles[b - 1]]
    degrees = [line.degrees[i] for line, i in last]
    return {
        "last note chord tone %": _role(last, "chord"),
        "last note chord tone or tension %": _role(last, *_STRONG),
        "last note root %": percent(d == 0 for d in degrees),
        "last note 3rd (b3, 3) %": percent(d in (3, 4) for d in degrees),
        "last note 5th %": percent(d == 7 for d in degrees),
        "last note 7th (b7, 7) %": percent(d in (10, 11) for d in degrees),
        "last note 9th %": percent(d == 2 for d in degrees),
    }


def beat_counts(solo: Solo) -> list[int]:
    """Return how many notes begin in each beat, from a phrase's first to its last."""
    found = []
    for line, a, b in _phrases(solo):
        counts = Counter(tick // TICKS for tick in line.ticks[a:b])
        first, last = line.ticks[a] // TICKS, line.ticks[b - 1] // TICKS
        found += [counts[beat] for beat in range(first, last + 1)]
    return found


def rhythm_measures(solo: Solo) -> dict[str, float]:
    """Notes to the beat inside phrases, and where in the beat they begin."""
    counts = beat_counts(solo)
    inside = [tick % TICKS for line in solo for tick in line.ticks]
    return {
        **{f"beats inside a phrase with {k} notes %": percent(c == k for c in counts)
           for k in range(5)},
        "onsets on the beat %": percent(place == 0 for place in inside),
        "onsets at the eighth (5-8 twelfths) %": percent(place in EIGHTH for place in inside),
    }  # fmt: skip


def at_changes(solo: Solo) -> dict[str, float]:
    """What the first note at a chord change is, and how it is reached."""
    places = change_places(solo)
    into = [
        abs(line.pitches[i] - line.pitches[i - 1])
        for line, i in places
        if i and line.phrases[i] == line.phrases[i - 1]
    ]
    return {
        "first note at a chord change: chord tone %": _role(places, "chord"),
        "first note at a chord change: strong %": _role(places, *_STRONG),
        "into that note by 1-2 semitones %": percent(step in (1, 2) for step in into),
    }


def change_places(solo: Solo) -> list[tuple[Line, int]]:
    """Return the first note on each new chord, where it begins within a beat of the change."""
    found = []
    for line in solo:
        for beat, symbol, before in zip(
            line.harmony.beats[1:], line.harmony.symbols[1:], line.harmony.symbols, strict=False
        ):
            if symbol == before:
                continue
            change = round(beat * TICKS)
            index = next((i for i, t in enumerate(line.ticks) if t >= change), None)
            near = index is not None and line.ticks[index] < change + TICKS
            if index is not None and near and line.roles[index]:
                found.append((line, index))
    return found


def recurring(solo: Solo) -> dict[str, float]:
    """Share of interval patterns that come again in the solo from another pitch."""
    found = {}
    for size in (3, 4, 5):
        windows = [
            (line.intervals[i : i + size - 1], line.pitches[i])
            for line in solo
            for i in range(len(line) - size + 1)
        ]
        pitches: dict[tuple[int, ...], set[int]] = {}
        for shape, pitch in windows:
            pitches.setdefault(shape, set()).add(pitch)
        name = f"{size}-note interval patterns that recur transposed in the solo %"
        found[name] = percent(len(pitches[shape]) > 1 for shape, _ in windows)
    return found


def sequences(solo: Solo) -> dict[str, float]:
    """Share of phrases of six notes and more with an immediate sequence: a figure of three notes
    or more said again at once from another pitch; loosely its contour, exactly its intervals."""
    phrases = [line.pitches[a:b] for line, a, b in _phrases(solo) if b - a >= 6]
    return {
        "phrases (6+ notes) holding an immediate sequence, loosely %": percent(
            _sequence(p, bend=2) for p in phrases
        ),
        "same, exactly %": percent(_sequence(p, bend=0) for p in phrases),
    }


def _sequence(pitches: Sequence[int], *, bend: int) -> bool:
    steps = [b - a for a, b in pairwise(pitches)]
    for size in (3, 4, 5, 6, 7, 8):
        for i in range(len(pitches) - 2 * size + 1):
            first, again = steps[i : i + size - 1], steps[i + size : i + 2 * size - 1]
            moved = pitches[i] != pitches[i + size]
            if moved and all(_alike(a, b, bend) for a, b in zip(first, again, strict=True)):
                return True
    return False


def _alike(a: int, b: int, bend: int) -> bool:
    return abs(a - b) <= bend and (a > 0) - (a < 0) == (b > 0) - (b < 0)


# --- pooled ------------------------------------------------------------------------------

SWING_EDGES = (40, 80, 120, 160, 200, 240, 280, 320, 360, 400)


def swing_ratios(line: Line) -> list[float]:
    """Return first part over second of each beat with exactly one note inside, both ends struck."""
    found = []
    for i in range(len(line) - 2):
        a, b, c = line.ticks[i : i + 3]
        if a % TICKS == 0 and c - a == TICKS and b < c:
            first, second = line.heard[i + 1] - line.heard[i], line.heard[i + 2] - line.heard[i + 1]
            if first > 0 and second > 0:
                found.append(first / second)
    return found


DENSITY_EDGES = (0, 100, 140, 180, 220, 260, 1000)


def bin_of(bpm: float, edges: Sequence[int]) -> str:
    """Return the name of the tempo's bin, empty outside all."""
    for low, high in pairwise(edges):
        if low <= bpm < high:
            return f"{low}-{high - 1}"
    return ""


def degree_table(solos: Sequence[Solo]) -> dict[str, list[float]]:
    """Return the pooled shares of the twelve degrees: all notes, first, last, at a change."""
    solo = [line for one in solos for line in one]
    picked = {
        "all": _notes(solo),
        "first": [(line, a) for line, a, _ in _phrases(solo)],
        "last": [(line, b - 1) for line, _, b in _phrases(solo)],
        "change": change_places(solo),
    }
    table = {}
    for name, places in picked.items():
        degrees = [line.degrees[i] for line, i in places if line.degrees[i] >= 0]
        table[name] = [percent(d == k for d in degrees) for k in range(12)]
    return table


def roles_by_quarter(solos: Sequence[Solo]) -> list[list[float]]:
    """Return the pooled shares of the four roles in each quarter of a phrase."""
    held: list[Counter[str]] = [Counter() for _ in range(4)]
    for one in solos:
        for line, a, b in _phrases(one):
            for i in range(a, b):
                if line.roles[i]:
                    held[min(3, 4 * (i - a) // (b - a))][line.roles[i]] += 1
    return [
        [100.0 * c[r] / max(1, sum(c.values())) for r in ("chord", "tension", "altered", "other")]
        for c in held
    ]
