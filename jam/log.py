"""The session log: what a record holds, how it is written, how it is read again.

JSON Lines, ASCII only, one record a line, in order of ``at`` (session seconds of the step that
took or made it); ``t`` is the moment meant, ``beat`` and ``beats`` are quarter notes. Numbers are
kept to a millionth, here and in whatever a driver hands to the core (`rounded`), so that a log
performed again compares equal. The first line is the header, of kind ``session``.

A builder for each kind returns a plain dict. A reader takes a last line that was cut off (the
program died while writing) as missing and says so in `Log.cut`; anything else that is not a record
is one `InputError` with its line.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TextIO

from jam.errors import InputError

Record = dict[str, Any]
"""One line of the log."""

FORMAT = 1
"""Number of this format, in the header."""

_Kinds = tuple[type, ...]
_NUMBER: _Kinds = (int, float)
_TEXT: _Kinds = (str,)
_LIST: _Kinds = (list, tuple)
_INT: _Kinds = (int,)
_MAYBE_INT: _Kinds = (int, type(None))

_AT = {"at": _NUMBER}
_MOMENT = {"t": _NUMBER, "at": _NUMBER}
_PLACE = {"t": _NUMBER, "at": _NUMBER, "beat": _NUMBER}

FIELDS: Mapping[str, Mapping[str, _Kinds]] = {
    "session": {
        "format": _INT,
        "program": _TEXT,
        "machine": _TEXT,
        "seed": _INT,
        "style": _TEXT,
        "chart": (str, type(None)),
        "clock": _TEXT,
    },
    "in": {**_MOMENT, "port": _TEXT, "bytes": _LIST},
    "intent": {**_AT, "name": _TEXT},
    "effort": {**_AT, "granted": _INT},
    "io": {**_AT, "what": _TEXT},
    "beat": {
        **_PLACE,
        "bar": _INT,
        "beat_in_bar": _NUMBER,
        "bpm": _NUMBER,
        "source": _TEXT,
        "locked": (bool,),
    },
    "chord": {**_PLACE, "symbol": (str, type(None)), "source": _TEXT, "confidence": _NUMBER},
    "turn": {**_PLACE, "who": _TEXT, "beats": _NUMBER},
    "call": {**_MOMENT, "id": _INT, "end": _NUMBER, "notes": _LIST},
    "reply": {**_MOMENT, "id": _INT, "answers": _MAYBE_INT, "end": _NUMBER, "notes": _LIST},
    "span": {"reply": _INT, "beat": _NUMBER, "beats": _NUMBER, "implied": _TEXT},
    "sent": {**_MOMENT, "port": _TEXT, "part": _TEXT, "note": _INT, "bytes": _LIST},
    "cue": _AT,
    "fault": _AT,
    "jump": _AT,
}
"""What each kind of record must hold, and of which types; it may hold more."""


def rounded(value: float) -> float:
    """Return ``value`` (seconds or beats) to a millionth: the one grain of every log."""
    return round(value, 6) + 0.0


# --- builders ----------------------------------------------------------------------------


def session(
    *, program: str, machine: str, seed: int, style: str, chart: str | None, clock: str, **more: Any
) -> Record:
    """Return the header; ``more`` holds what else a replay needs to be told."""
    return {
        "kind": "session",
        "format": FORMAT,
        "program": program,
        "machine": machine,
        "seed": seed,
        "style": style,
        "chart": chart,
        "clock": clock,
        **more,
    }


def midi_in(
    t: float, at: float, port: str, data: Sequence[int], channel_split: str | None = None
) -> Record:
    """Return a MIDI message as it came in; ``channel_split`` is ``line``, ``comping`` or None."""
    return {
        "kind": "in",
        "t": t,
        "at": at,
        "port": port,
        "channel_split": channel_split,
        "bytes": list(data),
    }


def intent(at: float, name: str, value: object = None, *, t: float | None = None) -> Record:
    """Return what a person asked for; ``t`` is when, if that was before ``at``."""
    return {"kind": "intent", "t": at if t is None else t, "at": at, "name": name, "value": value}


def effort(at: float, granted: int) -> Record:
    """Return the effort (expansions) granted to each step from this one on."""
    return {"kind": "effort", "at": at, "granted": granted}


def io(at: float, what: str, detail: Mapping[str, object], *, t: float | None = None) -> Record:
    """Return what the I/O side reported: a revocation refused, a port lost."""
    moment = at if t is None else t
    return {"kind": "io", "t": moment, "at": at, "what": what, "detail": dict(detail)}


def beat(
    t: float,
    at: float,
    beat: float,
    *,
    bar: int,
    beat_in_bar: int,
    bpm: float,
    source: str,
    locked: bool,
) -> Record:
    """Return a beat announced; ``bar`` and ``beat_in_bar`` count from 1."""
    return {
        "kind": "beat",
        "t": t,
        "at": at,
        "beat": beat,
        "bar": bar,
        "beat_in_bar": beat_in_bar,
        "bpm": bpm,
        "source": source,
        "locked": locked,
    }


def chord(
    t: float, at: float, beat: float, symbol: str | None, source: str, confidence: float = 1.0
) -> Record:
    """Return a chord named for ``beat``; ``symbol`` None withdraws the one named before."""
    return {
        "kind": "chord",
        "t": t,
        "at": at,
        "beat": beat,
        "symbol": symbol,
        "source": source,
        "confidence": confidence,
    }


def turn(t: float, at: float, beat: float, who: str, beats: float) -> Record:
    """Return whose turn begins at ``beat``: ``player``, ``companion``, ``both`` or ``none``."""
    return {"kind": "turn", "t": t, "at": at, "beat": beat, "who": who, "beats": beats}


def call(id: int, t: float, end: float, at: float, notes: Sequence[Record]) -> Record:
    """Return a phrase of the player's, each note with ``t beat beats pitch velocity``."""
    return {"kind": "call", "id": id, "t": t, "end": end, "at": at, "notes": list(notes)}


