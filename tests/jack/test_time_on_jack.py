"""Time from outside: a MIDI clock and its messages, a tapped count-off.

24 ticks a quarter note, song position in sixteenths: MIDI 1.0 Detailed Specification.
"""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path
from time import sleep

import numpy as np
import pytest

from . import performances
from .companion import chart
from .evening import Evening, nothing_sounds, same_again, told_as_heard
from .performances import TICK, TICKS_A_BEAT, Event
from .server import Server

LEAD_SEC = 0.2


def clocked(server: Server, tmp_path: Path, ending: ExitStack, bpm: float) -> Evening:
    """Start a companion that follows a MIDI clock and plays first."""
    options = ["--clock", "midi", "--clock-in", "stage-clock", "--band"]
    options += ["--turns", "8", "--first", "companion"]
    options += ["--chart", str(chart(tmp_path, bpm=bpm, choruses="open"))]
    return Evening(server, tmp_path, ending, options, stage=("right", "clock"))


def off_the_ticks_ms(evening: Evening, ticks: list[Event], first_beat: int) -> np.ndarray:
    """Return how far each beat that the log announces lies from the tick that was meant for it.

    ``ticks`` are those of the stretch that begins on ``first_beat``.
    """
    origin = evening.origin() - evening.started
    at = {first_beat + i // TICKS_A_BEAT: e.t for i, e in enumerate(ticks) if not i % TICKS_A_BEAT}
    return np.array(
        [
            1000.0 * (row["t"] + origin - at[int(row["beat"])])
            for row in evening.log().of("beat")
            if row["beat"] in at and row["locked"]
        ]
    )


@pytest.mark.parametrize(("bpm", "beats"), [(60.0, 6), (132.0, 11), (300.0, 25)])
def test_locked_to_a_clock(
    server: Server, tmp_path: Path, ending: ExitStack, bpm: float, beats: int
) -> None:
    """From the second bar on every beat is announced where its tick is, and the companion plays
    on; a stop ends all sound."""
    evening = clocked(server, tmp_path, ending, bpm)
    run = performances.started(bpm, beats, LEAD_SEC)
    evening.play([*run, *performances.stopped(run[-1].t + 0.005)], press=False)
    evening.hand.wait(30.0)
    sleep(0.3)
    nothing_sounds(evening)
    assert evening.leave() == 0
    nothing_sounds(evening)
    told_as_heard(evening)
    off = off_the_ticks_ms(evening, [e for e in run if e.data == [TICK]], 0)
    assert len(off) >= beats - 4
    assert np.max(np.abs(off - np.median(off))) < 4.0, off
    assert abs(np.median(off)) < 4.0, off
    assert any(row["part"] == "companion" for row in evening.log().of("sent"))
    same_again(evening)


def test_song_position_and_continue(server: Server, tmp_path: Path, ending: ExitStack) -> None:
    """Stopped, sent to bar 5 by song position and continued, the companion is in bar 5."""
    bpm, place = 240.0, 16
    evening = clocked(server, tmp_path, ending, bpm)
    first = performances.started(bpm, 12, LEAD_SEC)
    stop = first[-1].t + 0.005
    again = performances.continued(bpm, 16, stop + 0.8, place)
    evening.play([*first, *performances.stopped(stop), *again], press=False)
    evening.hand.wait(30.0)
    sleep(0.1)
    assert evening.leave() == 0
    nothing_sounds(evening)
    told_as_heard(evening)
    resumed = [row for row in evening.log().of("beat") if row["t"] > stop + 0.9]
    assert resumed[0]["beat"] in (place, place + 1)
    ticks = [e for e in again if e.data == [TICK]]
    origin = evening.origin() - evening.started
    meant = {place + n: tick.t for n, tick in enumerate(ticks[::TICKS_A_BEAT])}
    off = [1000.0 * (r["t"] + origin - meant[r["beat"]]) for r in resumed if r["beat"] in meant]
    assert len(off) >= 12
    assert np.median(np.abs(off)) < 4.0, off
    same_again(evening)


def test_a_tapped_count_off(server: Server, tmp_path: Path, ending: ExitStack) -> None:
    """Two halves, four quarters on a pad: the downbeat is where the taps put it, with scatter."""
    bpm = 240.0
    options = ["--setup", "taps", "--cues-in", "stage-cues", "--band", "--hold"]
    options += ["--turns", "8", "--first", "companion"]
    options += ["--chart", str(chart(tmp_path, bpm=200.0, choruses="open"))]
    evening = Evening(server, tmp_path, ending, options, stage=("right", "cues"))
    taps = performances.count_off(bpm, "cues", 23)
    rng = np.random.default_rng(2)
    evening.play([e._replace(t=e.t + LEAD_SEC + rng.normal(0.0, 0.006)) for e in taps], press=False)
    evening.hand.wait(10.0)
    evening.wait(evening.in_mid_phrase, 6.0, "a phrase")
    assert evening.leave() == 0
    nothing_sounds(evening)
    told_as_heard(evening)
    beats = {row["beat"]: row for row in evening.log().of("beat")}
    origin = evening.origin() - evening.started
    downbeat = LEAD_SEC + performances.downbeat_after(bpm)
    assert beats[0]["t"] + origin == pytest.approx(downbeat, abs=0.025)
    presses = [row for row in evening.log().of("in") if row["bytes"][0] & 0xF0 == 0x90]
    tapped = 180.0 / (presses[5]["t"] - presses[2]["t"])
    assert beats[0]["bpm"] == pytest.approx(tapped, rel=0.03), "as tapped, bent to the last tap"
    assert tapped == pytest.approx(bpm, rel=0.04), "6 ms of scatter is 1.1 % of three quarters"
    same_again(evening)
