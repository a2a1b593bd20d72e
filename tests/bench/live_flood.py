"""Does anything get lost at 4,000 messages a second out and as many in? And what does it cost?

Out and in at the same time, through one I/O process: round the loop in memory, or over JACK to a
program that listens and from one that plays (`tests.jack.receiver`, `tests.jack.performer`).
"""

from __future__ import annotations

import os
import select
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter, sleep

from jam.ports.loopback import LOOP
from jam.ports.spawn import IoProcess, spawn
from jam.ports.systems import MEMORY
from jam.ports.wire import Heard, News, PlayNote, Ready, Refused, SentNote, Up
from jam.ports.wishes import PartWish, Wishes

RATE = 4_000
AHEAD_SEC, HAND_SEC, END_SEC, READY_SEC = 1.1, 0.02, 5.0, 10.0
CHANNEL = 2
PITCHES = range(20, 110)


@dataclass(frozen=True)
class Flood:
    """Messages ``asked`` for each way, and how many left, arrived at the other end, were heard and
    refused; the process's ``share`` of one core, and the lateness at the send call in ms."""

    asked: int
    sent: int
    arrived: int
    heard: int
    refused: int
    share: float
    late_ms: list[float]
    facts: list[str]

    @property
    def lost(self) -> int:
        """How many did not come through, both ways together."""
        missing = max(0, self.asked - self.arrived) + max(0, self.asked - self.heard)
        return missing + (self.asked - self.sent)


def round_the_loop(sec: float) -> Flood:
    """Send into the loop in memory and hear it all again."""
    wishes = Wishes(
        inputs=(("player", LOOP),),
        parts=(PartWish("companion", LOOP, None, channel=CHANNEL),),
        midi_system=MEMORY,
    )
    stream = _Stream(wishes, sec)
    stream.run()
    return stream.flood(arrived=stream.heard, heard=stream.heard)


def over_jack(sec: float, folder: Path) -> Flood:
    """Send to one program while another plays; the server runs already."""
    from tests.jack.server import Performer, Receiver, environment  # noqa: PLC0415 (needs jackd)

    os.environ.update(environment())
    ear, hand = Receiver(["companion"], folder), Performer(["right"], folder)
    wishes = Wishes(
        inputs=(("player", "stage-right"),),
        parts=(PartWish("companion", "hall-companion", None, channel=CHANNEL),),
        midi_system="JACK",
    )
    try:
        stream = _Stream(wishes, sec)
        step = 1.0 / RATE
        events = [
            (step * number, "right", [0x90, PITCHES[number % len(PITCHES)], 1 + number % 127])
            for number in range(stream.asked)
        ]
        hand.play(events, stream.start)
        stream.run()
        sleep(0.5)
        stream.listen(HAND_SEC)
        rows = [row["bytes"] for row in ear.lines()[1:]]
        arrived = sum(row[0] in (0x90 | CHANNEL, 0x80 | CHANNEL) for row in rows)
        stream.close()
        return stream.flood(arrived=arrived, heard=stream.heard)
    finally:
        hand.quit()
        ear.quit()


class _Stream:
    """An I/O process that is to send so many messages from ``start`` on."""

    def __init__(self, wishes: Wishes, sec: float) -> None:
        self.asked = round(RATE * sec)
        self.said: list[Up] = []
        self._process: IoProcess = spawn(wishes)
        self._share = 0.0
        ready = perf_counter() + READY_SEC
        while perf_counter() < ready and not any(isinstance(r, Ready) for r in self.said):
            self.listen(HAND_SEC)
        self.listen(1.2)  # ports are looked for every half second
        self.start = perf_counter() + AHEAD_SEC

    def listen(self, sec: float) -> None:
        """Take in what comes up for so long."""
        until = perf_counter() + sec
        while (left := until - perf_counter()) > 0.0 and not self._process.gone:
            select.select([self._process], [], [], left)
            self.said += self._process.receive()

    def run(self) -> None:
        """Hand everything over a second ahead and wait until it has left."""
        step, number, notes = 2.0 / RATE, 0, self.asked // 2
        before, begun = _cpu_sec(self._process.pid), 0.0
        while number < notes:
            now = perf_counter()
            if not begun and now > self.start:
                before, begun = _cpu_sec(self._process.pid), now
            batch = []
            while number < notes and self.start + number * step < now + AHEAD_SEC:
                t = self.start + number * step
                pitch = PITCHES[number % len(PITCHES)]
                number += 1
                batch.append(PlayNote(number, "companion", t, t + 0.02, CHANNEL, pitch, 80, now))
            self._process.send(batch)
            self.listen(HAND_SEC)
        self.listen(self.start + notes * step - perf_counter())
        self._share = (_cpu_sec(self._process.pid) - before) / (perf_counter() - begun)
        until = perf_counter() + END_SEC
        while self._sent < self.asked and perf_counter() < until:
            self.listen(HAND_SEC)

    @property
    def heard(self) -> int:
        """How many notes' beginnings and ends were heard."""
        return sum(isinstance(r, Heard) and r.data[0] & 0xE0 == 0x80 for r in self.said)

    @property
    def _sent(self) -> int:
        return sum(isinstance(record, SentNote) for record in self.said)

    def close(self) -> None:
        """End the process and take in its last words."""
        self._process.quit(2.0)
        self.said += self._process.receive()
        self._process.close()

    def flood(self, *, arrived: int, heard: int) -> Flood:
        """Return what came of it, the process ended."""
        if not self._process.gone:
            self.close()
        late = [1000 * (r.at - r.t) for r in self.said if isinstance(r, SentNote)]
        refused = sum(isinstance(record, Refused) for record in self.said)
        topics = ("priority", "fault", "missing")
        facts = [r.text for r in self.said if isinstance(r, News) and r.topic in topics]
        sent = self._sent
        return Flood(self.asked, sent, arrived, heard, refused, self._share, late, facts)


def _cpu_sec(pid: int) -> float:
    """Return the seconds of processor that a process has had."""
    words = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(words[11]) + int(words[12])) / os.sysconf("SC_CLK_TCK")
