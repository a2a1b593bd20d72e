"""The demo: whole choruses with a stand-in player, in virtual time."""

from pathlib import Path

import pytest

from jam.log import Log
from jam.session.demo import demo
from jam.session.options import DemoOptions
from jam.session.replay import replay
from jam.session.resources import find_chart

TUNES = ("lamplight-blues", "window-waltz")


def who_plays(log: Log, t: float) -> str:
    """Return whose turn it is at second ``t``."""
    return str([turn for turn in log.of("turn") if turn["t"] <= t + 1e-6][-1]["who"])


@pytest.mark.parametrize("chart", TUNES)
def test_a_demo_is_a_conversation(tmp_path: Path, chart: str) -> None:
    """The stand-in plays in its turns, the companion answers, the text tells both."""
    played = demo(DemoOptions(tmp_path / "demo", chart, seed=2, choruses=1, wav=False))
    log = played.log
    replies = [record for record in log.of("reply") if "replans" not in record]
    assert replies
    assert any(reply["answers"] is not None for reply in replies)
    onsets = [
        record["t"]
        for record in log.of("in")
        if record["bytes"][0] == 0x90 and record["t"] >= log.of("turn")[0]["t"]
    ]
    beat_sec = 60.0 / log.of("beat")[0]["bpm"]
    assert onsets
    assert all("player" in (who_plays(log, t), who_plays(log, t + 1.3 * beat_sec)) for t in onsets)
    text = (played.folder / "phrases.txt").read_text(encoding="utf-8")
    assert text.count("=== Exchange") >= len(replies) // 2
    assert "degree" in text
    assert "role" in text


def test_a_demo_waits_for_the_count_in(tmp_path: Path) -> None:
    """Nobody of the two plays before the last beat of the count-in."""
    played = demo(DemoOptions(tmp_path / "demo", TUNES[0], choruses=1, wav=False))
    start = next(beat["t"] for beat in played.log.of("beat") if beat["beat"] == -1.0)
    assert min(record["t"] for record in played.log.of("in")) >= start - 0.1
    chart = find_chart(TUNES[0]).value
    assert start == pytest.approx((chart.road_map.count_in_bars * 4 - 1) * 60 / chart.tempo_bpm)


def test_a_demo_ends_with_its_choruses(tmp_path: Path) -> None:
    """The session lasts as long as the form, count-in and last bar included, and no longer."""
    played = demo(DemoOptions(tmp_path / "demo", TUNES[0], choruses=1, wav=False))
    chart = find_chart(TUNES[0]).value
    beats = chart.last.beats + (chart.road_map.count_in_bars + 1) * 4
    assert played.length_sec == pytest.approx(beats * 60.0 / chart.tempo_bpm, abs=2.5)


def test_demos_replay_and_follow_their_seed(tmp_path: Path) -> None:
    """One seed gives one log, another another; each replays to the same notes."""
    logs = []
    for number, seed in enumerate((1, 1, 2)):
        options = DemoOptions(tmp_path / str(number), seed=seed, choruses=1, wav=False)
        folder = demo(options).folder
        logs.append((folder / "session.jsonl").read_bytes())
        assert replay(folder).same
    assert logs[0] == logs[1] != logs[2]


@pytest.mark.parametrize("turns", ["2", "chorus", "free", "solo"])
def test_every_kind_of_turn_is_played(tmp_path: Path, turns: str) -> None:
    """The demo ends in each, with something said by the companion."""
    options = DemoOptions(tmp_path / "demo", TUNES[0], turns=turns, choruses=2, wav=False)  # type: ignore[arg-type]
    assert demo(options).log.of("reply")
