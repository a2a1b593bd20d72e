"""Notes waiting for their time: pinned to beats, handed over in seconds.

A note is handed to the I/O side as a whole, ahead of its sound; as long as it has not begun it is
moved when the tempo moves, and can be taken back. A note that has begun is ended by a cut, early
if the tempo has risen meanwhile, so that it does not run into the next one.
"""

from __future__ import annotations

from bisect import bisect_right, insort
from collections.abc import Iterable
from dataclasses import dataclass, replace

from jam.events import Bend, Command, Cut, Part, Play, Revoke
from jam.log import rounded
from jam.transport.timeline import BeatTime

SAFE_SEC = 0.002
"""A note can be taken back until so long before it sounds."""

MOVED_SEC = 0.002
"""A note handed over is sent again when it has moved by more than this."""

HELD_SEC = 30.0
"""A note under a fermata sounds so long if nobody cuts it off."""

_SHORTEST_SEC = 0.01


def held_beats(bpm: float) -> float:
    """Return the length of a note under a fermata, in beats."""
    return HELD_SEC * bpm / 60.0


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
    bend: Bend | None = None


class Schedule:
    """Waiting notes, and those handed over that have not ended."""

    def __init__(self, horizon_sec: float) -> None:
        self._horizon_sec = horizon_sec
        self._waiting: list[Pinned] = []
        self._waiting_ids: set[int] = set()
        self._handed: dict[int, tuple[Pinned, Play]] = {}
        self._time: BeatTime | None = None

    def add(self, notes: Iterable[Pinned]) -> None:
        """Take notes in any order."""
        for note in notes:
            insort(self._waiting, note)
            self._waiting_ids.add(note.id)

    def hand_over(self, now: float, ahead_sec: float, time: BeatTime) -> list[Command]:
        """Return what has to be handed over now, and what the tempo has moved meanwhile.

        Handed over is what sounds within the horizon and ``ahead_sec`` more; what should have been
        over by now (after a stall) is dropped.
        """
        self._handed = {key: held for key, held in self._handed.items() if held[1].end >= now}
        commands = [] if time is self._time else self._moved(now, time)
        self._time = time
        limit = time.beat(now + self._horizon_sec + ahead_sec)
        count = bisect_right(self._waiting, limit, key=lambda note: note.on_beat)
        due, self._waiting = self._waiting[:count], self._waiting[count:]
        for note in due:
            self._waiting_ids.discard(note.id)
            play = _play(note, time, now)
            if time.sec(note.off_beat) > now:
                self._handed[note.id] = (note, play)
                commands.append(play)
        return commands

    def settled(self, number: int, now: float) -> bool:
        """Return whether the note can no longer be taken back: it sounds, or is over."""
        held = self._handed.get(number)
        if held is not None:
            return held[1].t <= now + SAFE_SEC
        return number not in self._waiting_ids

    def withdraw(self, ids: Iterable[int], now: float) -> list[Command]:
        """Take back the notes that have not begun; the others are left as they are."""
        gone = set(ids)
        if gone & self._waiting_ids:
            self._waiting = [note for note in self._waiting if note.id not in gone]
            self._waiting_ids -= gone
        commands: list[Command] = []
        for key in sorted(gone & self._handed.keys()):
            if self._handed[key][1].t > now + SAFE_SEC:
                del self._handed[key]
                commands.append(Revoke(key))
        return commands

    def cut(self, ids: Iterable[int], beat: float, time: BeatTime) -> list[Command]:
        """Let those of the notes that would sound past ``beat`` end there."""
        gone, t = set(ids), time.sec(beat)
        self._waiting = [
            replace(note, off_beat=min(note.off_beat, beat)) if note.id in gone else note
            for note in self._waiting
        ]
        commands: list[Command] = []
        for key in sorted(gone & self._handed.keys()):
            note, play = self._handed[key]
            if play.end > t:
                note = replace(note, off_beat=min(note.off_beat, beat))
                end = max(t, play.t + _SHORTEST_SEC)
                self._handed[key] = (note, replace(play, end=end))
                commands.append(Cut(key, rounded(end)))
        return commands

    def hold(self, number: int, now: float, time: BeatTime) -> list[Command]:
        """Put a note that has not begun under a fermata; one that has is left as it is."""
        commands: list[Command] = []
        held = self._handed.get(number)
        if held is not None and held[1].t > now + SAFE_SEC:
            note = _held(held[0], time)
            if note != held[0]:
                play = _play(note, time, held[1].t)
                self._handed[number] = (note, play)
                commands.append(play)
        self._waiting = [_held(n, time) if n.id == number else n for n in self._waiting]
        return commands

    def postpone(self, number: int, beat: float, time: BeatTime) -> list[Command]:
        """Let a note that has not begun begin at ``beat``, later than planned; its end stays."""
        held = self._handed.get(number)
        if held is not None:
            note = replace(held[0], on_beat=beat)
            play = _play(note, time, held[1].t)
            self._handed[number] = (note, play)
            return [play]
        waiting = (replace(n, on_beat=beat) if n.id == number else n for n in self._waiting)
        self._waiting = sorted(waiting)
        return []

    def clear(self) -> None:
        """Forget everything (panic, stop, jump)."""
        self._waiting.clear()
        self._waiting_ids.clear()
        self._handed.clear()

    def idle(self, now: float) -> bool:
        """Return whether nothing is waiting and nothing sounds past ``now``."""
        return not self._waiting and all(play.end <= now for _, play in self._handed.values())

    def _moved(self, now: float, time: BeatTime) -> list[Command]:
        """Return the notes handed over that lie elsewhere by the present tempo."""
        commands: list[Command] = []
        for key, (note, play) in list(self._handed.items()):
            if play.t > now + SAFE_SEC:
                moved = _play(note, time, now + SAFE_SEC)
                if max(abs(moved.t - play.t), abs(moved.end - play.end)) > MOVED_SEC:
                    self._handed[key] = (note, moved)
                    commands.append(moved)
            else:
                end = max(now, _end(note, time, play.t))
                if end < play.end - MOVED_SEC:
                    self._handed[key] = (note, replace(play, end=end))
                    commands.append(Cut(key, rounded(end)))
        return commands


def _held(note: Pinned, time: BeatTime) -> Pinned:
    off_beat = note.on_beat + held_beats(time.bpm_at(note.on_beat))
    return replace(note, off_beat=max(note.off_beat, off_beat))


def _play(note: Pinned, time: BeatTime, earliest: float) -> Play:
    t = max(time.sec(note.on_beat) + note.late_sec, earliest)
    end = _end(note, time, t)
    return Play(
        note.id, note.part, rounded(t), rounded(end), note.channel, note.pitch, note.velocity,
        note.bend,
    )  # fmt: skip


def _end(note: Pinned, time: BeatTime, t: float) -> float:
    return max(t + _SHORTEST_SEC, time.sec(note.off_beat) + min(note.late_sec, 0.0))
