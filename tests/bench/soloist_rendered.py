"""Replies out of the whole program: human solos rendered as the player's file, logs read back.

The same exchanges as `soloist_calls`, but planned inside a session: the turns, windows and memory
are the core's own, and effort, timing and endings are what one would hear.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import mido

from jam.listening.phrase import LineNote
from jam.session.options import RenderOptions
from jam.session.render import render
from tests.audit.reading import Note, Reply, Session, load
from tests.audit.rendered import Scene, play
from tests.audit.window import turn_of
from tests.bench import soloist_people as people
from tests.bench.soloist_lines import TICKS, Harmony, Line, on_grid, phrase_numbers

if TYPE_CHECKING:
    from tests.bench.soloist_calls import Exchange, Job

TICKS_A_SEC = 2000


def rendered(job: Job) -> list[Exchange]:
    """Play one session through the program and return its exchanges."""
    with TemporaryDirectory() as name:
        if job.chart:
            scene = Scene(
                job.source, job.style, "4", job.seed, 2, (1.0, 0.7, 1.3, 1.8)[job.seed % 4]
            )
            folder = play(scene, Path(name)).folder
            return exchanges_of(load(folder), job, job.source, None)
        solo = people.solo(Path(job.source))
        files = Path(name) / "files"
        files.mkdir()
        render(
            RenderOptions(
                out=Path(name) / "out",
                player=_midi(_own_turns(solo, job.first - 1), files / "player.mid"),
                beats=_beats(solo, files / "beats.txt"),
                changes=_changes(solo, files / "changes.txt"),
                clock="given",
                turns="4",
                style=job.style,
                seed=job.seed,
                first="player" if job.first == 1 else "companion",
            )
        )
        return exchanges_of(load(Path(name) / "out"), job, solo.name, solo)


def exchanges_of(session: Session, job: Job, tune: str, solo: people.Solo | None) -> list[Exchange]:
    """Return the exchanges of a session that was read back."""
    from tests.bench.soloist_calls import Exchange  # noqa: PLC0415 (it asks for this module)

    harmony = Harmony(
        tuple(change.beat for change in session.harmony.changes),
        tuple(change.sound.symbol for change in session.harmony.changes),
    )
    calls = {call.id: call for call in session.calls}
    found = []
    for reply in session.replies:
        call, turn = calls.get(reply.answers), turn_of(session, reply) if reply.notes else None
        if call is None or turn is None or len(call.notes) < 4:
            continue
        bpm = session.beats.bpm(turn.beat)
        bar = round(session.beats.bar_beats() * TICKS)
        found.append(
            Exchange(
                tune, f"{tune}-{job.style}-{job.seed}-{job.first}", len(found), job.style,
                job.seed, bpm, "swing", turn.beat, turn.end,
                _line(tune, call.notes, session, harmony, bpm, bar, own_grid=False),
                _line(tune, reply.notes, session, harmony, bpm, bar, own_grid=True),
                None if solo is None else people.ticks_in(solo.line, turn.beat, turn.end),
                idea_of(session, reply), 0, (),
            )
        )  # fmt: skip
    return found


def idea_of(session: Session, reply: Reply) -> str:
    """Return in words what the reply took up, as far as the log tells."""
    record = next((r for r in session.kind("reply") if r["id"] == reply.id), {})
    return str(record.get("idea", ""))


def _line(
    tune: str, notes: Sequence[Note], session: Session, harmony: Harmony, bpm: float, bar: int,
    *, own_grid: bool,
) -> Line:  # fmt: skip
    heard = tuple(session.beats.beat(note.t) for note in notes)
    ticks = (
        tuple(round(note.beat * TICKS) for note in notes)
        if own_grid
        else tuple(on_grid(heard, bpm))
    )
    lengths = tuple(note.beats for note in notes)
    return Line(
        tune, bpm, ticks, heard, lengths, tuple(note.pitch for note in notes),
        phrase_numbers(ticks, lengths), harmony, bar, tuple(note.velocity for note in notes),
    )  # fmt: skip


def _own_turns(solo: people.Solo, first: int) -> list[LineNote]:
    """Return what the person plays in every second turn from number ``first`` on: the others are
    the companion's."""
    own = people.turns(solo)[first::2]
    return [note for turn in own for note in people.said_in(solo, *turn)]


def _midi(notes: Sequence[LineNote], path: Path) -> Path:
    events = []
    for note in notes:
        on, off = round(note.t * TICKS_A_SEC), round(note.end * TICKS_A_SEC)
        events.append((on, 1, mido.Message("note_on", note=note.pitch, velocity=note.velocity)))
        events.append((max(off, on + 1), 0, mido.Message("note_off", note=note.pitch)))
    track = mido.MidiTrack()
    now = 0
    for tick, _, message in sorted(events, key=lambda e: e[:2]):
        track.append(message.copy(time=tick - now))
        now = tick
    # 1000 ticks a quarter at the standard's 120 quarters a minute: 2000 a second.
    mido.MidiFile(type=0, ticks_per_beat=TICKS_A_SEC // 2, tracks=[track]).save(path)
    return path


def _beats(solo: people.Solo, path: Path) -> Path:
    rows = [f"{sec:.6f} {place}\n" for sec, place in solo.beats]
    path.write_text("".join(rows), encoding="utf-8")
    return path


def _changes(solo: people.Solo, path: Path) -> Path:
    first = next(k for k, (_, place) in enumerate(solo.beats) if place == 1)
    rows = []
    for change in solo.changes:
        index = min(max(0, first + round(change.beat)), len(solo.beats) - 1)
        rows.append(f"{solo.beats[index][0]:.6f} {change.chord.symbol}\n")
    path.write_text("".join(dict.fromkeys(rows)), encoding="utf-8")
    return path
