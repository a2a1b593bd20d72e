"""The companion as the missing horn, and who is who on one keyboard."""

from __future__ import annotations

import numpy as np
import pytest
from sessions import Run, chord, cue, line, note, play, setup, tune

from jam.charts.model import Chart, MelodyNote, RoadMap
from jam.core.setup import Turns
from jam.events import Input, IoReport, MidiIn
from jam.listening.who import Split

P, C = "player", "companion"
VOICINGS = ((53, 57, 60, 64), (53, 57, 59, 64), (52, 55, 59, 62), (52, 55, 57, 62))
MELODY = (MelodyNote(0.0, 2.0, 64), MelodyNote(8.0, 4.0, 67))


def horn_tune(choruses: int | None = None, head_out: str = "companion") -> Chart:
    """Return four bars with a head that the companion plays, and choruses without end."""
    road_map = RoadMap(0, "companion", choruses, head_out)  # type: ignore[arg-type]
    return tune(road_map=road_map, melody=MELODY)


def comping(start: float, end: float, *, low: int = 0) -> list[Input]:
    """Return two hands comping: a low note and a voicing, twice a bar and never quite together,
    now and then with a passing note alone."""
    rng = np.random.default_rng(4)
    found: list[Input] = []
    for n, beat in enumerate(np.arange(start, end, 2.0)):
        late = float(rng.uniform(0.0, 0.05))
        voicing = VOICINGS[n // 2 % 4]
        found += chord(float(beat) + 0.5 + late, 1.0, voicing)
        found += note(float(beat) + late, 1.0, 38 + n % 5 + low)
        found += note(float(beat) + 1.75, 0.2, 66 + n % 3)
    return found


def horn(inputs: list[Input], until: float, chart: Chart | None = None, **more: object) -> Run:
    """Return a session of the missing horn over a player who comps."""
    made = setup(chart=chart or horn_tune(), turns=Turns("on cue"), split=Split("comping"), **more)
    return play(made, inputs, until=until)


def test_the_horn_is_silent_until_it_is_cued() -> None:
    """The head is melody; in the choruses there is no note, no call and no turn of its own."""
    run = horn(comping(0, 80), until=40.0)
    assert run.turns() == [(0.0, C), (16.0, P)]
    assert [p for _, _, p in run.sounded("melody")] == [64, 67]
    assert not run.spoken()
    assert not run.of("call")


def test_the_horn_solos_on_cue_chorus_after_chorus() -> None:
    """From *take it* on it plays until it lays out, over comping, with no call and no take-back."""
    inputs = [*comping(0, 120), cue(15.2, "take it"), cue(40.1, "lay out")]
    run = horn(inputs, until=60.0)
    assert run.turns() == [(0.0, C), (16.0, P), (32.0, C), (80.2, P)]
    begun = {int(n["beat"] // 16) for n in run.spoken()}
    assert begun >= {2, 3, 4}
    assert all(31.0 <= n["beat"] < 81.5 for n in run.spoken())
    assert not run.of("call")
    withdrawn = [r for r in run.of("reply") if "replans" in r and r["at"] < 40.0]
    assert not withdrawn


def test_the_solo_goes_on_from_itself() -> None:
    """Later replies of a solo develop what the horn has played, not nothing."""
    run = horn([*comping(0, 100), cue(15.2, "take it")], until=46.0)
    first, *later = [record["idea"] for record in run.replies]
    assert first == "the stock phrase 'three up'"
    assert len(later) >= 2
    assert all("of its own last phrase" in idea for idea in later)


def test_last_time_ends_the_solo_and_the_head_out_is_silent() -> None:
    """In a head out that is not the companion's it has nothing to play."""
    inputs = [*comping(0, 90), cue(7.9, "take it"), cue(13.0, "last time")]
    run = horn(inputs, until=45.0, chart=horn_tune(head_out="player"))
    assert run.turns() == [(0.0, C), (32.0, P)]
    assert run.ended
    assert run.spoken()
    assert not [n for n in run.spoken() if n["beat"] > 33.0]
    assert not [n for n in run.sounded("melody") if n[0] > 16.0]


def test_the_head_out_is_the_horns_if_it_has_the_melody() -> None:
    """The melody is played again, and the solo makes room for it."""
    inputs = [*comping(0, 90), cue(7.9, "take it"), cue(13.0, "last time")]
    run = horn(inputs, until=45.0)
    assert [p for t, _, p in run.sounded("melody") if t > 15.0] == [64, 67]
    assert all(n["beat"] + n["beats"] <= 32.01 for n in run.spoken())


@pytest.mark.parametrize("bpm", [120.0, 260.0])
def test_the_horn_has_one_voice(bpm: float) -> None:
    """No solo begins with a pickup over the last note of the head, or goes on into the head out."""
    road_map = RoadMap(0, "companion", None, "companion")
    held = (*MELODY, MelodyNote(12.0, 4.0, 69))
    chart = tune(road_map=road_map, melody=held, tempo_bpm=bpm)
    for seed in range(5):
        made = setup(chart=chart, turns=Turns("solo"), seed=seed)
        run = play(made, [cue(20.0 * 60.0 / bpm, "last time")], until=50.0 * 60.0 / bpm)
        assert run.spoken()
        melody = run.sounded("melody")
        assert len(melody) == 6
        for begin, end, _ in run.sounded():
            assert all(end <= b + 0.02 or begin >= e - 0.02 for b, e, _ in melody)


def test_trade_ends_the_solo_of_the_horn() -> None:
    """At the top of the next chorus the two trade."""
    inputs = [*comping(0, 120), cue(7.9, "take it"), cue(18.0, "trade")]
    run = horn(inputs, until=36.0)
    assert run.turns() == [(0.0, C), (48.0, P), (64.0, C)]


def test_the_horn_answers_a_line_it_follows() -> None:
    """Where the player has a line, the solo begins with an answer to it."""
    made = setup(chart=horn_tune(), turns=Turns("on cue"))
    run = play(made, [*line(24, 30), cue(15.5, "take it")], until=24.0)
    assert [call["id"] for call in run.of("call")] == [run.replies[0]["answers"]]


def test_sixteen_bars_of_comping_are_neither_call_nor_entry() -> None:
    """Both hands comp through every turn: replies as if nobody had played, none cut short."""
    chart = tune("Dm7 G7 Cmaj7 A7")
    made = setup(chart=chart, split=Split("comping"))
    quiet = play(made, until=33.0)
    busy = play(made, comping(0, 66), until=33.0)
    assert not busy.of("call")
    assert busy.spoken()
    assert busy.spoken() == quiet.spoken()
    assert [r for r in busy.of("in") if r["channel_split"] == "comping"]
    assert not [r for r in busy.of("in") if r["channel_split"] == "line"]


def test_comping_hands_still_name_the_chords() -> None:
    """Without a chart the chords are heard from what both hands play."""
    inputs = chord(0, 4, (50, 53, 57, 60)) + chord(4, 4, (43, 53, 59, 62, 65))
    run = play(setup(chart=None, split=Split("comping")), inputs, until=5.0)
    roots = [r["symbol"][0] for r in run.of("chord") if r["symbol"]]
    assert roots[-2:] == ["D", "G"]


# --- two on one keyboard, lost ports ------------------------------------------------------------


@pytest.mark.parametrize(("kind", "pitch", "other"), [("fixed", 40, 76), ("reversed", 76, 40)])
def test_a_second_person_on_the_keyboard_is_the_band(kind: str, pitch: int, other: int) -> None:
    """Their side is neither line nor the player's comping, and never a call or an entry."""
    split = Split(kind, 60, other="band")  # type: ignore[arg-type]
    theirs = [m for beat in range(0, 66, 2) for m in note(beat, 1.5, pitch)]
    run = play(
        setup(split=split), [*theirs, *note(9, 1, other), *note(10, 1, other + 2)], until=8.0
    )
    heard = [r["channel_split"] for r in run.of("in")]
    assert heard.count("line") == 4
    assert heard.count("comping") == 0
    quiet = play(setup(split=split), theirs, until=16.0)
    assert quiet.replies
    assert not quiet.of("call")


def lost(t: float, role: str) -> IoReport:
    """Return the report of a port that is gone."""
    return IoReport(t, "port lost", {"role": role})


def test_a_lost_port_releases_its_own_keys_only() -> None:
    """The player's stuck key is up when the player's port is lost, and stays when the band's is."""
    held = [*line(8, 13), MidiIn(6.6, "player", (0x90, 60, 80))]
    for role, answered in (("player", True), ("band", False), ("clock", False), ("cue", False)):
        run = play(setup(), [*held, lost(7.0, role)], until=15.0)
        assert bool(run.replies) == answered, role


def test_the_chord_of_the_band_outlasts_the_players_port() -> None:
    """Keys of the band that are down go on being heard when the player's port is lost."""
    band = chord(0, 60, (48, 52, 55, 59), port="band")
    made = setup(chart=None, split=Split("fixed"))
    gone = play(made, [*band, *chord(1, 60, (41, 45)), lost(2.0, "player")], until=8.0)
    alone = play(made, [*band, *chord(1, 3, (41, 45))], until=8.0)
    assert [r["symbol"] for r in gone.of("chord")] == [r["symbol"] for r in alone.of("chord")]


def test_other_reports_are_logged_and_no_more() -> None:
    """What the I/O side tells of single notes changes nothing."""
    plain = play(setup(), line(8, 15), until=14.0)
    told = [
        IoReport(9.0, "play refused", {"note": 1}),
        IoReport(9.1, "revoke refused", {"note": 2}),
        IoReport(9.2, "note ended", {"note": 3, "t": 9.0}),
    ]
    run = play(setup(), [*line(8, 15), *told], until=14.0)
    assert run.commands == plain.commands
    assert [r["what"] for r in run.of("io")] == ["play refused", "revoke refused", "note ended"]
