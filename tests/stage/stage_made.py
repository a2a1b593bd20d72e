"""Made states of a session for tests of what is shown."""

from __future__ import annotations

from dataclasses import fields
from types import SimpleNamespace
from typing import Any, cast

from jam import log
from jam.core.snapshot import Snapshot
from jam.harmony.keys import parse_key
from jam.harmony.symbols import parse_chord
from jam.log import Record
from jam.stage.terminal.standing import Standing

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


STANDING = Standing(
    "Lamplight Blues", parse_key("F major"), tempo_bpm=132.0, turns="trading 4 bars each"
)


def a_whole_turn() -> list[Record]:
    """Return what the log says of a call in bars 1 and 2 and a reply in bars 3 and 4, at 120 bpm,
    over F7 and Bb7, up to the player's next turn: in order, as the core writes it."""
    beats = [
        log.beat(
            beat / 2, max(0.0, (beat - 1) / 2), float(beat), bar=beat // 4 + 1,
            beat_in_bar=beat % 4 + 1, bpm=120.0, source="internal", locked=True,
        )
        for beat in range(18)
    ]  # fmt: skip
    chords = [
        log.chord(0.0, 0.0, 0.0, "F7", "chart"),
        log.chord(4.0, 2.0, 8.0, "Bb7", "chart"),
        log.chord(8.0, 6.0, 16.0, "F7", "chart"),
    ]
    turns = [
        log.turn(0.0, 0.0, 0.0, "player", 8.0),
        log.turn(4.0, 4.0, 8.0, "companion", 8.0),
        log.turn(8.0, 8.0, 16.0, "player", 8.0),
    ]
    # The last note lies a hair before the bar line, as people play: it belongs to Bb7 there.
    played = [(0.0, 65), (0.5, 69), (7.95, 70)]
    call = log.call(1, 0.0, 4.1, 3.9, [_heard(*note) for note in played])
    first = [
        _meant(8.5, 72, "9", "tension", "restate"),
        _meant(9.0, 69, "7", "approach", "restate"),
        _meant(9.5, 70, "1", "chord tone", "restate"),
        _meant(12.0, 74, "3", "chord tone", "sequence"),
        _meant(14.0, 77, "5", "chord tone", "close"),
    ]
    reply = log.reply(2, 1, 4.25, 8.0, 3.95, 3000, first)
    tail = [_meant(12.0, 68, "b7", "chord tone", "sequence")]
    anew = log.reply(2, 1, 6.0, 6.5, 5.0, 3000, tail, replans=2, from_beat=12.0)
    records = [*beats, *chords, *turns, call, reply, anew]
    return sorted(records, key=lambda record: float(record["at"]))


def _heard(beat: float, pitch: int) -> Record:
    return {"t": beat / 2, "beat": beat, "beats": 0.4, "pitch": pitch, "velocity": 80}


def _meant(beat: float, pitch: int, degree: str, role: str, move: str) -> Record:
    return {
        "id": int(beat * 2), "t": beat / 2, "beat": beat, "beats": 0.5, "pitch": pitch,
        "velocity": 80, "chord": "Bb7", "degree": degree, "role": role, "move": move, "why": "made",
    }  # fmt: skip
