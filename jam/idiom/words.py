"""What a body of playing is like, in plain words: how much there is, and what is usual in it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from jam.idiom.classes import FAMILIES, TEMPI, TICKS
from jam.idiom.counts import Counts, Key

_DEGREES = ("1", "b9", "9", "b3", "3", "11", "b5", "5", "b13", "13", "b7", "7")
_PLACES = {
    2: "1/6", 3: "1/4", 4: "1/3", 6: "1/2", 8: "2/3", 9: "3/4", 10: "5/6",
}  # fmt: skip
_MEDIAN = 10


def told(counts: Counts) -> str:
    """Return what was counted, a few lines of plain text."""
    lines = [f"{_many(counts.notes, 'note')} in {_many(counts.phrases, 'phrase')}"]
    if moves := _moves(counts):
        lines.append(f"it moves by {moves}")
    for about, ends in (("begins", counts.first), ("ends", counts.last)):
        if usual := _usual_degrees(ends):
            lines.append(f"a phrase usually {about} on {usual}")
    if usual := _usual_beats(counts):
        lines.append(f"usual beats, onsets as shares of the beat: {usual}")
    for name, what in (("phrase_beats", "a phrase lasts"), ("rest_beats", "the next begins after")):
        if usual := _medians(counts.spreads.get(name, ()), " beats"):
            lines.append(f"{what} {usual}")
    if usual := _medians(counts.spreads.get("swing", ()), " to 1"):
        lines.append(f"eighths swing {usual}")
    return "\n".join(lines)


def _many(count: int, what: str) -> str:
    return f"{count:,} {what}{'s' * (count != 1)}"


def _moves(counts: Counts) -> str:
    sizes: Counter[str] = Counter()
    for (*_, way), count in counts.bare.items():
        size = abs(way - 12)
        kind = "repeats" if not size else "steps" if size < 3 else "thirds" if size < 5 else "leaps"
        sizes[kind] += count
    return _shares(sizes, ("steps", "thirds", "leaps", "repeats"))


def _shares(found: Counter[str], names: Iterable[str]) -> str:
    whole = sum(found.values())
    shares = [f"{name} {round(100 * found[name] / whole)} %" for name in names if whole]
    return ", ".join(shares)


def _usual_degrees(ends: Counter[Key]) -> str:
    """Return the three degrees that come most often on each family that is heard a good deal."""
    whole = sum(ends.values())
    parts = []
    for family, name in enumerate(FAMILIES):
        found: Counter[int] = Counter()
        for (kind, *_, degree), count in ends.items():
            if kind == family:
                found[degree] += count
        if found and found.total() >= max(5, whole / 10):
            usual = sorted(found, key=lambda degree: (-found[degree], degree))[:3]
            parts.append(f"{', '.join(_DEGREES[d] for d in usual)} ({name})")
    return "; ".join(parts)


def _usual_beats(counts: Counts) -> str:
    found: Counter[int] = Counter()
    for (*_, pattern), count in counts.beats.items():
        if counts.patterns[pattern]:
            found[pattern] += count
    usual = sorted(found, key=lambda number: (-found[number], number))[:5]
    return ", ".join(_beat(counts.patterns[number]) for number in usual)


def _beat(pattern: Key) -> str:
    return " ".join("on" if not t else _PLACES.get(t, f"{t}/{TICKS}") for t in pattern)


def _medians(rows: Sequence[Sequence[float]], unit: str) -> str:
    """Return the median of each tempo that there is one for."""
    known = [(row[_MEDIAN], TEMPI[tempo]) for tempo, row in enumerate(rows) if row]
    if len(known) == 1:
        return f"{known[0][0]:.1f}{unit}"
    return ", ".join(f"{value:.1f}{unit} ({tempo})" for value, tempo in known)
