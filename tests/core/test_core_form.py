"""The road map, the turns laid over it, and what the band and the melody make of both."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from sessions import Run, cue, line, play, setup, tune

from jam.charts.model import Bar, Chart, MelodyNote, RoadMap
from jam.core.setup import GivenBeat, Turns

MELODY = (
    MelodyNote(-1.0, 0.5, 60),
    MelodyNote(-0.5, 0.5, 62),
    MelodyNote(0.0, 2.0, 64),
    MelodyNote(14.0, 1.0, 67),
)
TWELVE = "F7 Bb7 F7 F7 Bb7 Bb7 F7 D7 Gm7 C7 F7 C7"


def headed(head: str = "companion", choruses: int | None = 1) -> Chart:
    """Return a four-bar tune with a melody that has a pickup of a beat."""
    road_map = RoadMap(2, head, choruses, head)  # type: ignore[arg-type]
    return tune(road_map=road_map, melody=MELODY, last="Dm7 G7 Cmaj7 C6 C6 C6")


def phases(run: Run) -> list[tuple[str, int]]:
    """Return the phases and chorus numbers in the order in which they were shown."""
    found: list[tuple[str, int]] = []
    for shot in run.shots:
        if not found or found[-1] != (shot.phase, shot.chorus):
            found.append((shot.phase, shot.chorus))
    return found


def beats_of(run: Run, part: str, offset_sec: float = 4.0) -> list[tuple[float, int]]:
    """Return where the notes of a part were sent, in beats to a tenth."""
    return [(round((t - offset_sec) * 2, 1) + 0.0, p) for t, _, p in run.sounded(part)]


# --- the road map --------------------------------------------------------------------------


def test_head_choruses_head_out_and_tag() -> None:
    """Count-in, head, the choruses asked for, and the head out with its tag follow one another."""
    run = play(setup(chart=headed(choruses=2)), until=60.0)
    assert phases(run) == [("head", 0), ("chorus", 1), ("chorus", 2), ("head out", 0)]
    assert run.ended
    # two bars of count-in, three times four bars, six bars with the tag, at half a second a beat
    assert run.now == pytest.approx(0.5 * 4 * (2 + 12 + 6), abs=0.6)


def test_the_companion_plays_the_melody_with_its_pickup() -> None:
    """The head is played in the count-in's last beat already, and again out of the chorus."""
    run = play(setup(chart=headed()), until=60.0)
    places = beats_of(run, "melody")
    assert [beat for beat, _ in places[:4]] == pytest.approx([-1.0, -0.4, 0.0, 14.0], abs=0.11)
    assert [pitch for _, pitch in places] == [60, 62, 64, 67] * 2
    assert places[4][0] == pytest.approx(31.0, abs=0.11)


@pytest.mark.parametrize("seed", range(6))
def test_no_reply_is_played_into_the_melody(seed: int) -> None:
    """A turn that ends with the pickup of the head out ends before it."""
    turns = Turns("trade", 2, "player")
    run = play(setup(chart=headed(), turns=turns, seed=seed), line(24, 31), until=60.0)
    pickup = min(t for t, _, pitch in run.sounded("melody") if pitch == 60 and t > 10.0)
    replies = run.sounded()
    assert replies
    assert all(end <= pickup + 0.05 for _, end, _ in replies)


def test_a_head_belongs_to_who_plays_it() -> None:
    """The player's head is the player's turn, and nobody is answered in it."""
    made = setup(chart=headed("player"), turns=Turns("trade", 4, "companion"))
    run = play(made, line(8, 23), until=60.0)
    assert run.turns() == [(0.0, "player"), (16.0, "companion"), (32.0, "player")]
    assert all(16.0 - 1.0 <= n["beat"] < 33.0 for n in run.spoken())


def test_the_count_in_is_clicked() -> None:
    """Two bars in four: halves in the first, quarters in the second (common practice), no more."""
    run = play(setup(chart=tune(road_map=RoadMap(2, "none", 1, "none"))), until=60.0)
    assert [beat for beat, _ in beats_of(run, "click")] == [-8, -6, -4, -3, -2, -1]
    assert [record["beat"] for record in run.of("beat")][:2] == [-8.0, -7.0]


