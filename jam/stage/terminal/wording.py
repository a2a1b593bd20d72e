"""Words that the screen and the plain lines share."""

from __future__ import annotations

from math import ceil, floor

from jam.core.snapshot import Snapshot
from jam.stage.terminal.standing import Standing

SOURCES = {
    "internal": "own clock",
    "midi": "MIDI clock",
    "taps": "taps",
    "given": "given beats",
    "file": "file",
    "coast": "coasting",
    "none": "no clock yet",
}
"""Where the beat comes from."""

TURNS = {
    "player": "your turn",
    "companion": "companion's turn",
    "both": "both play",
    "none": "nobody's turn",
}
"""Whose turn it is."""


def plural(count: int, word: str) -> str:
    """Return ``1 bar`` or ``2 bars``."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def chorus_words(shown: Snapshot) -> str:
    """Return ``head``, ``chorus 2 of 3``, ``head out``."""
    if shown.phase != "chorus":
        return shown.phase
    return f"chorus {shown.chorus}" + (f" of {shown.choruses}" if shown.choruses else "")


def turn_words(shown: Snapshot) -> str:
    """Return whose turn it is, in the heads who has the melody."""
    if shown.phase == "chorus" or shown.who not in ("player", "companion"):
        return "the tune's melody" if shown.phase != "chorus" else TURNS[shown.who]
    return "your melody" if shown.who == "player" else "companion's melody"


def clock_words(shown: Snapshot, standing: Standing) -> str:
    """Return tempo and where it comes from, and whether that is to be trusted."""
    tempo = f"{shown.bpm or standing.tempo_bpm:.0f} bpm"
    words = [tempo, SOURCES.get(shown.source, shown.source)]
    if shown.source in ("midi", "taps"):
        words.append("locked" if shown.locked else "not locked yet")
    if shown.holding:
        words.append("tempo held")
    return ", ".join(words)


def count_in_bar(shown: Snapshot, standing: Standing) -> tuple[int, int]:
    """Return the count in the bar, from 1, and the counts of a bar, as the metre counts."""
    metre = standing.metre
    count = floor((shown.beat_in_bar - 1.0) * metre.denominator / 4 + 1e-6) + 1
    return min(max(1, count), max(1, metre.numerator)), metre.numerator


def beats_left(beats: float | None) -> int | None:
    """Return whole beats to go, rounded up; None where there is no end."""
    return None if beats is None else max(0, ceil(beats - 1e-6))


def state_words(shown: Snapshot) -> str:
    """Return what is out of the ordinary: waiting, count-in, stopped, an ending asked for."""
    if shown.waiting:
        return "waiting for the start"
    if shown.count_in:
        return "count-in"
    if not shown.running:
        return "stopped"
    return {
        "last time": "last time through",
        "tag": "tag to come",
        "fermata": "fermata at the end: cut it off",
    }.get(shown.ending, "companion lays out" if shown.laid_out else "")
