"""Notes waiting for their time: pinned to beats, handed over in seconds.

A note is handed to the I/O side as a whole, ahead of its sound; as long as it has not begun it is
moved when the tempo moves, and can be taken back. A note that has begun is ended by a cut.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterable
from dataclasses import dataclass, replace

from jam.events import Command, Cut, Part, Play, Revoke
from jam.transport.timeline import BeatTime

SAFE_SEC = 0.002
"""A note can be taken back until so long before it sounds."""

_MOVED_SEC = 0.002
_SHORTEST_SEC = 0.02


@dataclass(frozen=True, slots=True, order=True)
class Pinned:
    """A note pinned to beats: it sounds from ``on_beat`` to ``off_beat``, ``late_sec`` later."""

    on_beat: float
    id: int
    off_beat: float
    part: Part
    channel: int
    pitch: int
    velocity: int
    late_sec: float = 0.0


class Schedule:
    """Waiting notes, and those handed over that have not ended."""

    def __init__(self, horizon_sec: float) -> None:
        self._horizon_sec = horizon_sec
        self._waiting: list[Pinned] = []
        self._handed: dict[int, tuple[Pinned, Play]] = {}

    def add(self, notes: Iterable[Pinned]) -> None:
        """Take notes in any order."""
        for note in notes:
            insort(self._waiting, note)

    def hand_over(self, now: float, ahead_sec: float, time: BeatTime) -> list[Command]:
        """Return what has to be handed over now, and what the tempo has moved meanwhile."""
        commands: list[Command] = []
        for key, (note, play) in list(self._handed.items()):
            if play.end < now:
                del self._handed[key]
            elif play.t > now + SAFE_SEC:
                moved = _play(note, time, now + SAFE_SEC)
                if abs(moved.t - play.t) > _MOVED_SEC:
                    self._handed[key] = (note, moved)
                    commands.append(moved)
        limit = time.beat(now + self._horizon_sec + ahead_sec)
        while self._waiting and self._waiting[0].on_beat <= limit:
            note = self._waiting.pop(0)
            play = _play(note, time, now)
            self._handed[note.id] = (note, play)
            commands.append(play)
        return commands

    def begun(self, ids: Iterable[int], now: float) -> set[int]:
        """Return which of the notes can no longer be taken back."""
        return {
            key for key in ids if key in self._handed and self._handed[key][1].t <= now + SAFE_SEC
        }

    def withdraw(self, ids: Iterable[int], now: float) -> list[Command]:
        """Take back the notes that have not begun; the others are left as they are."""
        gone = set(ids)
        self._waiting = [note for note in self._waiting if note.id not in gone]
        commands: list[Command] = []
        for key in sorted(gone & self._handed.keys()):
            if self._handed[key][1].t > now + SAFE_SEC:
                del self._handed[key]
                commands.append(Revoke(key))
        return commands

    def cut(self, ids: Iterable[int], t: float) -> list[Command]:
        """End those of the notes that would sound past ``t``."""
        commands: list[Command] = []
        for key in sorted(ids):
            held = self._handed.get(key)
            if held is not None and held[1].end > t:
                end = max(t, held[1].t + _SHORTEST_SEC)
                self._handed[key] = (held[0], replace(held[1], end=end))
                commands.append(Cut(key, end))
        return commands

    def clear(self) -> None:
        """Forget everything (panic)."""
        self._waiting.clear()
        self._handed.clear()

    def knows(self, number: int) -> bool:
        """Return whether the note is waiting or has been handed over and not ended."""
        return number in self._handed or any(note.id == number for note in self._waiting)

    @property
    def idle(self) -> bool:
        """Whether nothing is waiting or sounding."""
        return not self._waiting and not self._handed


def _play(note: Pinned, time: BeatTime, earliest: float) -> Play:
    t = max(time.sec(note.on_beat) + note.late_sec, earliest)
    end = max(t + 0.01, time.sec(note.off_beat) + min(note.late_sec, 0.0))
    return Play(note.id, note.part, t, end, note.channel, note.pitch, note.velocity)
