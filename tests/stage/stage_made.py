"""Made states of a session for tests of what is shown."""

from __future__ import annotations

from dataclasses import fields
from types import SimpleNamespace
from typing import Any, cast

from jam.core.snapshot import Snapshot
from jam.harmony.symbols import parse_chord

_PLAYING: dict[str, Any] = {
    "now": 20.0,
    "beat": 30.5,
    "bar": 8,
    "beat_in_bar": 3.5,
    "bpm": 132.0,
    "source": "internal",
    "locked": True,
    "section": "A",
    "phase": "chorus",
    "chorus": 1,
    "choruses": 2,
    "chord": "D7b9",
    "next_chord": "Gm7",
    "next_chord_beat": 32.0,
    "strong": parse_chord("D7b9").strong,
    "who": "companion",
    "turn_ends_beat": 32.0,
    "next_who": "player",
    "beats_to_turn": 1.5,
    "reply": 2,
    "style": "bop",
    "running": True,
    "waiting": False,
    "count_in": False,
    "laid_out": False,
    "ending": "",
    "holding": False,
    "form_bar": 8,
    "form_bars": 12,
}


def snapshot(**changes: Any) -> Snapshot:
    """Return a state in bar 8 of a blues in F, the companion playing, with ``changes``."""
    values = _PLAYING | changes
    assert values.keys() == _PLAYING.keys()
    if {field.name for field in fields(Snapshot)} >= values.keys():
        return Snapshot(**values)
    return cast(Snapshot, SimpleNamespace(**values))


def before_the_start(**changes: Any) -> Snapshot:
    """Return the state of a session that has not been started yet."""
    waiting: dict[str, Any] = {
        "now": 0.0, "beat": None, "bar": 1, "beat_in_bar": 1.0, "bpm": 0.0, "source": "none",
        "locked": False, "chorus": 1, "chord": "F7", "next_chord": "Bb7", "next_chord_beat": 4.0,
        "strong": parse_chord("F7").strong, "who": "player", "turn_ends_beat": 16.0,
        "next_who": "companion", "beats_to_turn": 16.0, "reply": None, "running": False,
        "waiting": True, "form_bar": 1,
    }  # fmt: skip
    return snapshot(**(waiting | changes))
