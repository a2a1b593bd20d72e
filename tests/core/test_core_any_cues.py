"""Whatever is asked for, whenever: the laws hold, and a log gives the same notes again."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from audit.integrity import audit_log
from audit.reading import session
from sessions import chord, cue, line, setup, tune
from test_core_again import header, written

from jam.charts.model import MelodyNote, RoadMap
from jam.core.core import Core
from jam.core.setup import CUES, Setup, TurnKind, Turns
from jam.events import Input, MidiIn
from jam.listening.who import Split
from jam.session.replay import compare, perform_again

KINDS: tuple[TurnKind, ...] = ("trade", "chorus", "free", "solo", "lay out", "on cue")
MELODY = (MelodyNote(0.0, 2.0, 64), MelodyNote(14.0, 2.0, 67))
SECONDS = 30.0


def anything(seed: int) -> tuple[Setup, list[Input]]:
    """Return a setup and a dozen cues at any time over some playing."""
    rng = np.random.default_rng(seed)
    clock = ("internal", "taps", "midi")[seed % 3]
    heads = ("none", "player", "companion")
    road_map = RoadMap(1, heads[seed % 3], None, heads[seed // 2 % 3])  # type: ignore[arg-type]
    chart = None if seed % 5 == 4 else tune(road_map=road_map, melody=MELODY)
    made = setup(
        chart=chart, seed=seed, clock=clock, with_band=True, turn_signal=True,
        turns=Turns(KINDS[seed % 6]), split=Split("comping" if seed % 4 == 3 else "fixed"),
    )  # fmt: skip
    playing: list[Input] = [*line(10, 15), *line(33, 44), *chord(4, 50, (48, 52, 55), port="band")]
    if clock == "taps":
        playing += [cue(round(0.5 + 0.49 * n, 6), "tap") for n in range(30)]
    if clock == "midi":
        playing += [MidiIn(0.4, "clock", (0xFA,))]
        playing += [MidiIn(round(0.5 + n / 47.0, 6), "clock", (0xF8,)) for n in range(1300)]
    names = [name for name in CUES if name not in ("tap", "cut off")]
    moments = np.sort(rng.uniform(0.0, SECONDS, 12))
    cues = [cue(round(float(t), 6), str(rng.choice(names))) for t in moments]
    return made, [*playing, *cues]


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(10))
def test_any_cues_at_any_time(seed: int) -> None:
    """No fault, no note left open, no beat told twice without a jump, the log sound in itself."""
    made, inputs = anything(seed)
    said = written(made, inputs, SECONDS)
    assert not said.of("fault")
    jumps = [record["at"] for record in said.of("jump")]
    held = any(record["name"] == "fermata" for record in said.of("cue"))
    # the audit knows of no second time through, and of no note held beyond its written length
    if not held and len(jumps) <= (made.clock == "midi"):
        findings = audit_log(session([header(made), *said.records]))
        assert not findings, "\n".join(map(str, findings))
    for before, after in pairwise(said.of("beat")):
        jumped = any(before["at"] <= at <= after["at"] for at in jumps)
        assert jumped or after["beat"] == before["beat"] + 1.0
        assert jumped or after["t"] > before["t"]
    on = [(r["t"], r["note"]) for r in said.of("sent") if r["bytes"][0] >> 4 == 9]
    off = [(r["t"], r["note"]) for r in said.of("sent") if r["bytes"][0] >> 4 == 8]
    assert sorted(note for _, note in on) == sorted(note for _, note in off)
    result = compare(said, perform_again(said, Core(made)))
    assert result.same, result.text
