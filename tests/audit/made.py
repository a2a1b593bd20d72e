"""Hand-made logs for the audit's own tests: a clean one, and the means to break it in one place.

Tempo 120, 4/4, fours. The player has beats 0 to 16, the companion 16 to 32. Over the companion's
turn: Dm7 16, G7 20, Cmaj7 24, A7(b9) 28, then Dm7 on 32.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

Row = dict[str, Any]
SEC = 0.5
CHORDS = ((0, "Cmaj7"), (8, "F7"), (16, "Dm7"), (20, "G7"), (24, "Cmaj7"), (28, "A7(b9)"))
# beat, beats, pitch, chord, degree, role: all strong but Bb on beat 17.5, an approach to A.
LINE = (
    (15.5, 0.5, 64, "Dm7", "9", "anticipation"),
    (16.0, 1.0, 65, "Dm7", "b3", "chord tone"),
    (17.0, 0.5, 72, "Dm7", "b7", "chord tone"),
    (17.5, 0.5, 70, "Dm7", "b13", "approach"),
    (18.0, 1.5, 69, "Dm7", "5", "chord tone"),
    (20.0, 1.0, 71, "G7", "3", "chord tone"),
    (21.0, 0.5, 69, "G7", "9", "tension"),
    (21.5, 2.0, 68, "G7", "b9", "tension"),
    (23.5, 1.5, 67, "Cmaj7", "5", "anticipation"),
    (26.0, 0.5, 71, "Cmaj7", "7", "chord tone"),
    (28.5, 1.0, 73, "A7(b9)", "3", "chord tone"),
    (29.5, 0.5, 70, "A7(b9)", "b9", "tension"),
    (30.0, 1.0, 69, "A7(b9)", "1", "chord tone"),
)
CALL = ((9.0, 0.5, 62), (9.5, 0.5, 64), (10.0, 1.0, 65), (11.0, 0.5, 72), (11.5, 0.5, 70))


def reply_note(id: int, row: tuple[Any, ...]) -> Row:
    """Return a note of a reply as the log writes it."""
    beat, beats, pitch, chord, degree, role = row
    return {
        "id": id,
        "t": beat * SEC,
        "beat": beat,
        "beats": beats,
        "pitch": pitch,
        "velocity": 80,
        "chord": chord,
        "degree": degree,
        "role": role,
        "move": "sequence",
        "why": "",
    }


def reply(notes: Sequence[tuple[Any, ...]] = LINE, id: int = 2, first: int = 100) -> Row:
    """Return the record of a reply with these notes, handed over on beat 15."""
    rows = [reply_note(first + i, row) for i, row in enumerate(notes)]
    return {
        "kind": "reply",
        "id": id,
        "answers": 1,
        "t": rows[0]["t"],
        "end": (rows[-1]["beat"] + rows[-1]["beats"]) * SEC,
        "at": 7.5,
        "effort": 1000,
        "notes": rows,
    }


def sent(rows: Sequence[Row], cuts: dict[int, float] | None = None) -> list[Row]:
    """Return the messages of the notes; ``cuts`` are seconds at which notes end early."""
    messages = []
    for row in rows:
        off = (cuts or {}).get(row["id"], (row["beat"] + row["beats"]) * SEC - 0.01)
        for t, data in (
            (row["t"], [144, row["pitch"], row["velocity"]]),
            (off, [128, row["pitch"], 0]),
        ):
            messages.append(
                {
                    "kind": "sent",
                    "t": t,
                    "at": t,
                    "port": "file",
                    "part": "companion",
                    "note": row["id"],
                    "bytes": data,
                }
            )
    return messages


def chord(beat: float, symbol: str | None, at: float = 0.0) -> Row:
    """Return a chord named for a beat."""
    return {
        "kind": "chord",
        "t": beat * SEC,
        "at": at,
        "beat": beat,
        "symbol": symbol,
        "source": "chart",
        "confidence": 1.0,
    }


def turn(beat: float, who: str, beats: float = 16.0) -> Row:
    """Return whose turn begins at a beat."""
    return {"kind": "turn", "t": beat * SEC, "at": 0.0, "beat": beat, "who": who, "beats": beats}


def key(t: float, pitch: int, *, down: bool) -> Row:
    """Return a key of the player's going down or up."""
    data = [144 if down else 128, pitch, 90 if down else 0]
    return {"kind": "in", "t": t, "at": t, "port": "player", "channel_split": "line", "bytes": data}


def beat(number: int) -> Row:
    """Return a beat, announced a tenth of a second ahead."""
    return {
        "kind": "beat",
        "t": number * SEC,
        "at": max(0.0, number * SEC - 0.1),
        "beat": number,
        "bar": number // 4 + 1,
        "beat_in_bar": number % 4 + 1,
        "bpm": 120.0,
        "source": "internal",
        "locked": True,
    }


def call() -> Row:
    """Return the call that the reply answers."""
    notes = [{"t": b * SEC, "beat": b, "beats": d, "pitch": p, "velocity": 90} for b, d, p in CALL]
    return {"kind": "call", "id": 1, "t": 4.5, "end": 6.0, "at": 6.2, "notes": notes}


def log(
    notes: Sequence[tuple[Any, ...]] = LINE,
    *,
    more: Sequence[Row] = (),
    chords: Sequence[tuple[float, str]] = CHORDS,
    messages: Sequence[Row] | None = None,
) -> list[Row]:
    """Return a whole log in order; ``messages`` take the place of what the reply would send."""
    made = reply(notes)
    rows = [
        *(beat(number) for number in range(48)),
        *(chord(b, symbol) for b, symbol in chords),
        chord(32, "Dm7"),
        turn(0, "player"),
        turn(16, "companion"),
        turn(32, "player"),
        *(key(b * SEC, p, down=True) for b, _, p in CALL),
        *(key((b + d) * SEC - 0.01, p, down=False) for b, d, p in CALL),
        call(),
        made,
        *(sent(made["notes"]) if messages is None else messages),
        *more,
    ]
    header = {
        "kind": "session",
        "format": 1,
        "program": "0",
        "machine": "",
        "seed": 1,
        "style": "made",
        "chart": None,
        "clock": "internal",
    }
    return [header, *sorted(rows, key=lambda row: float(row["at"]))]
