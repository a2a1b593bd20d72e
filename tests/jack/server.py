"""A JACK server without a sound card, and processes that live on it.

The server is jackd2's dummy driver: 48,000 frames a second, 128 frames a period. It waits for its
clients (synchronous mode): otherwise a client that is late by a period loses what it sent or got in
it, and that on a busy machine is the machine's doing. A client that was killed holds it up for
some ten times `TIMEOUT_MS`, and programs that come and go many times a second for longer (both
measured). Names of servers are used up (JACK starts no more than about eight different ones on a
machine), so there is one name; the variable JAM_TESTS_JACK names another. Two runs of the tests
take turns with it.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from time import perf_counter, sleep
from typing import Any

NAME = os.environ.get("JAM_TESTS_JACK", "jam-tests")
TIMEOUT_MS = 25
LOOK_SEC = 0.1
"""How often to ask a server what is there: each look is a program that comes and goes."""

RATE_HZ = 48_000
PERIOD_FRAMES = 128
PERIOD_SEC = PERIOD_FRAMES / RATE_HZ

HERE = Path(__file__).resolve().parent


class BenchError(Exception):
    """The bench itself does not work: nothing can be said of the program under test."""


def missing() -> str:
    """Return why no server can be had here; empty when it can."""
    tools = ("jackd", "jack_lsp", "jack_rec")
    gone = [tool for tool in tools if shutil.which(tool) is None]
    return f"there is no {', '.join(gone)}: sudo apt install jackd2" if gone else ""


def environment() -> dict[str, str]:
    """Return the environment of every process on the server."""
    env = {k: v for k, v in os.environ.items() if k != "JACK_PROMISCUOUS_SERVER"}
    return env | {
        "JACK_DEFAULT_SERVER": NAME,
        "JACK_NO_START_SERVER": "1",
        "PYTHONUNBUFFERED": "1",
    }


def until(what: Callable[[], Any], within_sec: float, why: str, every_sec: float = 0.01) -> Any:
    """Return what ``what`` returns as soon as it is true; a BenchError when it stays false."""
    end = perf_counter() + within_sec
    while not (found := what()):
        if perf_counter() > end:
            raise BenchError(f"not within {within_sec:g} s: {why}")
        sleep(every_sec)
    return found


class Server:
    """A running server."""

    def __init__(self, folder: Path, timeout_ms: int = TIMEOUT_MS) -> None:
        self.log = folder / "jackd.log"
        until(
            lambda: not ports(),
            60.0,
            f"another run to be done with the JACK server {NAME}",
            LOOK_SEC,
        )
        command = ["jackd", "--no-realtime", "-S", "-t", str(timeout_ms), "-n", NAME, "-d", "dummy"]
        command += ["-r", str(RATE_HZ), "-p", str(PERIOD_FRAMES)]
        with self.log.open("w") as out:
            self.process = subprocess.Popen(
                command, env=environment(), stdout=out, stderr=out, start_new_session=True
            )
        until(self._answers, 10.0, f"a JACK server; it said: {self.log.read_text()}", LOOK_SEC)

    def _answers(self) -> bool:
        if self.process.poll() is not None:
            raise BenchError(f"the JACK server left: {self.log.read_text()}")
        return "server starting" in self.log.read_text() and bool(ports())

    def stop(self) -> None:
        """End the server, by its own process."""
        end(self.process)


def run_tool(*command: str) -> str:
    """Run a tool of the JACK package and return what it wrote; "" when it failed."""
    done = subprocess.run(command, env=environment(), capture_output=True, text=True, check=False)
    return done.stdout if done.returncode == 0 else ""


def ports(*options: str) -> list[str]:
    """Return the lines that jack_lsp writes."""
    return run_tool("jack_lsp", *options).splitlines()


def connections() -> list[tuple[str, str]]:
    """Return the pairs of ports that are connected, each pair once, in alphabetical order."""
    pairs = set()
    port = ""
    for line in ports("-c"):
        if line.startswith("   "):
            pairs.add(tuple(sorted((port, line.strip()))))
        else:
            port = line
    return sorted((a, b) for a, b in pairs)


def end(process: subprocess.Popen[Any], within_sec: float = 2.0) -> int:
    """End a process and its streams; return its exit code."""
    for stream in (process.stdin, process.stdout, process.stderr):
        if stream is not None:
            stream.close()
    if process.poll() is None:
        process.terminate()
        try:
            process.wait(within_sec)
        except subprocess.TimeoutExpired:
            process.kill()
    return process.wait()


def has_left(pid: int) -> bool:
    """Tell whether a process has left, though nobody may have taken note of it."""
    try:
        stat = Path(f"/proc/{pid}/stat").read_text(encoding="ascii")
    except OSError:
        return True
    return stat.rpartition(")")[2].split()[0] == "Z"


class Helper:
    """A program of this folder in a process of its own, told by lines of JSON, quit by the end of
    its input."""

    def __init__(self, script: str, options: Sequence[str], out: Path) -> None:
        self.out = out
        self._stream = out.open("wb")
        self.process = subprocess.Popen(
            [sys.executable, str(HERE / script), *options],
            env=environment(),
            stdin=subprocess.PIPE,
            stdout=self._stream,
            start_new_session=True,
        )
        until(self._ready, 10.0, f"{script} to be ready")

    def _ready(self) -> bool:
        if self.process.poll() is not None:
            raise BenchError(f"{self.process.args!r} left with {self.process.returncode}")
        return bool(self.lines())

    def lines(self) -> list[dict[str, Any]]:
        """Return all that it has written so far, its word that it is ready first."""
        whole = self.out.read_bytes().rpartition(b"\n")[0]
        return [json.loads(line) for line in whole.splitlines()]

    def tell(self, order: Mapping[str, Any]) -> None:
        """Hand it a line."""
        assert self.process.stdin is not None
        self.process.stdin.write(json.dumps(order).encode() + b"\n")
        self.process.stdin.flush()

    def quit(self) -> list[dict[str, Any]]:
        """Close its input, wait for its end, and return all that it wrote after being ready."""
        assert self.process.stdin is not None
        self.process.stdin.close()
        try:
            self.process.wait(10.0)
        except subprocess.TimeoutExpired:
            self.process.kill()
        end(self.process)
        self._stream.close()
        return self.lines()[1:]

    def kill(self) -> None:
        """End it as a fault would: at once."""
        self.process.send_signal(signal.SIGKILL)
        end(self.process)
        self._stream.close()


class Performer(Helper):
    """Plays events ``(t, port, bytes)`` into MIDI outputs of its own: see `performer`."""

    def __init__(self, names: Sequence[str], folder: Path) -> None:
        super().__init__("performer.py", list(names), folder / "performer.jsonl")
        self.played = 0

    def play(self, events: Sequence[Sequence[Any]], start: float) -> None:
        """Play ``events``, their ``t`` seconds after the machine second ``start``."""
        self.tell({"start": start, "events": list(events)})
        self.played += len(events)

    def wait(self, within_sec: float) -> list[dict[str, Any]]:
        """Wait until all has been played, and return it with the machine seconds it left."""
        until(lambda: len(self.lines()) > self.played, within_sec, "the performance to end")
        return self.lines()[1:]


class Receiver(Helper):
    """Writes down what comes into MIDI inputs of its own: see `receiver`."""

    def __init__(self, names: Sequence[str], folder: Path) -> None:
        super().__init__("receiver.py", list(names), folder / "receiver.jsonl")
