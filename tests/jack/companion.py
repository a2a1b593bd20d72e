"""The program under test, run as its user runs it, with a home folder of its own.

Its ports are told in a configuration: the player's line from ``stage-right``, the band from
``stage-band``, clock and cues from ``stage-clock`` and ``stage-cues``; the soloist to
``hall-companion``, the rhythm section to ``hall-band``, the click to ``hall-click``.
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
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from .server import connections, end, environment, until

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
ports: {{system: JACK, player: {player}, band: {band}, clock: {clock}, cues: {cues}, out: {out}}}
{more}
parts:
  band: {{port: {band_out}, sound: none}}
  click: {{port: {click_out}, sound: none}}
  companion: {{port: {companion_out}, sound: none}}
"""


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


def home(folder: Path, more: str = "", **ports: str) -> Path:
    """Write a home folder with a configuration; ``ports`` name others than the usual ones."""
    usual = {
        "player": "stage-right",
        "band": "none",
        "clock": "none",
        "cues": "none",
        "out": "hall-companion",
        "companion_out": "hall-companion",
        "band_out": "none",
        "click_out": "none",
    }
    own = folder / "home"
    (own / "config").mkdir(parents=True)
    text = CONFIG.format(**{**usual, **ports}, more=more)
    (own / "config" / "jam.yaml").write_text(text, encoding="utf-8")
    return own


class Companion:
    """A running ``jam play``; ``folder`` is that of its session, ``said`` the file of its words."""

    def __init__(
        self,
        folder: Path,
        own: Path,
        options: Sequence[str],
        *,
        terminal: bool = False,
        env: Mapping[str, str] | None = None,
    ) -> None:
        self.folder = folder / "session"
        self.said = folder / "said.txt"
        self.master: int | None = None
        command = [sys.executable, "-m", "jam", "play", "--home", str(own)]
        command += ["--folder", str(self.folder), *options]
        surroundings = {**environment(), **(env or {}), "JAM_HOME": str(own)}
        with self.said.open("wb") as out:
            if terminal:
                self.master, slave = pty.openpty()
                self.process = subprocess.Popen(
                    command, env=surroundings, stdin=slave, stdout=slave, stderr=out,
                    start_new_session=True, preexec_fn=_own_terminal,
                )  # fmt: skip
                os.close(slave)
            else:
                self.process = subprocess.Popen(
                    command, env=surroundings, stdin=subprocess.PIPE, stdout=out, stderr=out,
                    start_new_session=True,
                )  # fmt: skip

    # --- what it does --------------------------------------------------------------------

    def ready(self, *inputs: str, outputs: Sequence[str] = ("hall-companion",)) -> None:
        """Wait until it is connected to the ports named."""
        wanted = {*inputs, *outputs}
        until(lambda: wanted <= self._linked(), 15.0, f"the companion at {sorted(wanted)}")

    def _linked(self) -> set[str]:
        if self.process.poll() is not None:
            words = self.said.read_text(encoding="utf-8", errors="replace")
            raise AssertionError(f"it left with {self.process.returncode}: {words}")
        found = set()
        for pair in connections():
            for one, other in (pair, pair[::-1]):
                if not other.startswith(("stage-", "hall-", "system:")):
                    found.add(one.split(":")[0])
        return found

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