@pytest.mark.parametrize("clock", ["given", "file"])
def test_no_count_in_is_clicked_into_what_is_given(clock: str) -> None:
    """Beats before the first downbeat of a recording are no count-in of ours."""
    beats = given([3, 4, 1, 2, 3, 4, 1, 2, 3, 4, 1, 2])
    made = setup(clock=clock, given_beats=beats, road_map=RoadMap(0, "none", None, "none"))
    assert not play(made, until=6.0).sounded("click")


def given(numbers: list[int], start: float = 1.0, sec: float = 0.5) -> tuple[Any, ...]:
    """Return beats known beforehand with these numbers in the bar."""
    return tuple(GivenBeat(start + sec * index, number) for index, number in enumerate(numbers))


def test_last_time_in_the_middle() -> None:
    """After the cue the chorus is finished and the head out is the last, band and melody too."""
    chart = headed(choruses=None)
    run = play(setup(chart=chart, with_band=True), [cue(4.0 + 2 * 9.0, "last time")], until=60.0)
    assert phases(run) == [("head", 0), ("chorus", 1), ("chorus", 2), ("head out", 0)]
    assert run.ended
    assert not run.port.sounding


def test_last_time_in_the_last_bar_still_plays_the_head_out() -> None:
    """Notes of the next bar that were asked for already give way to those of the head out."""
    chart = headed(choruses=None)
    run = play(setup(chart=chart, with_band=True), [cue(4.0 + 15.6, "last time")], until=60.0)
    melody = [(beat, pitch) for beat, pitch in beats_of(run, "melody") if beat > 20]
    assert (32.0, 64) in [(round(beat), pitch) for beat, pitch in melody]
    assert run.refused == 0


def test_last_time_names_the_chords_that_come_now() -> None:
    """A chord of another chorus that was named already is named anew, or withdrawn."""
    chart = tune(last="Dm7 G7 Em7 A7 D6 D6", road_map=RoadMap(0, "none", None, "none"))
    run = play(setup(chart=chart), [cue(7.3, "last time")], until=30.0)
    latest: dict[float, str | None] = {}
    for record in run.of("chord"):
        latest[record["beat"]] = record["symbol"]
    assert {b: s for b, s in latest.items() if b >= 16} == {
        16.0: "Dm7", 20.0: "G7", 24.0: "Em7", 28.0: "A7", 32.0: "D6",
    }  # fmt: skip


def test_the_place_in_the_form_is_shown() -> None:
    """Bar, beat, section, chord and the next one are those of the chart."""
    chart = tune("Dm7 G7 Cmaj7 C6 Fm7 Bb7 Ebmaj7 Eb6")
    run = play(setup(chart=chart), until=20.0, extra=[9.6])
    shot = next(shot for shot in run.shots if shot.now == 9.6)
    assert (shot.bar, shot.beat_in_bar) == (5, pytest.approx(4.2))
    assert (shot.section, shot.chord, shot.next_chord) == ("B", "Fm7", "Bb7")
    assert shot.next_chord_beat == 20.0
    assert shot.strong >= {5, 8, 0, 3}
    assert (shot.who, shot.turn_ends_beat) == ("companion", 32.0)


def test_the_snapshot_before_a_tempo_is_known() -> None:
    """Without a tempo there is no beat, and nothing runs."""
    shot = play(setup(clock="taps"), until=1.0).shots[0]
    assert (shot.beat, shot.running, shot.locked, shot.source) == (None, False, False, "taps")


