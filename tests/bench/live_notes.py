"""How late does a message leave? Of the I/O process, mido's player, and a plain ``time.sleep``.

A program: ``python -m tests.bench.live_notes --sender io|mido|sleep --state idle|busy|stalled``
prints one line of JSON. All three send the same notes to the same kind of port. Lateness is taken
at the send call: the machine's clock is read just before it. mido tells no beginning: its second 0
is taken from its own earliest message, the kindest reading.
"""

from __future__ import annotations

import argparse
import json
import random
import select
import sys
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field
from itertools import accumulate
from time import perf_counter, sleep

import mido

from jam.ports.loopback import LOOP, loopback
from jam.ports.midi import MidiOutput
from jam.ports.spawn import IoProcess, spawn
from jam.ports.systems import MEMORY, open_system
from jam.ports.wire import News, PlayNote, Ready, Refused, SentNote, Up
from jam.ports.wishes import VIRTUAL, PartWish, SoundWish, Wishes
from tests.bench.live_brain import Brain, requests

STREAMS, STREAM_NOTES_A_SEC = 17, 5.0
"""Together 85 notes, so 170 messages, a second: several times what a band of four plays."""

AHEAD_SEC = 1.1
"""How long before it sounds a note is handed over."""

HAND_SEC = 0.05
READY_SEC, END_SEC = 10.0, 5.0
CHANNEL = 2


@dataclass(frozen=True, order=True)
class Due:
    """A note from second ``t`` to ``end`` of a piece."""

    t: float
    end: float
    pitch: int


@dataclass
class Sends:
    """What left: ``late`` are pairs of the machine second meant and the lateness, in seconds."""

    late: list[tuple[float, float]] = field(default_factory=list)
    lost: int = 0
    facts: list[str] = field(default_factory=list)


def notes(messages: int) -> list[Due]:
    """Return notes of interleaved streams, each a pitch of its own, half as many as messages."""
    rng = random.Random(1)
    made: list[Due] = []
    for stream in range(STREAMS):
        t = rng.random() / STREAM_NOTES_A_SEC
        while t < messages / (2 * STREAMS * STREAM_NOTES_A_SEC):
            step = rng.uniform(0.6, 1.4) / STREAM_NOTES_A_SEC
            made.append(Due(t, t + rng.uniform(0.3, 0.9) * step, 40 + stream))
            t += step
    return sorted(made)


def messages_of(piece: Sequence[Due]) -> list[tuple[float, tuple[int, int, int]]]:
    """Return when which bytes are to leave, in order."""
    ons = [(note.t, (0x90 | CHANNEL, note.pitch, 80)) for note in piece]
    return sorted([*ons, *((note.end, (0x80 | CHANNEL, note.pitch, 0)) for note in piece)])


# --- three senders -----------------------------------------------------------------------


def by_io_process(piece: Sequence[Due], system: str, *, sound: bool, real_time: bool) -> Sends:
    """Hand the notes to an I/O process a second ahead."""
    port = LOOP if system == MEMORY else VIRTUAL
    part = PartWish("companion", port, (0, 1) if sound else None, channel=CHANNEL)
    process = spawn(
        Wishes(parts=(part,), sound=SoundWish(), midi_system=system, real_time=real_time)
    )
    try:
        said = _listened(process, READY_SEC, lambda up: isinstance(up[-1], Ready))
        start = perf_counter() + AHEAD_SEC
        done = 0
        while done < len(piece):
            now = perf_counter()
            batch = []
            while done < len(piece) and start + piece[done].t < now + AHEAD_SEC:
                note = piece[done]
                done += 1
                t, end = start + note.t, start + note.end
                batch.append(PlayNote(done, "companion", t, end, CHANNEL, note.pitch, 80, now))
            process.send(batch)
            said += _listened(process, HAND_SEC)
        left = 2 * len(piece) - sum(isinstance(record, SentNote) for record in said)
        said += _listened(
            process,
            END_SEC,
            lambda up: sum(isinstance(record, SentNote) for record in up) >= left,
        )
    finally:
        process.quit(2.0)
        process.close()
    late = [(r.t, r.at - r.t) for r in said if isinstance(r, SentNote)]
    refused = sum(isinstance(record, Refused) for record in said)
    facts = [str(r.text) for r in said if isinstance(r, News) and r.topic != "output"]
    return Sends(late, 2 * len(piece) - len(late) + refused, facts)


