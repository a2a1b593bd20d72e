"""The I/O process: ``python -m jam.ports.io``. It owns MIDI and sound, and is always on time.

It reads one line of wishes (`jam.ports.wishes`) from standard input, opens what is there, says
`Ready` on standard output, and then talks in records (`jam.ports.wire`). Between messages it
sleeps, and spins for the last 0.6 ms before one. It never waits for the brain: if the brain does
not read, what it is told waits; if the brain dies (end of file), every note is ended at once. It
ignores SIGINT and SIGHUP, which are meant for the brain; SIGTERM ends all notes and the process.

Exit codes: 0, 2 for wishes that cannot be read, 1 for a fault that does not pass.
"""

from __future__ import annotations

import os
import signal
import sys
from time import perf_counter, sleep

from jam.errors import JamError, PortError
from jam.ports.midi import MidiSystem
from jam.ports.pipes import Outbox, read_now, set_nonblocking
from jam.ports.priority import calm_interpreter, raise_priority
from jam.ports.sounding import SoundDevice, Sounding, Tell
from jam.ports.switchboard import Switchboard
from jam.ports.wire import SIZE, Decoder, News, Quit, Ready, Up, encode
from jam.ports.wishes import NONE, Wishes

SPIN_SEC = 0.0006
DENSE_SEC, SHORT_SPIN_SEC = 0.002, 0.0001
"""How long before a message to spin, and how long if the one before it left within `DENSE_SEC`:
what has real-time priority and spins nearly all the time is stopped by the system for a while."""

POLL_SEC = 0.001
SOUND_SEC = 0.005
LOOK_SEC = 0.5
RETRY_SEC = 5.0
"""How often to read what came in, ask the sound, list the ports, and look for a MIDI system."""

CALM_SEC = 0.005
"""Ports are listed when nothing is due for so long, but at the latest after two `LOOK_SEC`."""

LINGER_SEC = 0.05
"""How long ports stay open after the last message: a driver may take it a period later."""

_AT_ONCE_BYTES = 32 * SIZE
_KEPT_BYTES = 1 << 20
_LAST_WORDS_SEC = 0.2
_FAULTS = 20
_STDIN, _STDOUT, _STDERR = 0, 1, 2


class IoLoop:
    """The loop around the switchboard; ``down`` and ``up`` are the pipes."""

    def __init__(self, wishes: Wishes, down: int, up: int) -> None:
        self._wishes = wishes
        self._down = down
        self._outbox = Outbox(up, _KEPT_BYTES)
        self._decoder = Decoder()
        self._leaving = False
        self._faults = 0
        self._dropped = 0
        self._sent_at = self._polled = self._asked = self._looked = self._tried = 0.0
        set_nonblocking(down)
        set_nonblocking(up)
        priority = raise_priority() if wishes.real_time else "usual priority, as wished"
        self._board = self._open()
        self._news("priority", priority)
        calm_interpreter()
        self._tell(Ready(perf_counter(), os.getpid()))
        self._outbox.flush()

    def leave(self, *_: object) -> None:
        """End all notes and the loop, soon."""
        self._leaving = True

    def run(self, said: bytes = b"") -> int:
        """Loop until told to leave; return the exit code. ``said`` was read beforehand."""
        try:
            self._obey(said)
            while not self._leaving and self._faults < _FAULTS:
                try:
                    self._turn()
                except Exception as error:  # told and survived: notes are owed their ends
                    self._faults += 1
                    self._news("fault", f"{type(error).__name__}: {error}")
        finally:
            self._end()
        return 0 if self._faults < _FAULTS else 1

    # --- one turn ------------------------------------------------------------------------

    def _turn(self) -> None:
        board = self._board
        dense = perf_counter() < self._sent_at + DENSE_SEC
        spin = SHORT_SPIN_SEC if dense else SPIN_SEC
        while board.next_due - perf_counter() <= spin:
            self._send_next()
            if perf_counter() > self._polled + 2 * POLL_SEC:
                break
        if perf_counter() >= self._polled + POLL_SEC:
            self._chores()
        rest = min(board.next_due - spin, self._polled + POLL_SEC) - perf_counter()
        if rest > 0.0:
            sleep(rest)

    def _send_next(self) -> None:
        due, message = self._board.next_due, self._board.next_message()
        if message is not None:
            while perf_counter() < due:
                pass
            self._sent_at = due
            self._board.send(message)

    def _chores(self) -> None:
        now = self._polled = perf_counter()
        data = read_now(self._down, _AT_ONCE_BYTES)
        if data is None:
            self._leaving = True
            return
        if data:
            self._obey(data)
        self._board.poll()
        if now >= self._asked + SOUND_SEC:
            self._asked = now
            self._board.poll_sound()
        if now >= self._looked + LOOK_SEC:
            self._look(now)
        self._flush()

    def _obey(self, data: bytes) -> None:
        for record in self._decoder.feed(data):
            if isinstance(record, Quit):
                self._leaving = True
                return
            self._board.take(record)  # type: ignore[arg-type]

    def _look(self, now: float) -> None:
        calm = self._board.next_due - now
        if calm < CALM_SEC and now < self._looked + 2 * LOOK_SEC:
            return
        self._looked = now
        if self._board.system is None and now >= self._tried + RETRY_SEC and calm > LINGER_SEC:
            self._tried = now
            self._board.system = open_midi(self._wishes, None)
        self._board.look()
        self._faults = 0

    # --- telling -------------------------------------------------------------------------

    def _tell(self, record: Up) -> None:
        self._outbox.put(encode(record))

    def _news(self, topic: str, text: str) -> None:
        self._tell(News(topic, text, perf_counter()))

    def _flush(self) -> None:
        outbox = self._outbox
        if outbox.flush() and outbox.dropped > self._dropped:
            lost, self._dropped = outbox.dropped - self._dropped, outbox.dropped
            self._news("fault", f"{lost} reports were dropped: nobody read them for too long")
        if outbox.gone:
            self._leaving = True

    # --- begin and end -------------------------------------------------------------------

    def _open(self) -> Switchboard:
        wishes = self._wishes
        system = open_midi(wishes, self._news)
        parts = [wish.part for wish in wishes.parts if wish.sound is not None]
        sound = Sounding(parts, self._news)
        board = Switchboard(wishes, system, sound, self._tell, perf_counter)
        board.look()
        device = open_sound(wishes, self._news)  # after MIDI, which would hold it up under JACK
        if device is not None:
            sound.open(device)
        else:
            board.do_without_sound()
        self._looked = self._tried = perf_counter()
        return board

    def _end(self) -> None:
        for step in (self._board.silence, self._board.restore, self._say_last, self._board.close):
            try:
                step()
            except Exception as error:  # each of the steps is owed, whatever the others do
                self._news("fault", f"{type(error).__name__}: {error}")

    def _say_last(self) -> None:
        said = perf_counter()
        while not self._outbox.flush() and perf_counter() < said + _LAST_WORDS_SEC:
            sleep(POLL_SEC)
        sleep(max(0.0, said + LINGER_SEC - perf_counter()))


