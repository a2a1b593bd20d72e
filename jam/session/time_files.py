"""Beats and changes in time, as text: the files of ``--beats`` and ``--changes``.

A line a beat, ``seconds beat_in_bar``; a line a change, ``seconds symbol``, the symbol as
musicians write it or as a Harte label (Harte et al. 2005, ISMIR). Seconds count from
the start of the music and rise from line to line. Empty lines and lines that begin with ``#`` are
passed over. What is written here is read back equal: seconds are kept to a millionth.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import isfinite

from jam.core.setup import GivenBeat, TimedChange
from jam.errors import InputError
from jam.harmony.symbols import SymbolError
from jam.log import rounded
from jam.session.chord_labels import chord_of

FASTEST_SEC = 0.1
"""Beats closer than this (600 a minute) are taken for a mistake."""

_LAST_SEC = 86_400.0
_MOST_IN_BAR = 24


def read_beats(text: str, source: str) -> tuple[GivenBeat, ...]:
    """Return the beats in ``text``, two or more; ``source`` names the file in errors."""
    beats: list[GivenBeat] = []
    for line, sec, rest in _rows(text, source, "beat_in_bar"):
        if not (rest.isascii() and rest.isdigit() and 1 <= int(rest) <= _MOST_IN_BAR):
            raise InputError(
                source,
                f"{rest!r} is no place in a bar",
                f"Write a whole number from 1 to {_MOST_IN_BAR} after the seconds.",
                line,
                "beat_in_bar",
            )
        if beats and sec - beats[-1].sec < FASTEST_SEC:
            gap = sec - beats[-1].sec
            raise _order(source, line, sec, gap, f"Beats lie {FASTEST_SEC:g} s apart at least.")
        beats.append(GivenBeat(sec, int(rest)))
    if len(beats) < 2:
        raise InputError(
            source, f"it holds {len(beats)} beats", "Two at least are needed, a line a beat."
        )
    return tuple(beats)


def read_changes(text: str, source: str) -> tuple[TimedChange, ...]:
    """Return the changes in ``text``, one or more; ``source`` names the file in errors."""
    changes: list[TimedChange] = []
    for line, sec, rest in _rows(text, source, "symbol"):
        if changes and sec <= changes[-1].sec:
            gap = sec - changes[-1].sec
            raise _order(source, line, sec, gap, "Each change comes after the one before.")
        try:
            chord = chord_of(rest)
        except SymbolError as error:
            near = f"Did you mean {error.nearest}?" if error.nearest else "Write it as in Dm7b5."
            raise InputError(source, f"{rest!r} is no chord symbol", near, line, "symbol") from None
        changes.append(TimedChange(sec, chord))
    if not changes:
        raise InputError(source, "it holds no changes", "Write a line a change, as in `12.5 Dm7`.")
    return tuple(changes)


def beats_text(beats: Iterable[GivenBeat]) -> str:
    """Return beats as the text of a file."""
    return "".join(f"{rounded(beat.sec)!r} {beat.beat_in_bar}\n" for beat in beats)


def changes_text(changes: Iterable[TimedChange]) -> str:
    """Return changes as the text of a file."""
    return "".join(f"{rounded(change.sec)!r} {change.chord.symbol}\n" for change in changes)


def _rows(text: str, source: str, second: str) -> Iterator[tuple[int, float, str]]:
    for line, row in enumerate(text.splitlines(), start=1):
        words = row.split(maxsplit=1)
        if not words or words[0].startswith("#"):
            continue
        if len(words) != 2:
            raise InputError(
                source,
                f"{row.strip()[:60]!r} is not two words",
                f"A line is `seconds {second}`.",
                line,
            )
        yield line, _seconds(words[0], source, line), words[1].strip()


def _seconds(word: str, source: str, line: int) -> float:
    try:
        sec = float(word)
    except ValueError:
        sec = float("nan")
    if not (isfinite(sec) and 0.0 <= sec <= _LAST_SEC):
        raise InputError(
            source,
            f"{word!r} is no time",
            "Write seconds from the start of the music, from 0 up to a day, as in 12.5.",
            line,
            "seconds",
        )
    return rounded(sec)


def _order(source: str, line: int, sec: float, gap_sec: float, mend: str) -> InputError:
    what = "goes back" if gap_sec < 0 else "is too near the line before"
    return InputError(source, f"{sec:g} {what}", mend, line, "seconds")
