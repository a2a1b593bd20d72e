"""Calls and replies as text, for a critic's eye: ``python -m tests.bench.soloist_read``.

Bar by bar, a column for each sixteenth (triplets and odd places stand where they come nearest; a
dot is an eighth of silence or a note held on), the chords above. Below it, with ``--notes``, every
note of the reply: beat in the turn, pitch, degree, role, move and why.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence

from tests.bench.soloist_calls import Exchange, arguments, exchanges, parsed
from tests.bench.soloist_lines import TICKS, Line
from tests.bench.words import say

NAMES = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
COLUMNS = 8
"""Columns to a bar of four beats; more where a bar needs them."""


def name(pitch: int) -> str:
    """Return a pitch as text: ``Eb4``; middle C is C4."""
    return f"{NAMES[pitch % 12]}{pitch // 12 - 1}"


def bars_of(line: Line, start: float, bars: int) -> list[str]:
    """Return a line bar by bar: chords, then each beat's notes; a triplet is ``3(...)``."""
    found = []
    for number in range(bars):
        begin = round(start * TICKS) + number * line.bar
        beats = []
        for beat in range(line.bar // TICKS):
            first = begin + beat * TICKS
            inside = [(t - first, p) for t, p in zip(line.ticks, line.pitches, strict=True)
                      if first <= t < first + TICKS]  # fmt: skip
            beats.append(_beat(inside))
        found.append(f"{_chords(line, begin):<18}| " + " ".join(f"{text:<18}" for text in beats))
    return found


def _chords(line: Line, begin: int) -> str:
    symbols = [line.harmony.at((begin + k * TICKS) / TICKS) for k in range(line.bar // TICKS)]
    kept = [s for i, s in enumerate(symbols) if not i or s != symbols[i - 1]]
    return " ".join(kept)


def _beat(inside: Sequence[tuple[int, int]]) -> str:
    places = [place for place, _ in inside]
    names = " ".join(name(pitch) for _, pitch in inside)
    if not inside:
        return "-"
    if places == [0]:
        return names
    if places == [6]:
        return f". {names}"
    if places == [0, 6]:
        return names
    if set(places) <= {0, 4, 8}:
        return f"3({' '.join(_at(inside, p) for p in (0, 4, 8))})"
    if set(places) <= {0, 3, 6, 9}:
        return f"4({' '.join(_at(inside, p) for p in (0, 3, 6, 9))})"
    return f"{'/'.join(map(str, places))}({names})"


def _at(inside: Sequence[tuple[int, int]], place: int) -> str:
    return next((name(pitch) for p, pitch in inside if p == place), "-")


def say_exchange(one: Exchange, number: int, *, notes: bool) -> None:
    """Print one call with its reply."""
    bar = one.reply.bar / TICKS
    bars = round((one.end - one.start) / bar)
    say(f"\n=== {number}: {one.tune}, {one.bpm:.0f} bpm, {one.style}, seed {one.seed},"
        f" turn {one.turn} ===")  # fmt: skip
    say("call")
    for row in bars_of(one.call, one.start - bars * bar, bars):
        say(f"  {row.rstrip()}")
    say(f"reply: {one.idea}")
    for row in bars_of(one.reply, one.start, bars + 1):
        if not row.rstrip().endswith("-") or not set(row.split("|")[1]) <= {" ", "-"}:
            say(f"  {row.rstrip()}")
    early = [t for t in one.reply.ticks if t < one.start * TICKS]
    if early:
        pickup = " ".join(name(p) for p in one.reply.pitches[: len(early)])
        say(f"  pickup: {pickup}")
    if notes:
        for note in one.said:
            sounds = (note.sounds_beat - note.beat) * 60_000 / one.bpm
            bend = getattr(note, "bend", None) or ""
            say(f"  {note.beat - one.start:7.2f} {note.beats:5.2f} {name(note.pitch):<4}"
                f" v{note.velocity:<3} {sounds:+5.0f} ms {note.chord:<10}{note.degree:<4}"
                f" {note.role:<12}{note.move:<14}{bend:<6}{note.why}")  # fmt: skip


def main(given: Sequence[str] | None = None) -> int:
    """Print pairs."""
    parser = arguments("soloist_read", __doc__ or "", replies=12)
    parser.add_argument("--notes", action="store_true", help="every note of the reply too")
    options = parsed(parser, given, 6)
    count = options.replies
    options.replies = 12 * count
    found = exchanges(options)
    step = max(1, len(found) // count)
    for number, one in enumerate(found[::step][:count], 1):
        say_exchange(one, number, notes=options.notes)
    return 0


if __name__ == "__main__":
    sys.exit(main())
