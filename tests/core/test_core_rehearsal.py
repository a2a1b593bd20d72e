"""A whole rehearsal on cues: what is played keeps every rule, and is played again from its folder.

Head, two choruses of the companion's on cue, a chorus of fours on cue, last time, head out with
the chart's tag and the last chord held until it is cut off.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby
from pathlib import Path

import pytest
from audit.report import audit
from sessions import cue, line
from test_core_horn import comping

from jam import log
from jam.charts.model import RoadMap
from jam.core.core import Core
from jam.core.setup import Setup, Turns
from jam.events import Input
from jam.listening.who import Split
from jam.session.config import Config
from jam.session.copies import setup_record, write_copies
from jam.session.drive import Drive
from jam.session.folder import log_into, read_session
from jam.session.replay import replay
from jam.session.resources import find_chart, find_style

CHART, STYLE = "lamplight-blues", "bop"
CHORUS, BAR, BPM = 48.0, 4.0, 120.0


def setup_of(split: Split) -> Setup:
    """Return the missing horn over a twelve-bar blues, with a bar of count-in and a band."""
    style = find_style(STYLE).value
    return Setup(
        seed=3, style=style, styles=(style,), chart=find_chart(CHART).value, tempo_bpm=BPM,
        split=split, turns=Turns("on cue"), turn_signal=True,
        road_map=RoadMap(1, "companion", None, "companion"),
    )  # fmt: skip


def rehearse(folder: Path, made: Setup, inputs: list[Input], until: float) -> Drive:
    """Play the session into a folder, all that is needed to play it again beside it."""
    write_copies(folder, made, Config(), find_chart(CHART).entry.path)
    header = log.session(
        program="test", machine="here", seed=made.seed, style=STYLE, chart=CHART,
        clock=made.clock, setup=setup_record(made),
    )  # fmt: skip
    with log_into(folder, header) as writer:
        drive = Drive(Core(made), writer.write, grants=((0.0, 6000),))
        drive.add(inputs)
        drive.run(until)
        drive.finish(until)
    return drive


def beats(*inputs: Input) -> list[Input]:
    """Return inputs whose seconds are beats of 120 bpm, after the bar of count-in."""
    return [replace(event, t=round(event.t + BAR * 60.0 / BPM, 6)) for event in inputs]


def on(beat: float, name: str) -> Input:
    """Return a cue on a beat."""
    return cue(beat * 60.0 / BPM, name)


@pytest.mark.slow
@pytest.mark.parametrize("split", [Split("comping"), Split("fixed", 60)], ids=lambda s: s.kind)
def test_a_rehearsal(tmp_path: Path, split: Split) -> None:
    """Each part is where its cue put it; nothing sounds after the cut-off."""
    cues = [
        on(CHORUS - 6.5, "take it"),
        on(3 * CHORUS - 2.2, "trade"),
        on(3.7 * CHORUS, "last time"),
        on(4 * CHORUS + 9.3, "fermata"),
        on(5 * CHORUS + 30.0, "cut off"),
    ]
    theirs = comping(0, 5 * CHORUS) if split.kind == "comping" else []
    for first in (3 * CHORUS, 3 * CHORUS + 32):
        theirs += line(first + 1, first + 14) if split.kind == "fixed" else []
    until = 2.0 + (5 * CHORUS + 40.0) / 2.0
    drive = rehearse(tmp_path, setup_of(split), beats(*cues, *theirs), until)
    assert drive.ended
    assert drive.now == pytest.approx(2.0 + (5 * CHORUS + 30.0) / 2.0)

    report = audit(tmp_path, {})
    assert not report.findings, "\n".join(map(str, report.findings))
    told = read_session(tmp_path)
    assert not told.of("fault")
    mine = [(t.beat, t.end) for t in report.session.turns if t.who == "companion"]
    assert mine[0] == (0.0, 3 * CHORUS)  # the head is its turn, too
    assert (3 * CHORUS + 16, 3 * CHORUS + 32) in mine
    chorus = [int((reply.notes[0].beat + 1.0) // CHORUS) for reply in report.replies]
    assert [number for number, _ in groupby(chorus)] == [1, 2, 3]
    melody = [r for r in told.of("sent") if r["part"] == "melody" and r["bytes"][0] >> 4 == 9]
    heads = [int((r["t"] - 2.0 + 0.6) * 2.0 // CHORUS) for r in melody]
    assert {number for number, _ in groupby(heads)} <= {0, 4, 5}
    assert {0, 4} <= set(heads)
    assert bool(told.of("call")) == (split.kind == "fixed")
    assert replay(tmp_path).same
