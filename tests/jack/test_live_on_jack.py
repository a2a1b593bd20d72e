"""``jam play`` on real ports: a player who trades is answered in time, and the log tells it all.

The players, their music and the tune are invented (`performances`, `companion`).
"""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

import numpy as np
import pytest
from audit.report import audit

from . import performances
from .companion import chart
from .evening import SOLOIST, Evening, nothing_sounds, same_again, told_as_heard
from .ledger_audit import Note, ledger
from .server import Server

BPM = 290.0
BAR_SEC = 4 * 60.0 / BPM


@pytest.fixture
def traded(server: Server, tmp_path: Path, ending: ExitStack) -> Evening:
    """Two choruses of fours with a two-handed player, played to their end."""
    options = ["--setup", "two hands", "--turns", "4"]
    options += ["--chart", str(chart(tmp_path, bpm=BPM, choruses=2))]
    evening = Evening(server, tmp_path, ending, options)
    rng = np.random.default_rng(1)
    played = performances.trading(performances.BLUES_IN_F, 2, BPM, rng)
    evening.play(performances.moved(played, BAR_SEC))
    evening.hand.wait(60.0)
    evening.wait(lambda: "The tune is over" in evening.companion.words(), 5.0, "the end")
    assert evening.leave() == 0
    return evening


def test_a_player_who_trades_is_answered(traded: Evening) -> None:
    """Every turn of the companion's has a reply by the rules, nothing is heard outside of them,
    all notes are closed, are those of the log, and come again in a replay."""
    nothing_sounds(traded)
    assert not traded.book().loose
    told_as_heard(traded)
    report = audit(traded.folder, {})
    assert not report.findings, "\n".join(map(str, report.findings))
    turns = [turn for turn in report.session.turns if turn.who == "companion"]
    assert len(turns) == 3
    assert len(report.replies) == 3
    assert len(report.session.calls) == 3
    assert not outside(traded)
    same_again(traded)


def outside(evening: Evening) -> list[Note]:
    """Return the received notes of the soloist that begin outside a pickup before and a tail
    after its turns, by the turns and beats of the log alone."""
    log = evening.log()
    offset = evening.agreement().offset_sec
    beat_sec = 60.0 / BPM
    spans = [
        (row["t"] - 2 * beat_sec, row["t"] + (row["beats"] + 1) * beat_sec)
        for row in log.of("turn")
        if row["who"] == "companion"
    ]
    return [
        note
        for note in ledger(evening.heard()).notes
        if note.channel == SOLOIST
        and not any(start - 0.01 <= note.t - offset <= end + 0.01 for start, end in spans)
    ]
