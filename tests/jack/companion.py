"""The program under test, run as its user runs it, with a home folder of its own.

It hears the player on ``stage-right``, a clock on ``stage-clock`` and cues on ``stage-cues``, if it
is told so, and plays all its parts into ``hall-companion``.
"""

from __future__ import annotations

import fcntl
import json
import os
import pty
import re
import signal
import subprocess
import sys
import termios
import threading
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from .server import end, environment

CHART = """\
title: {title}
about: An invented form for tests; nobody plays it.
key: F
metre: 4/4
tempo: {bpm:g}
feel: swing
blues: true
sections:
  A:
    changes: |
      F7  | Bb7    | F7    | Cm7    |
      Bb7 | Bdim7  | F7    | Am7b5  |
      Gm7 | C7     | F7    | Gm7    |
    melody: |
      1/8: F4 _ A C5 _ A4 F - | - Ab F _ D _ C D | F _ A C5 _ Eb _ C | - D C Bb4 G _ - F |
      Ab _ F D _ F Ab _ | - Ab F D _ F _ _ | A _ C5 A4 _ G F _ | - G A C5 Eb _ C A4 |
      Bb _ A G _ F D _ | - E G Bb D5 _ C Bb4 | A _ F _ C _ A _ | Bb _ G _ F _ - - |
form: A
road_map:
  count_in: {count_in}
  head: {head}
  choruses: {choruses}
  head_out: {head_out}
"""

CONFIG = """\
style: bop
cues:
  take it: {control: 66}
  lay out: {control: 67}
  trade: {note: 21}
  last time: {note: 22}
  tap: {note: 23}
"""
"""The damper starts (as usual), the other pedals and three keys below the music are cues."""


def chart(
    folder: Path,
    *,
    bpm: float,
    choruses: int | str = 1,
    head: str = "none",
    head_out: str = "none",
    count_in: int = 1,
) -> Path:
    """Write the blues of `performances` as a chart, played as told, and return its path."""
    path = folder / "test-blues.yaml"
    path.write_text(
        CHART.format(
            title="Test Blues",
            bpm=bpm,
            count_in=count_in,
            choruses=choruses,
            head=head,
            head_out=head_out,
        ),
        encoding="utf-8",
    )
    return path


def home(folder: Path) -> Path:
    """Write a home folder with a configuration, and return it."""
    own = folder / "home"
    (own / "config").mkdir(parents=True)
    (own / "config" / "jam.yaml").write_text(CONFIG, encoding="utf-8")
    return own


class Companion:
    """A running ``jam play``; ``folder`` is that of its session, ``said`` the file of its words."""

    def __init__(
        self,
        folder: Path,
        options: Sequence[str],
        *,
        out: str = "hall-companion",
        terminal: bool = False,
    ) -> None:
        own = home(folder)
        self.folder = folder / "session"
        self.said = folder / "said.txt"
        self.master: int | None = None
        command = [sys.executable, "-m", "jam", "play", "--home", str(own)]
        command += ["--folder", str(self.folder), "--system", "JACK", "--out", out, "--seed", "1"]
        command += ["--in", "stage-right", *options]
        surroundings = {**environment(), "JAM_HOME": str(own)}
        with self.said.open("wb") as words:
            if terminal:
                self.master, slave = pty.openpty()
                self.process = subprocess.Popen(
                    command, env=surroundings, stdin=slave, stdout=slave, stderr=words,
                    start_new_session=True, preexec_fn=_own_terminal,
                )  # fmt: skip
                os.close(slave)
                threading.Thread(target=self._read, args=(self.master,), daemon=True).start()
            else:
                self.process = subprocess.Popen(
                    command, env=surroundings, stdin=subprocess.PIPE, stdout=words, stderr=words,
                    start_new_session=True,
                )  # fmt: skip

    def _read(self, master: int) -> None:
        """Keep what it shows, as a terminal would: who does not read makes it wait."""
        with self.said.open("ab", buffering=0) as words:
            while True:
                try:
                    shown = os.read(master, 4096)
                except OSError:
                    return
                if not shown:
                    return
                words.write(shown)

    # --- what it does --------------------------------------------------------------------

    def begun(self) -> bool:
        """Tell whether it has opened a session; an AssertionError with its words if it left."""
        if self.process.poll() is not None:
            raise AssertionError(f"it left with {self.process.returncode}: {self.words()}")
        return (self.folder / "session.jsonl").exists()

    def io_pid(self) -> int | None:
        """Return the process id of its I/O process, None while there is none."""
        for entry in Path("/proc").iterdir():
            if not entry.name.isdigit():
                continue
            try:
                words = (entry / "cmdline").read_bytes().split(b"\0")
                stat = (entry / "stat").read_text()
            except OSError:
                continue
            parent = int(stat.rpartition(")")[2].split()[1])
            if parent == self.process.pid and b"jam.ports.io" in words:
                return int(entry.name)
        return None

    def records(self, *kinds: str) -> list[dict[str, Any]]:
        """Return the whole lines of its log so far, of these kinds (none named: of all)."""
        try:
            text = (self.folder / "session.jsonl").read_bytes()
        except FileNotFoundError:
            return []
        rows = [json.loads(line) for line in text.rpartition(b"\n")[0].splitlines()]
        return [row for row in rows if not kinds or row["kind"] in kinds]

    # --- how it ends ---------------------------------------------------------------------

    def interrupt(self, within_sec: float = 10.0) -> int:
        """Ask it to leave, as Ctrl-C does, and return its exit code."""
        self.process.send_signal(signal.SIGINT)
        return self.gone(within_sec)

    def gone(self, within_sec: float = 10.0) -> int:
        """Wait for its end and return its exit code."""
        self.process.wait(within_sec)
        return self.close()

    def hang_up(self) -> None:
        """Close its terminal."""
        assert self.master is not None
        os.close(self.master)
        self.master = None

    def close(self) -> int:
        """End it, whatever it does; return its exit code."""
        code = end(self.process, within_sec=5.0)
        if self.master is not None:
            self.hang_up()
        return code

    def words(self) -> str:
        """Return what it wrote, without the codes of a terminal."""
        text = self.said.read_text(encoding="utf-8", errors="replace")
        return re.sub(r"\x1b\[[0-9;?]*[a-zA-Z]", "", text)


def _own_terminal() -> None:
    """Make the slave the controlling terminal, so that closing the master hangs up."""
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)
