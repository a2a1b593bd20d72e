"""A whole tune on cues, and a pianist who comps with both hands, on real ports."""

from __future__ import annotations

from contextlib import ExitStack
from itertools import groupby
from pathlib import Path

import numpy as np
from audit.report import audit

from . import performances
from .companion import chart
from .evening import Evening, nothing_sounds, same_again, told_as_heard
from .performances import BLUES_IN_F, Event
from .server import Server

BPM = 340.0
BEAT_SEC = 60.0 / BPM
CHORUS_BEATS = 48
COUNT_IN_SEC = 4 * BEAT_SEC
TRADE, LAST_TIME = 21, 22
"""Keys that are cues in the configuration of `companion`."""


def at(beat: float) -> float:
    """Return the seconds from the press, which starts a bar of count-in, to a beat."""
    return COUNT_IN_SEC + beat * BEAT_SEC


def key(beat: float, pitch: int) -> list[Event]:
    """Return a cue key pressed on a beat."""
    return list(performances.note(at(beat), 0.05, "cues", pitch, 100))


def test_a_rehearsal(server: Server, tmp_path: Path, ending: ExitStack) -> None:
    """Head, two choruses of the companion's on cue, a chorus of fours, last time, head out: each is
    where its cue put it, and all of it keeps the rules."""
    options = ["--setup", "two hands", "--turns", "on cue", "--cues-in", "stage-cues"]
    tune = chart(tmp_path, bpm=BPM, choruses="open", head="companion", head_out="companion")
    evening = Evening(
        server, tmp_path, ending, [*options, "--chart", str(tune)], stage=("right", "cues")
    )
    rng = np.random.default_rng(6)
    events: list[Event] = list(performances.comping(BLUES_IN_F, range(60), BPM, rng, "right"))
    for first in (36, 44):
        events += performances.line(BLUES_IN_F, range(first, first + 4), BPM, rng, "right")
    played = performances.moved(performances.ordered(events), COUNT_IN_SEC)
    take_it = performances.press(at(CHORUS_BEATS - 6), "cues", 66)
    cues = [*take_it, *key(3 * CHORUS_BEATS - 2, TRADE), *key(4 * CHORUS_BEATS - 6, LAST_TIME)]
    evening.play([*played, *cues])
    evening.hand.wait(80.0)
    evening.wait(lambda: "The tune is over" in evening.companion.words(), 5.0, "the end")
    assert evening.leave() == 0
    nothing_sounds(evening)
    told_as_heard(evening)
    report = audit(evening.folder, {})
    assert not report.findings, "\n".join(map(str, report.findings))
    sent = [row for row in evening.log().of("sent") if row["bytes"][0] >= 0x90]
    melody = [int(beat_of(evening, r["t"]) // CHORUS_BEATS) for r in sent if r["part"] == "melody"]
    assert [number for number, _ in groupby(melody)] == [0, 4]
    turns = [(t.beat, t.end, t.who) for t in report.session.turns if t.who == "companion"]
    assert turns[0] == (0, 3 * CHORUS_BEATS, "companion")  # the head is its turn, too
    fours = [t for t in turns if t[0] >= 3 * CHORUS_BEATS and t[1] <= 4 * CHORUS_BEATS]
    assert [(start % CHORUS_BEATS, end - start) for start, end, _ in fours] == [(16, 16)]
    same_again(evening)


def beat_of(evening: Evening, t: float) -> float:
    """Return the beat at second ``t`` of the session, by its tempo and its first beat."""
    first = evening.log().of("beat")[0]
    return float(first["beat"]) + (t - first["t"]) / BEAT_SEC + 0.25


def test_comping_with_both_hands_is_no_call(
    server: Server, tmp_path: Path, ending: ExitStack
) -> None:
    """Sixteen bars of two-handed comping in the companion's turn: it plays on undisturbed, and
    nothing of it is taken for a phrase."""
    options = ["--setup", "horn", "--melody", "none", "--cues-in", "stage-cues"]
    tune = chart(tmp_path, bpm=BPM, choruses="open")
    evening = Evening(
        server, tmp_path, ending, [*options, "--chart", str(tune)], stage=("right", "cues")
    )
    rng = np.random.default_rng(8)
    played = performances.ordered(performances.two_hands(BLUES_IN_F, range(17), BPM, rng, "right"))
    cue = performances.press(at(-2.0), "cues", 66)
    evening.play([*performances.moved(played, COUNT_IN_SEC), *cue])
    evening.hand.wait(40.0)
    assert evening.leave() == 0
    nothing_sounds(evening)
    told_as_heard(evening)
    log = evening.log()
    assert not log.of("call")
    assert {row["channel_split"] for row in log.of("in") if row["bytes"][0] >= 0x90} <= {
        "comping",
        None,
    }
    replies = log.of("reply")
    cut = [row for row in replies if row.get("replans") and not row["notes"]]
    assert not [row for row in cut if row["t"] < log.of("beat")[-1]["t"] - 4 * BEAT_SEC], cut
    solo = [n for row in replies if "replans" not in row for n in row["notes"]]
    assert {int(note["beat"] // 16) for note in solo} >= {0, 1, 2, 3}
    report = audit(evening.folder, {})
    # A note that the stop has cut short may have been on its way to its target.
    broken = [finding for finding in report.findings if "cut" not in finding.tags]
    assert not broken, "\n".join(map(str, broken))
    same_again(evening)