def _listened(
    process: IoProcess, within_sec: float, enough: Callable[[list[Up]], bool] | None = None
) -> list[Up]:
    """Return what comes up until there is ``enough``, or time is up."""
    until = perf_counter() + within_sec
    said: list[Up] = []
    while (left := until - perf_counter()) > 0.0 and not process.gone:
        select.select([process], [], [], left)
        said += process.receive()
        if enough is not None and said and enough(said):
            break
    return said


def by_mido(piece: Sequence[Due], output: MidiOutput) -> Sends:
    """Let mido's player play the notes as a MIDI file."""
    track = mido.MidiTrack()
    file = mido.MidiFile(type=0, ticks_per_beat=32_000, tracks=[track])
    tick = 0
    for t, data in messages_of(piece):
        at = round(mido.second2tick(t, file.ticks_per_beat, 500_000))
        track.append(mido.Message.from_bytes(data, time=at - tick))
        tick = at
    meant = list(accumulate(message.time for message in file if not message.is_meta))
    ats = []
    for message in file.play():
        ats.append(perf_counter())
        output.send(message.bytes())
    start = min(at - t for at, t in zip(ats, meant, strict=True))
    return Sends([(start + t, at - start - t) for at, t in zip(ats, meant, strict=True)])


def by_sleep(piece: Sequence[Due], output: MidiOutput) -> Sends:
    """Sleep until each message is due."""
    start = perf_counter() + 0.1
    late = []
    for t, data in messages_of(piece):
        sleep(max(0.0, start + t - perf_counter()))
        at = perf_counter()
        output.send(data)
        late.append((start + t, at - start - t))
    return Sends(late)


def open_output(system: str) -> MidiOutput:
    """Return a port of our own, or the loop in memory."""
    if system == MEMORY:
        return loopback("bench", perf_counter).open_output(LOOP)
    return open_system(system, "bench").virtual_output("out")


# --- the program -------------------------------------------------------------------------


def main() -> None:
    """Measure, and print what was found."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--sender", choices=("io", "mido", "sleep"), required=True)
    parser.add_argument("--state", choices=("idle", "busy", "stalled"), required=True)
    parser.add_argument("--system", default=MEMORY)
    parser.add_argument("--messages", type=int, required=True)
    parser.add_argument("--sound", action="store_true")
    parser.add_argument("--real-time", action="store_true")
    options = parser.parse_args()
    piece = notes(options.messages)
    brain = Brain()
    beside: AbstractContextManager[None] = nullcontext()
    if options.state == "busy":
        beside = brain.working(requests())
    elif options.state == "stalled":
        beside = brain.stalling()
    with beside:
        if options.sender == "io":
            sends = by_io_process(
                piece, options.system, sound=options.sound, real_time=options.real_time
            )
        else:
            send = by_mido if options.sender == "mido" else by_sleep
            sends = send(piece, open_output(options.system))
    in_stall = [
        late for t, late in sends.late if any(begun <= t <= end for begun, end in brain.stalls)
    ]
    found = {
        "late_ms": [round(1000 * late, 5) for _, late in sends.late],
        "in_stall_ms": [round(1000 * late, 5) for late in in_stall],
        "stalls": len(brain.stalls),
        "longest_stall_ms": round(1000 * max((b - a for a, b in brain.stalls), default=0.0)),
        "plans": brain.plans,
        "lost": sends.lost,
        "facts": sends.facts,
    }
    sys.stdout.write(json.dumps(found) + "\n")


if __name__ == "__main__":
    main()
