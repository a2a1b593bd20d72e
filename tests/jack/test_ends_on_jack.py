"""However it ends, nothing is left sounding at the receiver, and the log can be read.

Processes are killed in mid-phrase, interrupted at ten moments, the terminal is closed.
"""

from __future__ import annotations

import os
import signal
from contextlib import ExitStack
from itertools import pairwise
from pathlib import Path
from time import perf_counter, sleep

import numpy as np
import pytest

from .companion import chart
from .evening import Evening, nothing_sounds, same_again, told_as_heard
from .ledger_audit import align, notes_only
from .server import Server, has_left, until

BPM = 264.0
COUNT_IN_SEC = 4 * 60.0 / BPM
UNWRITTEN_SEC = 1.2
"""What a log may lack at its end when its program was killed: it waits a quarter of a second for
reports, and is flushed every half second."""

RNG = np.random.default_rng(9)
MOMENTS_SEC = [round(float(t), 3) for t in RNG.uniform(0.05, 3.5, 10)]


def begun(
    server: Server, tmp_path: Path, ending: ExitStack, *, terminal: bool = False
) -> tuple[Evening, float]:
    """Start a session in which the companion plays first, and press; return the moment of it."""
    options = ["--turns", "8", "--first", "companion"]
    options += ["--chart", str(chart(tmp_path, bpm=BPM, choruses="open"))]
    evening = Evening(server, tmp_path, ending, options, terminal=terminal)
    return evening, evening.play([])


def test_the_brain_is_killed_in_mid_phrase(
    server: Server, tmp_path: Path, ending: ExitStack
) -> None:
    """kill -9: every note is ended within a quarter of a second, the I/O process leaves, the log
    is whole up to its last flush, and gives the same notes again."""
    evening, _ = begun(server, tmp_path, ending)
    evening.wait(evening.in_mid_phrase, 10.0, "a phrase")
    io = evening.companion.io_pid()
    assert io is not None
    killed = perf_counter()
    evening.companion.process.kill()
    until(lambda: has_left(io), 2.0, "the I/O process to leave")
    sleep(0.1)
    nothing_sounds(evening)
    assert max(note.end for note in evening.book().notes) < killed + 0.25
    log = evening.log()
    last = log.records[-1]["at"]
    assert last > killed - evening.origin() - UNWRITTEN_SEC
    before = [got for got in evening.sent() if got.t < last - 0.05]
    agreed = align(notes_only(before), notes_only(evening.heard()))
    assert not agreed.missing, agreed.missing
    same_again(evening)


def test_the_io_process_is_killed_in_mid_phrase(
    impatient_server: Server, tmp_path: Path, ending: ExitStack
) -> None:
    """kill -9 of the I/O process: another one plays within a second, the form goes on, what was
    left on is ended."""
    evening, _ = begun(impatient_server, tmp_path, ending)
    evening.wait(evening.in_mid_phrase, 10.0, "a phrase")
    first = evening.companion.io_pid()
    assert first is not None
    killed = perf_counter()
    os.kill(first, signal.SIGKILL)
    left = len(evening.book().open)
    evening.wait(lambda: evening.companion.io_pid() not in (None, first), 1.0, "a new process")
    evening.wait(lambda: evening.heard()[-1].t > killed + 0.1, 2.0, "notes again")
    back = min(got.t for got in evening.heard() if got.t > killed + 0.1)
    assert back < killed + 1.0
    sleep(2.0)
    assert evening.leave() == 0
    nothing_sounds(evening)
    assert evening.book().longest_sec < 2.5, left
    beats = [row["t"] for row in evening.log().of("beat")]
    assert beats[-1] > killed - evening.origin() + 2.0
    assert np.allclose([b - a for a, b in pairwise(beats)], 60.0 / BPM, atol=1e-4)
    same_again(evening)


@pytest.mark.parametrize("moment_sec", MOMENTS_SEC)
def test_interrupted_at_any_moment(
    server: Server, tmp_path: Path, ending: ExitStack, moment_sec: float
) -> None:
    """Ctrl-C: all notes are ended, and the session is kept whole."""
    evening, pressed = begun(server, tmp_path, ending)
    sleep(max(0.0, pressed + moment_sec - perf_counter()))
    assert evening.leave() == 0
    nothing_sounds(evening)
    told_as_heard(evening)
    assert not evening.log().cut
    assert (evening.folder / "session.mid").exists()
    same_again(evening)


def test_the_terminal_is_closed(server: Server, tmp_path: Path, ending: ExitStack) -> None:
    """A closed terminal is a wish to leave: all notes are ended, and the session is kept whole."""
    evening, _ = begun(server, tmp_path, ending, terminal=True)
    evening.wait(evening.in_mid_phrase, 10.0, "a phrase")
    evening.companion.hang_up()
    evening.companion.gone(5.0)
    nothing_sounds(evening)
    told_as_heard(evening)
    assert not evening.log().cut
    assert (evening.folder / "session.mid").exists()
    same_again(evening)