def open_midi(wishes: Wishes, news: Tell | None) -> MidiSystem | None:
    """Return the MIDI system wished for; None if there is none, which is told.

    ``memory`` has a loop in it (`jam.ports.loopback`).
    """
    if wishes.midi_system == NONE:
        return None
    from jam.ports.loopback import loopback  # noqa: PLC0415 (as below)
    from jam.ports.systems import MEMORY, open_system  # noqa: PLC0415 (drivers only if they are wished)

    if wishes.midi_system == MEMORY:
        return loopback(wishes.name, perf_counter)
    try:
        return open_system(wishes.midi_system, wishes.name)
    except PortError as error:
        if news is not None:
            news("missing", str(error))
        return None


def open_sound(wishes: Wishes, news: Tell) -> SoundDevice | None:
    """Return the built-in sound if anything wishes for it; None if there is none, which is told."""
    parts = [wish for wish in wishes.parts if wish.sound is not None]
    if wishes.sound.device == NONE or not (parts or wishes.thru.to in ("sound", "both")):
        return None
    try:
        from jam.ports.sound_out import SoundOut  # noqa: PLC0415 (numpy only if it is wished)

        device = SoundOut(wishes.sound, parts, latency_sec=wishes.sound_ms / 1000.0)
    except PortError as error:
        news("missing", str(error))
    except Exception as error:  # a driver that fails in its own way: MIDI must go on
        news("fault", f"the built-in sound does not start: {type(error).__name__}: {error}")
    else:
        news("sound", device.facts)
        return device
    return None


def main() -> int:
    """Run the process; return its exit code."""
    for name in ("SIGINT", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_IGN)
    up = _keep_stdout()
    try:
        line, said = _first_line()
        loop = IoLoop(Wishes.from_json(line), _STDIN, up)
    except JamError as error:
        os.write(_STDERR, f"jam.ports.io: {error}\n".encode())
        return 2
    signal.signal(signal.SIGTERM, loop.leave)
    return loop.run(said)


def _keep_stdout() -> int:
    """Keep the pipe for ourselves: whatever a library prints goes to standard error."""
    up = os.dup(_STDOUT)
    os.dup2(_STDERR, _STDOUT)
    return up


def _first_line() -> tuple[str, bytes]:
    """Return the first line, and what was read beyond it."""
    data = b""
    while b"\n" not in data:
        more = os.read(_STDIN, 4096)
        if not more:
            raise JamError("the wishes ended before they were a whole line")
        data += more
    line, _, said = data.partition(b"\n")
    return line.decode("utf-8", "replace"), said


if __name__ == "__main__":
    sys.exit(main())
