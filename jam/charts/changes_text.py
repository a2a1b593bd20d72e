"""Changes as they are typed: which chords stand in which bar, and on which count.

    F7 | Bb7 | F7 | Cm7 F7          chords of a bar share it equally
    Dm7:3 G7 | C6 / / A7            a number gives counts; a / holds the chord for a count more
    Dm7 ~Db7 | Cmaj7 | % | N.C.     ~ marks a passing chord; % plays the bar before again
    Gm7 C7 to_coda | F6             after this bar the last time goes on at the coda

Counts are quarters, or dotted quarters in compound metres. Shares must be whole counts, a count
and a half, or half a count: anything else is to be written with numbers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from jam.charts.metres import count_beats
from jam.charts.model import ChartChange
from jam.charts.typed import Typed, TypedBar
from jam.errors import InputError
from jam.harmony.pitch import SymbolError
from jam.harmony.symbols import parse_chord
from jam.transport.metre import Metre

TO_CODA = "to_coda"
_SHARES = (0.5, 1.5)


@dataclass(frozen=True, slots=True)
class WrittenBar:
    """The changes of a bar; ``to_coda`` says that the last time leaves after it."""

    changes: tuple[ChartChange, ...]
    to_coda: bool = False


def read_changes(
    typed: Typed, metre: Metre, before: tuple[WrittenBar, ...] = ()
) -> tuple[WrittenBar, ...]:
    """Return the bars written in ``typed``; a % at its beginning repeats the last bar ``before``.

    Raises InputError that names the bar (counted with those before) and what was found.
    """
    bars: list[WrittenBar] = []
    for number, bar in enumerate(typed.bars(), start=len(before) + 1):
        words = [word for word in bar.words if word != TO_CODA]
        previous = bars[-1] if bars else before[-1] if before else None
        if words == ["%"]:
            if previous is None:
                problem = "bar 1: % stands where there is no bar before"
                raise typed.error(problem, "Write its chord.", bar.line)
            changes = previous.changes
        else:
            changes = _read_bar(words, number, bar, typed, metre)
        bars.append(WrittenBar(changes, TO_CODA in bar.words))
    if not bars:
        raise typed.error("there are no bars", "Write chords split by |, as in Dm7 | G7 | C6 | %")
    return tuple(bars)


def _read_bar(
    words: list[str], number: int, bar: TypedBar, typed: Typed, metre: Metre
) -> tuple[ChartChange, ...]:
    """Return the changes of one bar, with beats in quarter notes from its bar line."""

    def fail(problem: str, mend: str) -> InputError:
        return typed.error(f"bar {number}: {problem}", mend, bar.line)

    if not words or words[0] == "/":
        raise fail("no chord stands first", "Write the chord, then / for each further count.")
    symbols: list[str] = []
    counts: list[float | None] = []
    slashes = "/" in words
    for word in words:
        if word == "/":
            counts[-1] = (counts[-1] or 0.0) + 1.0
            continue
        symbol, given = _split_count(word)
        if math.isnan(given):
            raise fail(f"the count in `{word}` is no number", "Write counts as in Dm7:3 or G7:1.5")
        symbols.append(symbol)
        counts.append(given or (1.0 if slashes else None))
    size = count_beats(metre)
    bar_counts = metre.bar_beats / size
    lengths = _share(counts, bar_counts)
    if lengths is None:
        written = " ".join(words)
        mend = f"Give counts as in {symbols[0]}:2, or / for each count a chord is held."
        raise fail(f"`{written}` does not fill {bar_counts:g} counts in an obvious way", mend)
    changes, at = [], 0.0
    for symbol, length in zip(symbols, lengths, strict=True):
        passing = symbol.startswith("~")
        try:
            chord = parse_chord(symbol.removeprefix("~"))
        except SymbolError as error:
            near = f"Did you mean {error.nearest}?" if error.nearest else "Write it as in Dm7b5."
            raise fail(f"`{symbol.removeprefix('~')}` is no chord symbol", near) from None
        changes.append(ChartChange(at * size, chord, passing))
        at += length
    return tuple(changes)


def _split_count(word: str) -> tuple[str, float]:
    """Return the symbol and the counts given after its colon (0: none given, nan: no number)."""
    symbol, colon, given = word.partition(":")
    if not colon:
        return symbol, 0.0
    try:
        counts = float(given)
    except ValueError:
        return symbol, math.nan
    return symbol, counts if 0.0 < counts <= 16.0 else math.nan


def _share(counts: list[float | None], bar_counts: float) -> list[float] | None:
    """Return the counts of each chord: those not given share what is left. None: they cannot."""
    rest = bar_counts - sum(c for c in counts if c is not None)
    open_places = counts.count(None)
    if not open_places:
        return [c for c in counts if c is not None] if abs(rest) < 1e-6 else None
    share = rest / open_places
    if share < 0.5 - 1e-6 or not (share.is_integer() or share in _SHARES):
        return None
    return [share if c is None else c for c in counts]
