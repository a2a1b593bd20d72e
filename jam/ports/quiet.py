"""Keep what MIDI and sound drivers print from C off the screen, and start no JACK server.

The drivers of ALSA, JACK and PortAudio write to standard error by themselves whatever a program
does with their exceptions. While they open or list something, that stream leads nowhere, for the
whole process.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager

NO_START = "JACK_NO_START_SERVER"
"""JACK's own switch: with it, a client that finds no server does not start one."""

_STDERR = 2


@contextmanager
def quiet() -> Iterator[None]:
    """Within it, nothing is printed to standard error and no JACK server is started."""
    before = os.environ.get(NO_START)
    os.environ[NO_START] = "1"
    kept = _silence()
    try:
        yield
    finally:
        _restore(kept)
        if before is None:
            del os.environ[NO_START]
        else:
            os.environ[NO_START] = before


def _silence() -> int | None:
    """Lead standard error nowhere; return a copy of it, None if there is no such stream."""
    if sys.stderr is not None:
        sys.stderr.flush()
    try:
        kept = os.dup(_STDERR)
    except OSError:
        return None
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, _STDERR)
    os.close(nowhere)
    return kept


def _restore(kept: int | None) -> None:
    if kept is not None:
        os.dup2(kept, _STDERR)
        os.close(kept)
