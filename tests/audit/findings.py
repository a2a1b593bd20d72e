"""What an audit finds: a rule broken at a place."""

from __future__ import annotations

from dataclasses import dataclass

from .reading import Note, Reply

REVOCABLE_SEC = 0.005
"""How long before it sounds a note can still be taken back, with something to spare."""
NAMES = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")


@dataclass(frozen=True)
class Finding:
    """A rule broken at a place. ``note`` and ``chord`` are names, ``beat`` is on the grid.

    ``tags`` say what speaks for the reply: ``late`` (the chord was named too late for the note),
    ``cut`` (a replan without notes ended the reply there).
    """

    rule: str
    reply: object
    beat: float | None
    note: str
    chord: str
    text: str
    tags: frozenset[str] = frozenset()


def name(pitch: int) -> str:
    """Return the name of a MIDI pitch, middle C being C4."""
    return f"{NAMES[pitch % 12]}{pitch // 12 - 1}"


def too_late(known: float, note: Note) -> bool:
    """Tell whether something known from ``known`` (seconds) on came too late for the note."""
    return known > note.t - REVOCABLE_SEC


def found(rule: str, reply: Reply, note: Note | None, chord: str, text: str, *tags: str) -> Finding:
    """Return a finding at ``note``; one at the last note of a reply cut short is tagged so."""
    beat = None if note is None else note.beat
    label = "" if note is None else name(note.pitch)
    if reply.cut is not None and note is not None and note is reply.notes[-1]:
        tags = (*tags, "cut")
    return Finding(rule, reply.id, beat, label, chord, text, frozenset(tags))
