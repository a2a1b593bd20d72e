"""Lengths of time in a recipe's words: paces, beats and how often.

Lengths are in ticks of a twelfth of a beat, which hold eighths, triplets and sixteenths exactly. A
number is plain digits with at most one point, or one fraction: ``1.5``, ``1/3``.
"""

from __future__ import annotations

import re
from fractions import Fraction

TICKS = 12
"""Ticks in a beat."""

PACES = {"halves": 24, "quarters": 12, "eighths": 6, "triplets": 4, "sixteenths": 3}
"""Paces by name, in ticks a note; ``triplets`` are eighth-note triplets."""

_NUMBERS = {"a": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "eight": 8}
_PARTS = {"half": 2, "third": 3, "thirds": 3, "quarter": 4, "quarters": 4}
_PLAIN_NUMBER = re.compile(r"[0-9]{1,3}(?:\.[0-9]{1,6})?|[0-9]{1,3}/[0-9]{1,3}")
_MOST_TIMES = 16
_MOST_BEATS = 16


class WordingError(ValueError):
    """Words of a recipe that cannot be read; its text names the mend."""


def read_beats(text: str) -> int:
    """Return in ticks a length in words: ``half a beat``, ``a third of a beat``, ``1.5 beats``."""
    words = text.strip()
    if words == "half a beat":
        return TICKS // 2
    beats: Fraction | None = None
    if match := re.fullmatch(r"(a|one|two|three) (third|thirds|quarter|quarters) of a beat", words):
        beats = Fraction(_NUMBERS[match[1]], _PARTS[match[2]])
    elif match := re.fullmatch(r"(\w+) and a half beats?", words):
        beats = _number(match[1], words) + Fraction(1, 2)
    elif match := re.fullmatch(r"(\S+) beats?", words):
        beats = _number(match[1], words)
    if beats is None or not 0 < beats <= _MOST_BEATS or (beats * TICKS).denominator != 1:
        raise _no_length(words)
    return int(beats * TICKS)


def _no_length(words: str) -> WordingError:
    short = words if len(words) <= 40 else f"{words[:37]}..."
    return WordingError(
        f"{short!r} is no length: write half a beat, a third of a beat, 1 beat, 1.5 beats"
        f" (at most {_MOST_BEATS})"
    )


def _number(word: str, words: str) -> Fraction:
    if word in _NUMBERS:
        return Fraction(_NUMBERS[word])
    if not _PLAIN_NUMBER.fullmatch(word):
        raise _no_length(words)
    try:
        return Fraction(word)
    except ZeroDivisionError:
        raise _no_length(words) from None


def read_times(words: str) -> int:
    """Return how often ``words`` say: ``twice``, ``3 times``."""
    word = words.removesuffix(" times")
    plain = int(word) if re.fullmatch(r"[0-9]{1,3}", word) else 0
    times = 2 if word == "twice" else _NUMBERS.get(word, plain)
    if not 2 <= times <= _MOST_TIMES:
        raise WordingError(
            f"{words!r} will not do: write twice, 3 times, up to {_MOST_TIMES} times"
        )
    return times