def test_a_chart_is_played_over_given_beats_with_a_pickup() -> None:
    """The form begins with the first downbeat; the beats before it are told, and negative."""
    beats = given([3, 4] + [1, 2, 3, 4] * 10, sec=0.45)
    made = setup(clock="given", given_beats=beats, road_map=RoadMap(0, "none", None, "none"))
    run = play(made, line(8, 14, 60 / 0.45), until=15.0)
    told = run.of("beat")
    assert [record["beat"] for record in told[:3]] == [-2.0, -1.0, 0.0]
    assert [record["bar"] for record in told[:3]] == [0, 0, 1]
    assert told[2]["t"] == pytest.approx(1.9)
    assert [r["beat"] for r in run.of("chord")[:2]] == [0.0, 4.0]
    assert run.turns()[:2] == [(0.0, "player"), (16.0, "companion")]
    assert all(record["at"] <= record["t"] for record in told)


# --- turns over the form ---------------------------------------------------------------------


def turns_over(chart: Chart, turns: Turns, bars: int, **more: Any) -> list[tuple[float, str]]:
    """Return (bar, who) of the turns told over so many bars."""
    run = play(setup(chart=chart, turns=turns, **more), until=2.0 * bars - 0.1)
    return [(beat / 4.0, who) for beat, who in run.turns()]


P, C = "player", "companion"


@pytest.mark.parametrize(
    ("turns", "told"),
    [
        (Turns("trade", 4), [(0, P), (4, C), (8, P), (12, C), (16, P), (20, C)]),
        (Turns("trade", 4, uneven="restart"), [(0, P), (4, C), (8, P), (16, C), (20, P)]),
        (Turns("trade", 4, "companion"), [(0, C), (4, P), (8, C), (12, P), (16, C), (20, P)]),
        (Turns("trade", 2), [(n, C if n % 4 else P) for n in range(0, 24, 2)]),
        (Turns("trade", 8), [(0, P), (8, C), (12, P), (20, C)]),
        (Turns("trade", 8, uneven="restart"), [(0, P), (8, C), (12, P), (20, C)]),
        (Turns("chorus"), [(0, P), (12, C)]),
        (Turns("solo"), [(0, C)]),
        (Turns("lay out"), [(0, P)]),
        (Turns("free"), [(0, P)]),
    ],
)
def test_turns_over_twelve_bars(turns: Turns, told: list[tuple[float, str]]) -> None:
    """Two choruses of a twelve-bar form: swapped, restarted, cut short at the end of the form."""
    assert turns_over(tune(TWELVE), turns, 24) == told


def test_every_turn_has_its_planned_length() -> None:
    """Turns follow one another without a gap; the last of a chorus is cut short by the form."""
    run = play(setup(chart=tune(TWELVE), turns=Turns("trade", 8)), until=47.0)
    lengths = [(record["beat"], record["beats"]) for record in run.of("turn")]
    assert lengths == [(0, 32), (32, 16), (48, 32), (80, 16)]


def test_turns_end_where_the_session_is_said_to_end() -> None:
    """``end_beat`` cuts the last turn short, and after it nobody has the turn."""
    run = play(setup(end_beat=24.0), line(8, 15), until=20.0)
    assert [(r["beat"], r["beats"]) for r in run.of("turn")] == [(0.0, 16.0), (16.0, 8.0)]
    assert run.shots[-1].who == "none"
    assert max(n["beat"] + n["beats"] for n in run.spoken()) <= 25.0


def test_bars_of_other_lengths_keep_their_place() -> None:
    """A bar of two beats in a chart of fours moves all that follows by two beats."""
    chart = tune("Dm7 G7 Cmaj7 C6")
    bars = chart.chorus.bars
    short = replace(chart.chorus, bars=(bars[0], Bar(2.0, bars[1].changes, "A"), *bars[2:]))
    chart = replace(chart, chorus=short, last=short)
    run = play(setup(chart=chart, turns=Turns("trade", 2)), until=12.0)
    assert [r["beat"] for r in run.of("chord")][:5] == [0.0, 4.0, 6.0, 10.0, 14.0]
    assert run.turns()[:3] == [(0.0, P), (6.0, C), (14.0, P)]
    downbeats = [r["beat"] for r in run.of("beat") if r["beat_in_bar"] == 1]
    assert downbeats[:5] == [0.0, 4.0, 6.0, 10.0, 14.0]