def reply(
    id: int,
    answers: int | None,
    t: float,
    end: float,
    at: float,
    effort: int,
    notes: Sequence[Record],
    *,
    replans: int | None = None,
    from_beat: float | None = None,
) -> Record:
    """Return a phrase of the companion's; with ``replans`` it takes the place of a tail."""
    record: Record = {
        "kind": "reply",
        "id": id,
        "answers": answers,
        "t": t,
        "end": end,
        "at": at,
        "effort": effort,
        "notes": list(notes),
    }
    if replans is not None:
        record |= {"replans": replans, "from_beat": from_beat}
    return record


def span(at: float, reply: int, beat: float, beats: float, implied: str) -> Record:
    """Return a declared span of ``reply``, judged against the chord ``implied``.

    Of two with the same reply and beat the later one holds: shorter where a new tail has taken the
    place of its end, with 0 ``beats`` where nothing of it is left.
    """
    return {
        "kind": "span",
        "at": at,
        "reply": reply,
        "beat": beat,
        "beats": beats,
        "implied": implied,
    }


def sent(t: float, at: float, port: str, part: str, note: int, data: Sequence[int]) -> Record:
    """Return a message as it went out; ``note`` is the id of the note it starts, ends or bends."""
    return {
        "kind": "sent",
        "t": t,
        "at": at,
        "port": port,
        "part": part,
        "note": note,
        "bytes": list(data),
    }


def cue(at: float, name: str, **more: Any) -> Record:
    """Return a cue that was understood."""
    return {"kind": "cue", "at": at, "name": name, **more}


def fault(at: float, what: str, **more: Any) -> Record:
    """Return something that went wrong, in plain words."""
    return {"kind": "fault", "at": at, "what": what, **more}


def jump(at: float, **more: Any) -> Record:
    """Return a jump of the clock (song position, restart)."""
    return {"kind": "jump", "at": at, **more}


# --- writing -----------------------------------------------------------------------------


def to_line(record: Record) -> str:
    """Return the record as one line of ASCII JSON, numbers to a millionth, without line end."""
    return json.dumps(grained(record), separators=(",", ":"), ensure_ascii=True, allow_nan=False)


def grained(value: Any) -> Any:
    """Return ``value`` as it comes back from a log: floats to a millionth, tuples as lists."""
    if isinstance(value, float):
        return rounded(float(value))
    if isinstance(value, dict):
        return {key: grained(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [grained(item) for item in value]
    return value


class LogWriter:
    """Writes records to a text stream that it is handed and does not close."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def write(self, records: Iterable[Record]) -> None:
        """Write the records, a line each, in the order given."""
        for record in records:
            self._stream.write(to_line(record) + "\n")


# --- reading -----------------------------------------------------------------------------


@dataclass(frozen=True)
class Log:
    """A log as read. ``cut`` says that the last line was unfinished and has been left out."""

    header: Record
    records: tuple[Record, ...]
    cut: bool = False

    def of(self, *kinds: str) -> list[Record]:
        """Return the records of these kinds, in order."""
        return [record for record in self.records if record["kind"] in kinds]


def read_log(lines: Iterable[str], source: str) -> Log:
    """Read a log. ``source`` names the file in errors.

    Raises InputError for a line that is no record, an unknown kind, a missing field, or a header
    that is missing or of another format.
    """
    records: list[Record] = []
    cut = False
    rows = list(lines)
    for number, text in enumerate(rows, start=1):
        if not text.strip():
            continue
        try:
            record = json.loads(text)
        except ValueError as problem:
            if number == len(rows) and not text.endswith("\n") and records:
                cut = True
                break
            raise InputError(
                source,
                f"this line is no JSON ({problem})",
                "Every line of a session log is one JSON record.",
                line=number,
            ) from None
        records.append(_checked(record, source, number))
    return Log(_header(records, source), tuple(records[1:]), cut)


def _header(records: Sequence[Record], source: str) -> Record:
    if not records:
        raise InputError(source, "the log is empty", "A log begins with a session record.")
    header = records[0]
    if header["kind"] != "session":
        raise InputError(
            source,
            f"the log begins with a record of kind {header['kind']!r}",
            "A log begins with a session record.",
            line=1,
        )
    if header["format"] != FORMAT:
        raise InputError(
            source,
            f"the log is of format {header['format']}",
            f"This version reads format {FORMAT}.",
            line=1,
            field="format",
        )
    return header


def _checked(record: Any, source: str, line: int) -> Record:
    kind = record.get("kind") if isinstance(record, dict) else None
    fields = FIELDS.get(kind) if isinstance(kind, str) else None
    if fields is None:
        raise InputError(
            source,
            f"no such kind of record: {kind!r}",
            f"Kinds are {', '.join(FIELDS)}.",
            line=line,
            field="kind",
        )
    for name, types in fields.items():
        value = record.get(name, ...)
        if not isinstance(value, types) or (isinstance(value, bool) and bool not in types):
            found = "is missing" if value is ... else f"is {value!r}"
            wanted = " or ".join("null" if t is type(None) else t.__name__ for t in types)
            raise InputError(
                source,
                f"the field {found} in a record of kind {kind!r}",
                f"It must be of type {wanted}.",
                line=line,
                field=name,
            )
    data = record.get("bytes", ())
    if not all(type(byte) is int and 0 <= byte <= 255 for byte in data):
        raise InputError(
            source,
            f"the message is {data!r}",
            "The bytes of a message are whole numbers from 0 to 255.",
            line=line,
            field="bytes",
        )
    return dict(record)
