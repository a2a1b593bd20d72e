"""How soon is a reply taken back when the player goes on after all? And how long are live steps?

A program: ``python -m tests.bench.live_keys --exchanges N FILE`` plays live (view, log and I/O
process as in ``jam play``) and writes its figures to FILE. Two bars each, 200 bpm. The keys go
round the loop in memory: the player rests at the end of each turn, so that a reply is handed over,
and presses another key just before it begins. Taken is the time from that key's stamp in the I/O
process until the first note of the reply is told to be taken back: the record is in the pipe then,
and the process looks into it every millisecond.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter

from jam.core.snapshot import Snapshot
from jam.events import Intent
from jam.ports.loopback import LOOP
from jam.ports.spawn import IoProcess, spawn
from jam.ports.systems import MEMORY
from jam.ports.wire import Down, Heard, PlayNote, RevokeNote, Up
from jam.ports.wishes import PartWish, Wishes
from jam.session.io_client import IoClient
from jam.session.live import Live, open_up
from jam.session.live_options import LiveOptions
from jam.session.live_plan import plan_live
from jam.session.waiter import Waiter

BPM, TURN_BEATS = 200.0, 8.0
PHRASE = ((0.5, 65), (1.0, 68), (1.5, 70), (2.0, 72), (3.0, 70), (3.5, 68), (4.5, 65), (5.5, 63))
"""Beat of a turn and pitch; the rest from beat 6 on is long enough to be the phrase's end."""

SECOND_THOUGHT_BEAT, PITCH = 7.6, 74
"""When another key is pressed: the reply waits by then, and has not begun."""

KEYS = 4_000
"""Ids of notes up to this one are keys that are pressed here, not notes of the session."""

_LONGEST_SEC = 2.0


class Tapped:
    """An I/O process, with a look at what goes through its pipes."""

    def __init__(self, process: IoProcess) -> None:
        self.process = process
        self.pressed_at: float | None = None
        self.taken_ms: list[float] = []
        self.gone_by = 0

    @property
    def gone(self) -> bool:
        """Whether it has left."""
        return self.process.gone

    def fileno(self) -> int:
        """Return what to wait on."""
        return self.process.fileno()

    def send(self, records: Iterable[Down]) -> None:
        """Hand records down."""
        handed = list(records)
        self.process.send(handed)
        if self.pressed_at is not None and any(isinstance(r, RevokeNote) for r in handed):
            self.taken_ms.append(1000.0 * (perf_counter() - self.pressed_at))
            self.pressed_at = None

    def receive(self) -> list[Up]:
        """Return what has come up."""
        records = self.process.receive()
        for record in records:
            if isinstance(record, Heard) and record.data[:2] == (0x90, PITCH):
                self.gone_by += self.pressed_at is not None
                self.pressed_at = record.t
        return records

    def quit(self, timeout_sec: float) -> None:
        """Let it leave."""
        self.process.quit(timeout_sec)

    def kill(self) -> None:
        """End it at once."""
        self.process.kill()

    def close(self) -> None:
        """Let go of its pipes."""
        self.process.close()


class Evening(Live):
    """Live play in which this program is the player."""

    asked = 0
    exchanges = 0
    tapped: Tapped
    _ids = 0
    _turn_end = -1.0
    _quit_at = 0.0

    def _pressed(self, now: float, shown: Snapshot) -> list[Intent]:
        if shown.waiting:
            return [Intent(now, "start")]
        if shown.beat is None or shown.beat < 0.0:
            return []
        if self.exchanges >= self.asked and self._quit_at == 0.0:
            self._quit_at = now + 2 * _LONGEST_SEC
        if self._quit_at and now > self._quit_at:
            self._leaving = True
        end = shown.turn_ends_beat
        if shown.who == "player" and end is not None and end != self._turn_end:
            self._turn_end = end
            if self.exchanges < self.asked:
                self.exchanges += 1
                self._phrase(now, end - TURN_BEATS - shown.beat)
        return []

    def _phrase(self, now: float, beats_to_turn: float) -> None:
        start = perf_counter() + beats_to_turn * 60.0 / BPM
        plays = []
        for beat, pitch in (*PHRASE, (SECOND_THOUGHT_BEAT, PITCH)):
            self._ids += 1
            t = start + beat * 60.0 / BPM
            plays.append(PlayNote(self._ids, "click", t, t + 0.06, 0, pitch, 80, perf_counter()))
        self.tapped.process.send([note for note in plays if note.t > perf_counter()])


def play(folder: Path, exchanges: int) -> Tapped:
    """Play so many exchanges, and return the tapped process."""
    options = LiveOptions(
        tempo_bpm=BPM, turns="2", first="player", clock="internal", player_in=LOOP, out="none",
        system=MEMORY, seed=1, view="lines", home=folder / "home", anew=True,
        out_folder=folder / "session", metre="4/4", with_band=True,
    )  # fmt: skip
    plan = plan_live(options)
    parts = [part for part in plan.wishes.parts if part.part != "click"]
    wishes = replace(plan.wishes, parts=(*parts, PartWish("click", LOOP, None)))
    made: list[Tapped] = []

    def tapped(wished: Wishes) -> Tapped:
        made.append(Tapped(spawn(wished)))
        return made[-1]

    client, waiter = IoClient(wishes, tapped, perf_counter), Waiter()
    client._highest = KEYS  # ids up to here are ours
    try:
        with waiter.signals():
            open_up(client, waiter)
            evening = Evening(plan, client, waiter)
            evening.asked, evening.tapped = exchanges, made[0]
            evening.run()
    finally:
        client.quit()
        waiter.close()
    return made[0]


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure, and write what was found."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--exchanges", type=int, required=True)
    parser.add_argument("file", type=Path)
    options = parser.parse_args(arguments)
    with TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "home").mkdir()
        tapped = play(folder, options.exchanges)
        timing = (folder / "session" / "timing.jsonl").read_text().splitlines()
    found = {
        "taken_ms": tapped.taken_ms,
        "gone_by": tapped.gone_by,
        "exchanges": options.exchanges,
        "timing": [json.loads(line) for line in timing],
    }
    options.file.write_text(json.dumps(found))


if __name__ == "__main__":
    main()
