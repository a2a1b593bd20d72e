"""The I/O process for real, over its pipes, with a MIDI system in memory that gives all back."""

from __future__ import annotations

import fcntl
import os
import select
import signal
import subprocess
import sys
import termios
from collections.abc import Callable, Iterator
from time import perf_counter

import pytest

from jam.ports.loopback import LOOP
from jam.ports.spawn import IoProcess, spawn
from jam.ports.wire import (
    SIZE,
    Decoder,
    EndSounding,
    Heard,
    News,
    PlayNote,
    Ready,
    SentNote,
    SilenceAll,
    Up,
)
from jam.ports.wishes import PartWish, Wishes

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals as POSIX has them")

PATIENCE_SEC = 20.0
ON, OFF = 0x92, 0x82

WISHES = Wishes(
    inputs=(("player", LOOP),),
    parts=(PartWish("companion", LOOP, None, 0.5, 2, 7),),
    midi_system="memory",
    real_time=False,
)


@pytest.fixture
def process() -> Iterator[IoProcess]:
    """A process that is ready, and has heard how it set up its own output."""
    running = spawn(WISHES)
    try:
        wait_for(running, is_set_up)
        yield running
    finally:
        running.kill()
        running.close()


def wait_for(process: IoProcess, enough: Callable[[list[Up]], bool]) -> list[Up]:
    """Return what came up until there was enough of it, or the end."""
    up: list[Up] = []
    while not process.gone:
        assert select.select([process], [], [], PATIENCE_SEC)[0], f"only this came: {up[-9:]}"
        for record in process.receive():
            up.append(record)
            if enough(up):
                return up
    return up


def is_set_up(up: list[Up]) -> bool:
    """Say whether the last of the set-up messages has come round; all else came before."""
    return isinstance(up[-1], Heard) and up[-1].data == (0xB2, 7, 64)


def to_the_end(process: IoProcess) -> list[Up]:
    return wait_for(process, lambda up: False)


def play(process: IoProcess, *notes: tuple[int, float, float, int]) -> None:
    """Hand over notes: id, seconds from now to their on and off, pitch."""
    now = perf_counter()
    process.send(
        PlayNote(id, "companion", now + on, now + off, 2, pitch, 80, now)
        for id, on, off, pitch in notes
    )


def sent(up: list[Up]) -> list[tuple[int, ...]]:
    return [r.data for r in up if isinstance(r, SentNote)]


def is_on(up: list[Up]) -> bool:
    return bool(sent(up)) and sent(up)[-1][0] == ON


def test_what_is_sent_goes_round(process: IoProcess) -> None:
    """A note handed over leaves at its moment, is reported, and is heard at the other end."""
    play(process, (1, 0.02, 0.04, 60), (2, 0.02, 0.04, 64))
    up = wait_for(process, lambda up: sum(isinstance(r, Heard) for r in up) == 4)
    bytes_sent = [(ON, 60, 80), (ON, 64, 80), (OFF, 60, 0), (OFF, 64, 0)]
    assert sent(up) == bytes_sent
    heard = [r for r in up if isinstance(r, Heard)]
    assert [r.data for r in heard] == bytes_sent
    assert all(r.at >= r.t for r in [*heard, *up] if isinstance(r, SentNote | Heard))
    process.send([EndSounding("companion", 2, 33)])
    (end,) = wait_for(process, lambda up: True)
    assert isinstance(end, Heard)
    assert end.data == (OFF, 33, 0)


def test_it_says_what_it_opened() -> None:
    """What it took comes before the word that it is ready; the output was set up by then."""
    running = spawn(WISHES)
    up = wait_for(running, is_set_up)
    ready = next(i for i, r in enumerate(up) if isinstance(r, Ready))
    news = [(r.topic, r.text) for r in up[:ready] if isinstance(r, News)]
    assert news[:2] == [("input", f"player={LOOP}"), ("output", f"companion={LOOP}")]
    assert [r.data for r in up if isinstance(r, Heard)] == [
        (0xE2, 0, 64),
        (0xC2, 7),
        (0xB2, 7, 64),
    ]
    assert isinstance(up[ready], Ready)
    assert up[ready].pid == running.pid  # type: ignore[union-attr]
    running.quit(PATIENCE_SEC)
    assert running.exit_code == 0
    assert running.last_words() == ""
    running.close()


def test_asked_to_quit_it_ends_its_notes(process: IoProcess) -> None:
    """Quitting ends what sounds, and the last words can still be read."""
    play(process, (1, 0.0, 60.0, 60))
    wait_for(process, is_on)
    process.quit(PATIENCE_SEC)
    up = process.receive()
    assert sent(up) == [(OFF, 60, 0)]
    assert process.gone
    assert not process.alive
    assert process.exit_code == 0


def test_terminated_it_ends_its_notes(process: IoProcess) -> None:
    """SIGTERM ends notes first, then the process."""
    play(process, (1, 0.0, 60.0, 60))
    wait_for(process, is_on)
    os.kill(process.pid, signal.SIGTERM)
    assert sent(to_the_end(process)) == [(OFF, 60, 0)]


def test_interrupts_are_the_brains_affair(process: IoProcess) -> None:
    """SIGINT and SIGHUP change nothing: notes go on leaving."""
    os.kill(process.pid, signal.SIGINT)
    os.kill(process.pid, signal.SIGHUP)
    play(process, (1, 0.01, 60.0, 60))
    wait_for(process, is_on)
    process.send([SilenceAll(perf_counter())])
    wait_for(process, lambda up: bool(sent(up)) and sent(up)[-1] == (OFF, 60, 0))
    assert process.alive


