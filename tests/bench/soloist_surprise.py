"""Sessions for the audit, without the renderer: every key and tempo, chords that surprise.

A ground is moved to any key and tempo. Where chords surprise, the soloist plans over changes of
which one in five is wrong; when the true chord sounds, it is told, and what has not begun is
planned anew as the core does it. What was played is written down as the log would, and read by
the audit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import Any

import numpy as np

from jam.core.anew import kept_of
from jam.core.moment import Moment
from jam.core.pieces import from_now
from jam.events import PlannedNote
from jam.harmony.changes import Change, Changes
from jam.harmony.functions import function_of
from jam.harmony.keys import parse_key
from jam.harmony.symbols import parse_chord
from jam.listening.phrase import PhraseDescription
from jam.players.soloist.request import Memory, Request
from jam.players.soloist.soloist import answer, answer_anew, pattern
from jam.transport.timeline import Timeline
from tests.audit.reading import Session, session
from tests.audit.roles import Terms
from tests.bench.soloist_ground import Ground, heard_call, request_for, style_of

NAMES = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
WRONG = ("7", "m7", "maj7", "m7b5", "7b9", "dim7", "m6", "7sus4")
ANNOUNCED_SEC = 8.0


@dataclass(frozen=True)
class Surprise:
    """A chord that came unannounced on ``beat`` while reply ``reply`` went on."""

    reply: int
    beat: float
    symbol: str


@dataclass(frozen=True)
class Played:
    """A session as the audit reads it, with its terms and what surprised the soloist."""

    session: Session
    terms: Terms
    surprises: tuple[Surprise, ...]
    name: str


def in_key(ground: Ground, shift: int, bpm: float) -> Ground:
    """Return a ground ``shift`` semitones up at another tempo, the calls moved along."""
    changes = Changes([replace(c, chord=_moved(c.chord.symbol, shift)) for c in ground.changes])
    key = ground.key
    if key is not None and shift:
        key = parse_key(f"{NAMES[(key.tonic + shift) % 12]} {'minor' if key.minor else 'major'}")
    slower = ground.bpm / bpm
    calls = tuple(
        tuple(
            replace(n, t=n.t * slower, end=n.end * slower, pitch=n.pitch + (shift + 5) % 12 - 5)
            for n in notes
        )
        for notes in ground.calls
    )
    return replace(ground, changes=changes, key=key, bpm=bpm, calls=calls)


def _moved(symbol: str, shift: int) -> Any:
    chord = parse_chord(symbol)
    if chord.is_none or not shift:
        return chord
    body = symbol[len(chord.root_name) :]
    tail = ""
    if chord.bass_name:
        body = body[: -len(chord.bass_name) - 1]
        tail = "/" + NAMES[(chord.bass + shift) % 12]
    return parse_chord(NAMES[(chord.root + shift) % 12] + body + tail)


def mistaken(ground: Ground, share: float, rng: np.random.Generator) -> Changes:
    """Return the changes with ``share`` of the chords wrong."""
    made: list[Change] = []
    for change in ground.changes:
        chord = change.chord
        if made and rng.random() < share:
            root, suffix = NAMES[int(rng.integers(12))], WRONG[int(rng.integers(len(WRONG)))]
            chord = parse_chord(root + suffix)
        made.append(replace(change, chord=chord))
    following = [*(c.chord for c in made[1:]), None]
    return Changes(
        [
            replace(c, function=function_of(c.chord, n, ground.key, ground.blues))
            for c, n in zip(made, following, strict=True)
        ]
    )


# --- playing -----------------------------------------------------------------------------


def played(ground: Ground, style: str, seed: int, *, wrong: float, turns: int = 8) -> Played:
    """Play a session of every second turn over ``ground``, ``wrong`` of the chords mistaken."""
    rng = np.random.default_rng((seed, 31))
    believed = mistaken(ground, wrong, rng) if wrong else ground.changes
    records = _Records(ground)
    surprises: list[Surprise] = []
    heard: list[PhraseDescription] = []
    said: list[tuple[PlannedNote, ...]] = []
    first = 1 + 2 * int(rng.integers(max(1, (len(ground.turns) - 2 * turns) // 2 + 1)))
    for turn in range(first, min(len(ground.turns), first + 2 * turns), 2):
        notes = ground.calls[turn - 1]
        call = heard_call(notes, ground)
        if call is None:
            continue
        begin = ground.turns[turn][0]
        known = _known(believed, ground.changes, begin - 1.0)
        request = replace(request_for(ground, turn, style, seed, call), changes=known)
        request = replace(
            request,
            recent=tuple(pattern([n.pitch for n in line]) for line in said[-4:]),
            memory=Memory(tuple(heard[-12:]), tuple(said[-12:])),
        )
        number = 100 + turn
        line, spans, came = _through(request, believed, ground, number)
        surprises += came
        heard.append(call)
        said.append(line)
        records.exchange(turn, number, line, spans)
    for change in ground.changes:
        on = believed.at(change.beat).chord == change.chord
        records.chord(change, known_ahead=on)
    own = style_of(style)
    terms = Terms(
        pulse_beats=ground.pulse_beats,
        low=own.instrument.low,
        high=own.instrument.high,
        breath_sec=own.instrument.breath_sec,
        blues=ground.blues,
        tonic=None if ground.key is None else ground.key.tonic,
    )
    name = f"{ground.name}-{style}-{ground.bpm:.0f}bpm-{seed}"
    return Played(session(records.sorted()), terms, tuple(surprises), name)


def _known(believed: Changes, true: Changes, beat: float) -> Changes:
    """Return the changes as they are known at ``beat``: true until there, believed from there."""
    return Changes([t if t.beat <= beat + 1e-6 else b for t, b in zip(true, believed, strict=True)])


def _through(
    request: Request, believed: Changes, ground: Ground, number: int
) -> tuple[tuple[PlannedNote, ...], tuple[Any, ...], list[Surprise]]:
    """Return what is played in the end, planned anew at every chord that surprises."""
    reply = answer(request)
    notes, spans = reply.notes, tuple(getattr(reply, "spans", ()))
    came: list[Surprise] = []
    time = Timeline(ground.bpm)
    for wrong, true in zip(believed, ground.changes, strict=True):
        inside = (
            notes and request.window.earliest - 1 < true.beat < notes[-1].beat + notes[-1].beats
        )
        if wrong.chord == true.chord or not inside:
            continue
        beat = true.beat
        request = replace(request, changes=_known(believed, ground.changes, beat))
        moment = Moment(time.sec(beat), beat, time, request.effort)
        begun = [n for n in notes if n.sounds_beat <= beat + 0.002 * ground.bpm / 60]
        rest = notes[len(begun) :]
        if not begun:
            request = replace(request, window=from_now(request.window, moment))
            reply = answer(request)
            notes, spans = reply.notes, tuple(getattr(reply, "spans", ()))
            continue
        came.append(Surprise(number, beat, true.chord.symbol))
        if not rest and _fits(begun[-1], true, beat):
            continue
        prefix, over = kept_of(
            list(enumerate(begun)), list(enumerate(rest)), request.changes, moment
        )
        reply = answer_anew(request, reply, prefix)
        starts = [n.beat for n in reply.notes] + [n.beat for n in rest]
        limit = min([over, *starts])
        kept = tuple(replace(n, beats=min(n.beats, limit - n.beat)) for n in begun)
        notes = (*kept, *reply.notes)
        spans = (*(s for s in spans if s.beat + s.beats <= beat), *getattr(reply, "spans", ()))
    return notes, spans, came


def _fits(note: PlannedNote, change: Change, beat: float) -> bool:
    return note.beat + note.beats <= beat + 1e-6 or change.chord.is_strong(note.pitch)


# --- written down ------------------------------------------------------------------------


class _Records:
    """The records of one session, as the log has them."""

    def __init__(self, ground: Ground) -> None:
        self._ground = ground
        self._time = Timeline(ground.bpm)
        self._rows: list[dict[str, Any]] = []
        self._ids = iter(range(1000, 100_000))
        last = ground.turns[-1][1] + 8
        for beat in range(-4, int(last)):
            self._beat(float(beat))

    def sorted(self) -> list[dict[str, Any]]:
        """Return header and records in order."""
        header = {"kind": "session", "style": "", "seed": 0, "chart": self._ground.name}
        return [header, *sorted(self._rows, key=lambda row: float(row["at"]))]

    def _beat(self, beat: float) -> None:
        bar, inside = self._ground.bars.at(beat)
        t = self._time.sec(beat)
        self._rows.append(
            {"kind": "beat", "t": t, "at": t - 0.1, "beat": beat, "bar": bar + 1,
             "beat_in_bar": int(inside) + 1, "bpm": self._ground.bpm, "locked": True}
        )  # fmt: skip

    def chord(self, change: Change, *, known_ahead: bool) -> None:
        """Write a chord down, known long ahead or only as it sounds."""
        t = self._time.sec(change.beat)
        self._rows.append(
            {"kind": "chord", "t": t, "at": t - ANNOUNCED_SEC if known_ahead else t,
             "beat": change.beat, "symbol": change.chord.symbol, "passing": change.passing}
        )  # fmt: skip

    def exchange(
        self, turn: int, number: int, line: Sequence[PlannedNote], spans: Sequence[Any],
    ) -> None:  # fmt: skip
        """Write turns and reply down; the player's keys are for the renderer to mind."""
        for place, who in ((turn - 1, "player"), (turn, "companion"), (turn + 1, "player")):
            begin = self._ground.turns[place][0] if place < len(self._ground.turns) else inf
            if begin == inf:
                begin = self._ground.turns[-1][1]
            beats = self._ground.turns[turn][1] - self._ground.turns[turn][0]
            self._rows.append({"kind": "turn", "t": self._time.sec(begin), "at": begin - 9,
                               "beat": begin, "who": who, "beats": beats})  # fmt: skip
        rows = [
            {"id": next(self._ids), "t": self._time.sec(n.sounds_beat), "beat": n.beat,
             "beats": n.beats, "pitch": n.pitch, "velocity": n.velocity, "chord": n.chord,
             "degree": n.degree, "role": n.role}
            for n in line
        ]  # fmt: skip
        at = self._time.sec(self._ground.turns[turn][0] - 1.5)
        self._rows.append({"kind": "reply", "id": number, "answers": None, "at": at, "t": at,
                           "notes": rows})  # fmt: skip
        for span in spans:
            self._rows.append({"kind": "span", "reply": number, "beat": span.beat, "at": at,
                               "beats": span.beats, "implied": span.chord.symbol})  # fmt: skip
