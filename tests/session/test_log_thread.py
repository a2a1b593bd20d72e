"""The log of a live session: in order, whole, and no trouble of the disk stops the music."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from jam import log
from jam.session.folder import LOG, read_session
from jam.session.log_thread import LogThread

HEADER = log.session(program="0", machine="", seed=1, style="bop", chart=None, clock="internal")


def test_records_come_out_in_order_of_at(tmp_path: Path) -> None:
    """What is reported up to the waiting time late stands where it belongs."""
    thread = LogThread(tmp_path, HEADER)
    rng = random.Random(5)
    for step in range(400):
        now = step * 0.01
        late = rng.uniform(0.0, 0.2)
        thread.reached(now)
        thread.write([log.effort(now, step), log.cue(max(0.0, now - late), "tap")])
    thread.close()
    records = read_session(tmp_path).records
    assert len(records) == 800
    assert [r["at"] for r in records] == sorted(r["at"] for r in records)


def test_the_header_is_there_at_once(tmp_path: Path) -> None:
    """A program that dies right after the start leaves a log that can be read."""
    thread = LogThread(tmp_path, HEADER)
    assert read_session(tmp_path).header["style"] == "bop"
    thread.close()


def test_a_full_disk_is_told_and_survived(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Writing fails: nobody who puts records down notices, but the trouble is there to be told."""
    thread = LogThread(tmp_path, HEADER)

    class Full:
        def write(self, text: str) -> int:
            raise OSError(28, "No space left on device")

        def flush(self) -> None:
            return

        def close(self) -> None:
            return

    opened = thread._stream
    monkeypatch.setattr(thread, "_stream", Full())
    thread.write([log.effort(0.0, 1)])
    thread.close()
    opened.close()
    assert "No space left" in thread.trouble
    assert (tmp_path / LOG).exists()