@pytest.mark.parametrize("how", ["to its end", "panic", "quit"])
def test_the_wheel_comes_back(process: IoProcess, how: str) -> None:
    """Whatever ends a falling note, the last that is sent is the pitch wheel at its centre: 0x2000,
    low seven bits first (MIDI 1.0)."""
    now = perf_counter()
    process.send([PlayNote(1, "companion", now, now + 0.6, 2, 60, 80, now, "fall")])
    up = wait_for(process, lambda up: bool(sent(up)) and (*sent(up)[-1], 127)[2] < 0x30)
    if how == "panic":
        process.send([SilenceAll(perf_counter())])
    if how == "quit":
        process.quit(PATIENCE_SEC)
        up += process.receive()
    else:
        up += wait_for(process, lambda up: bool(sent(up)) and sent(up)[-1] == (0xE2, 0x00, 0x40))
    assert sent(up)[-1] == (0xE2, 0x00, 0x40)
    assert sent(up)[-2] == (OFF, 60, 0)


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells how much a pipe holds")
def test_a_brain_that_does_not_read_delays_nothing(process: IoProcess) -> None:
    """With the pipe full it keeps what it has to tell, and notes leave all the same."""
    fcntl.fcntl(process.fileno(), fcntl.F_SETPIPE_SZ, 4096)
    count = 200
    play(process, *((i, 0.1 + i * 1e-3, 0.2 + i * 1e-3, i % 100) for i in range(1, count + 1)))
    give_up = perf_counter() + PATIENCE_SEC
    while waiting(process) < 4096 - 2 * SIZE:
        assert perf_counter() < give_up
    play(process, (9999, 0.5, 0.51, 120))
    up = wait_for(process, lambda up: bool(sent(up)) and sent(up)[-1] == (OFF, 120, 0))
    on = {r.id for r in up if isinstance(r, SentNote) and r.data[0] == ON}
    off = {r.id for r in up if isinstance(r, SentNote) and r.data[0] == OFF}
    assert on == off == {*range(1, count + 1), 9999}
    late_sec = [r.at - r.t for r in up if isinstance(r, SentNote)]
    assert sorted(late_sec)[len(late_sec) // 2] < 0.02, "the middle one of them"


def waiting(process: IoProcess) -> int:
    """Return how many bytes wait in the pipe."""
    return int.from_bytes(fcntl.ioctl(process.fileno(), termios.FIONREAD, bytes(4)), sys.byteorder)


def test_a_dead_process_is_noticed_and_harms_nobody(process: IoProcess) -> None:
    """After a kill: gone is seen, nothing that is sent raises, the pieces are put away."""
    os.kill(process.pid, signal.SIGKILL)
    to_the_end(process)
    assert process.gone
    for _ in range(3):
        play(process, (1, 0.0, 1.0, 60))
    assert process.receive() == []
    process.quit(PATIENCE_SEC)
    assert process.exit_code == -signal.SIGKILL


PARENT = """
import os, subprocess, sys
from jam.ports.wire import PlayNote, encode
from time import perf_counter
wishes, up = sys.argv[1].encode(), int(sys.argv[2])
io = subprocess.Popen([sys.executable, "-m", "jam.ports.io"], stdin=subprocess.PIPE, stdout=up,
                      start_new_session=True, bufsize=0)
os.close(up)
io.stdin.write(wishes + b"\\n")
sys.stdin.readline()
now = perf_counter()
notes = [PlayNote(i, "companion", now, now + 60, 2, 60 + i, 80, now) for i in range(3)]
late = PlayNote(9, "companion", now + 50, now + 60, 2, 90, 80, now)
io.stdin.write(b"".join(encode(note) for note in [*notes, late]))
io.wait()
"""


def test_when_the_brain_is_killed_every_note_is_ended() -> None:
    """kill -9 of the parent: the last bytes end all notes, nothing else sounds, it is gone."""
    read, write = os.pipe()
    command = [sys.executable, "-c", PARENT, WISHES.to_json(), str(write)]
    brain = subprocess.Popen(command, pass_fds=[write], stdin=subprocess.PIPE, bufsize=0)
    assert brain.stdin is not None
    os.close(write)
    decoder = Decoder()
    up: list[Up] = []
    while not up or not is_set_up(up):
        up += decoder.feed(more(read))  # type: ignore[arg-type]
    brain.stdin.write(b"play\n")
    while len(sent(up)) < 3:
        up += decoder.feed(more(read))  # type: ignore[arg-type]
    brain.kill()
    killed = perf_counter()
    brain.wait()
    brain.stdin.close()
    while data := more(read):
        up += decoder.feed(data)  # type: ignore[arg-type]
    os.close(read)
    assert sent(up) == [(ON, 60 + i, 80) for i in range(3)] + [(OFF, 60 + i, 0) for i in range(3)]
    last = [r for r in up if isinstance(r, SentNote)][-1]
    assert last.at - killed < 0.5


def more(fd: int) -> bytes:
    """Return what comes next; nothing at the end."""
    assert select.select([fd], [], [], PATIENCE_SEC)[0]
    return os.read(fd, 65536)


@pytest.mark.parametrize("said", [b"{broken\n", b'{"parts": 3}\n', b"no end of a line", b""])
def test_wishes_that_cannot_be_read(said: bytes) -> None:
    """One plain line of what is wrong, exit code 2, nothing on the pipe."""
    done = subprocess.run(
        [sys.executable, "-m", "jam.ports.io"], input=said, capture_output=True, check=False
    )
    assert done.returncode == 2
    assert done.stdout == b""
    assert done.stderr.count(b"\n") == 1
    assert done.stderr.startswith(b"jam.ports.io: ")
