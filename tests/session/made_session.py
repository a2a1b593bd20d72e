"""A tiny core for tests of the drive, and a log written by hand for tests of the text."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from math import inf
from typing import Any

from jam import log
from jam.core.core import StepResult
from jam.events import Command, Input, Intent, IoReport, MidiIn, Play, Revoke

PERIOD_SEC = 0.3


class TinyCore:
    """Answers every note of the player with the same note, one period later, a fifth higher.

    It also ticks every period, wants to be stepped for that, and logs what it takes. With
    ``hasty`` it tries to take back each note when it is too late for that.
    """

    def __init__(self, until_sec: float = 3.0, *, hasty: bool = False, up: int = 7) -> None:
        self.steps: list[tuple[float, int, int]] = []
        self._until_sec = until_sec
        self._hasty = hasty
        self._up = up
        self._ticks = 0
        self._notes = 0
        self._plays: list[Play] = []

    def step(self, inputs: Sequence[Input], now: float, effort: int) -> StepResult:
        self.steps.append((now, len(inputs), effort))
        commands: list[Command] = []
        records: list[log.Record] = []
        for event in sorted(inputs, key=lambda event: event.t):
            self._take(event, now, effort, commands, records)
        while self._ticks * PERIOD_SEC <= now and self._ticks * PERIOD_SEC <= self._until_sec:
            self._ticks += 1
            commands += [Revoke(p.id) for p in self._plays if self._hasty and p.t <= now < p.end]
        due = self._ticks * PERIOD_SEC
        ended = due > self._until_sec
        snapshot: Any = None
        return StepResult(tuple(commands), tuple(records), snapshot, inf if ended else due, ended)

    def _take(
        self,
        event: Input,
        now: float,
        effort: int,
        commands: list[Command],
        records: list[log.Record],
    ) -> None:
        match event:
            case MidiIn(t, port, data):
                records.append(log.midi_in(t, now, port, data))
                if data[0] & 0xF0 == 0x90:
                    self._answer(t, now, data[1], effort, commands, records)
            case Intent(t, name, value):
                records.append(log.intent(now, name, value, t=t))
            case IoReport(t, what, detail):
                records.append(log.io(now, what, detail, t=t))

    def _answer(
        self,
        t: float,
        now: float,
        pitch: int,
        effort: int,
        commands: list[Command],
        records: list[log.Record],
    ) -> None:
        self._notes += 1
        begin = t + PERIOD_SEC
        play = Play(self._notes, "companion", begin, begin + 0.45, 0, pitch + self._up, 80)
        self._plays.append(play)
        commands.append(play)
        note = {
            "id": play.id,
            "t": begin,
            "beat": begin * 2.0,
            "beats": 0.9,
            "pitch": play.pitch,
            "velocity": 80,
        }
        records.append(log.reply(self._notes, None, begin, play.end, now, effort, [note]))


def key(t: float, pitch: int, *, down: bool = True) -> MidiIn:
    """Return a key of the player's going down or up."""
    return MidiIn(t, "player", (0x90 if down else 0x80, pitch, 70 if down else 0))


def header(**more: Any) -> log.Record:
    """Return a header without a setup."""
    return log.session(
        program="0", machine="m", seed=1, style="plain", chart=None, clock="internal", **more
    )


Row = tuple[float, float, int, str, str, str, str]


def reply_notes(rows: Iterable[Row], first_id: int = 1) -> list[log.Record]:
    """Return notes of a reply from rows of beat, beats, pitch, chord, role, move, why."""
    return [
        {
            "id": first_id + index,
            "t": beat / 2.0,
            "beat": beat,
            "beats": beats,
            "pitch": pitch,
            "velocity": 80,
            "chord": chord,
            "degree": "",
            "role": role,
            "move": move,
            "why": why,
        }
        for index, (beat, beats, pitch, chord, role, move, why) in enumerate(rows)
    ]


def call_notes(rows: Iterable[tuple[float, float, int]]) -> list[log.Record]:
    """Return notes of a call from rows of beat, beats, pitch, at 120 bpm."""
    return [
        {"t": beat / 2.0, "beat": beat, "beats": beats, "pitch": pitch, "velocity": 80}
        for beat, beats, pitch in rows
    ]


def beats(count: int, bar_beats: int = 4) -> list[log.Record]:
    """Return the beats of so many quarters at 120 bpm from second 0."""
    return [
        log.beat(
            number / 2.0,
            max(0.0, number / 2.0 - 0.5),
            float(number),
            bar=number // bar_beats + 1,
            beat_in_bar=number % bar_beats + 1,
            bpm=120.0,
            source="internal",
            locked=True,
        )
        for number in range(count)
    ]


def chords(rows: Iterable[tuple[float, str | None]]) -> list[log.Record]:
    """Return chords named as they begin, at 120 bpm."""
    return [log.chord(beat / 2.0, beat / 2.0, beat, symbol, "chart") for beat, symbol in rows]


def made_log(records: Iterable[log.Record], **more: Any) -> log.Log:
    """Return a log of these records."""
    return log.Log(header(**more), tuple(records))


def written(core: Any, inputs: Sequence[Input], run: Callable[..., Any], **options: Any) -> Any:
    """Drive ``core`` through ``inputs`` and return the drive and what it wrote."""
    found: list[log.Record] = []
    drive = run(core, found.extend, **options)
    drive.add(inputs)
    drive.run(10.0)
    drive.finish(10.0)
    return drive, found
