"""How a tune ends: last time, tag, fermata, cut off; with a chart and without one."""

from __future__ import annotations

from itertools import pairwise

import pytest
from sessions import Run, chord, cue, line, play, setup, tune

from jam.charts.loader import load_chart
from jam.charts.model import Bar, Chart, MelodyNote, Passage, RoadMap
from jam.core.form import Form
from jam.core.setup import Turns
from jam.core.turns import TurnPlan
from jam.events import Input, MidiIn

MELODY = (MelodyNote(0.0, 2.0, 64), MelodyNote(16.0, 2.0, 65), MelodyNote(28.0, 4.0, 67))
CHANGES = "Dm7 G7 Cmaj7 A7 Em7 A7 Dm7 G7"


def ending_chart(tags: int = 0, *, fermata: bool = False, head_out: str = "companion") -> Chart:
    """Return eight bars, one chorus and a head out of eight others."""
    road_map = RoadMap(0, "none", 1, head_out, tags, fermata)  # type: ignore[arg-type]
    return tune(CHANGES, road_map=road_map, melody=MELODY, last="F6 F6 F6 F6 Gm7 C7 F6 F6")


def ended(chart: Chart, *inputs: Input, until: float = 60.0, **more: object) -> Run:
    """Return a session over a band: 16 seconds of chorus, then the head out."""
    return play(setup(chart=chart, with_band=True, **more), inputs, until=until)


def symbols(run: Run, since: float) -> list[str | None]:
    """Return the chords as they were told at last, from a beat on."""
    latest = {r["beat"]: r["symbol"] for r in run.of("chord") if r["beat"] >= since}
    return [latest[beat] for beat in sorted(latest)]


# --- tag ----------------------------------------------------------------------------------------


def test_a_tag_is_the_last_four_bars_once_more() -> None:
    """Harmony, melody and band go on over them, and then the tune is over."""
    run = ended(ending_chart(), cue(20.0, "tag"))
    assert run.ended
    assert 40.0 <= run.now <= 42.5
    assert symbols(run, 48.0) == ["Gm7", "C7", "F6", "Gm7", "C7", "F6"]
    places = [(round(t * 2), p) for t, _, p in run.sounded("melody")]
    assert places == [(32, 64), (48, 65), (60, 67), (64, 65), (76, 67)]
    assert len([t for t, _, _ in run.sounded("bass") if 32.0 <= t < 40.0]) >= 9
    assert run.refused == 0


def test_each_press_is_one_tag_more() -> None:
    """Two before the last passage has begun and one within it are three."""
    run = ended(ending_chart(), cue(3.0, "tag"), cue(4.0, "tag"), cue(29.0, "tag"))
    assert 56.0 <= run.now <= 58.5
    assert symbols(run, 32.0).count("Gm7") == 4


@pytest.mark.parametrize(("asked", "over"), [(29.9, 40.0), (30.1, 32.0)])
def test_a_tag_comes_before_the_last_bar(asked: float, over: float) -> None:
    """In the last bar it is too late; a hair before it the last note is taken back in time."""
    run = ended(ending_chart(), cue(asked, "tag"))
    assert over <= run.now <= over + 2.5
    lasts = [end - begin for begin, end, _ in run.sounded("bass") if end - begin > 1.5]
    assert len(lasts) == 1
    assert run.refused == 0


def test_turns_go_on_over_a_tag() -> None:
    """Where nobody has the melody the trade goes on to the new end."""
    chart = tune("Dm7 G7 Cmaj7 Cmaj7", road_map=RoadMap(0, "none", 2, "none"))
    run = play(setup(chart=chart), [*line(8, 15), cue(9.0, "tag"), cue(9.5, "tag")], until=60.0)
    assert run.turns() == [(0.0, "player"), (16.0, "companion"), (32.0, "player"),
                           (48.0, "companion")]  # fmt: skip
    assert 32.0 <= run.now <= 34.0


def test_a_tag_of_a_form_shorter_than_it_is_the_whole_form() -> None:
    """Three bars are played again, and a chord that goes on into them is named again."""
    chart = tune("Dm7 G7 C6").last.tagged(2)
    assert len(chart.bars) == 9
    assert [change.chord.symbol for bar in chart.bars for change in bar.changes] == [
        "Dm7", "G7", "C6",
    ] * 3  # fmt: skip
    bars = tune("F6 Bb6 C6 C6 F6 C6").last.bars
    bars = (bars[0], bars[1], Bar(4.0, (), "A"), *bars[3:])
    assert Passage(bars).tagged(1).bars[6].changes[0].chord.symbol == "Bb6"


# --- fermata ------------------------------------------------------------------------------------


@pytest.mark.parametrize("asked", [4.0, 20.0, 29.8])
def test_a_fermata_holds_the_last_notes_until_the_cut_off(asked: float) -> None:
    """Bass, comping and the melody's last note end at the cut-off, all at once, and only then is
    the session over."""
    run = ended(ending_chart(), cue(asked, "fermata"), cue(41.3, "cut off"))
    assert run.ended
    assert run.now == pytest.approx(41.3)
    for part in ("bass", "comping", "melody"):
        held = [n for n in run.sounded(part) if n[1] > 33.0]
        assert held, part
        assert {end for _, end, _ in held} == {41.3}
        assert not [n for n in run.sounded(part) if n[0] > 30.6]
    assert run.refused == 0
    assert run.shots[-2].ending == "fermata"


def test_a_fermata_that_comes_too_late_changes_nothing() -> None:
    """In the last bar the last chord has been struck already."""
    plain = ended(ending_chart())
    late = ended(ending_chart(), cue(30.2, "fermata"))
    assert late.sounded("bass") == plain.sounded("bass")
    assert late.now == plain.now


def test_a_stop_ends_a_held_chord() -> None:
    """Stop and a stopped MIDI clock end the chord and with it the session; panic only the chord."""
    for name in ("stop", "cut off"):
        run = ended(ending_chart(), cue(20.0, "fermata"), cue(40.0, name))
        assert (run.ended, run.now) == (True, 40.0)
    run = ended(ending_chart(), cue(20.0, "fermata"), cue(40.0, "panic"), until=50.0)
    assert not run.ended
    assert max(end for _, end, _ in run.sounded("bass")) == 40.0


def test_a_stopped_midi_clock_ends_a_held_chord() -> None:
    """The sequencer that gave the time has ended the tune."""
    ticks = [MidiIn(round(1.0 + n / 48.0, 6), "clock", (0xF8,)) for n in range(48 * 40)]
    inputs = [MidiIn(0.9, "clock", (0xFA,)), *ticks, cue(9.0, "fermata")]
    run = ended(ending_chart(), *inputs, MidiIn(40.99, "clock", (0xFC,)), clock="midi")
    assert run.ended
    assert run.now == pytest.approx(40.99)
    assert not run.port.sounding


def test_the_companions_last_note_is_held_too() -> None:
    """A solo that goes to the end of the tune ends with the band, at the cut-off."""
    chart = tune("Dm7 G7 Cmaj7 Cmaj7", road_map=RoadMap(0, "none", 2, "none"))
    for seed in range(12):
        made = setup(chart=chart, turns=Turns("solo"), with_band=True, seed=seed)
        run = play(made, [cue(9.0, "fermata"), cue(22.0, "cut off")], until=30.0)
        last = run.sounded()[-1]
        if last[0] >= 14.0:
            assert last[1] == 22.0
            break
    else:
        pytest.fail("no solo went on into the last bar")


def test_a_fermata_then_a_tag() -> None:
    """The tag comes first, nothing is held through it, and the last chord of all is held."""
    run = ended(ending_chart(), cue(20.0, "fermata"), cue(29.5, "tag"), cue(50.0, "cut off"))
    for part in ("bass", "comping", "melody"):
        assert all(end <= 38.6 or begin >= 37.9 for begin, end, _ in run.sounded(part))
        assert run.sounded(part)[-1][1] == 50.0
    assert run.refused == 0


def test_a_held_melody_note_ends_when_a_tag_comes_after_all() -> None:
    """A last note that began before the last bar was to be held: it makes room for the tag."""
    road_map = RoadMap(0, "none", 1, "companion", 0, fermata=True)
    melody = (MelodyNote(0.0, 2.0, 64), MelodyNote(26.0, 6.0, 67))
    chart = tune(CHANGES, road_map=road_map, melody=melody)
    run = ended(chart, cue(29.6, "tag"), cue(50.0, "cut off"))
    tied, again = [n for n in run.sounded("melody") if n[2] == 67]
    assert tied[1] == pytest.approx(32.0)
    assert again[1] == 50.0


def test_a_fermata_of_the_chart() -> None:
    """The road map may ask for tags and the fermata beforehand."""
    run = ended(ending_chart(tags=1, fermata=True), cue(47.0, "cut off"))
    assert (run.ended, run.now) == (True, 47.0)
    assert symbols(run, 48.0).count("Gm7") == 2
    assert max(end for _, end, _ in run.sounded("melody")) == 47.0


def test_cut_off_ends_everything_at_any_time() -> None:
    """In the middle of a chorus too, and before anything has begun."""
    run = ended(ending_chart(), cue(5.3, "cut off"))
    assert (run.ended, run.now) == (True, 5.3)
    assert max(end for part in ("bass", "comping") for _, end, _ in run.sounded(part)) <= 5.3
    waiting = play(setup(autostart=False), [cue(1.0, "cut off")], until=5.0)
    assert waiting.ended


# --- last time ----------------------------------------------------------------------------------


def test_last_time_in_the_head_leaves_the_choruses_out() -> None:
    """Said in the opening head, the head out follows it."""
    chart = tune(CHANGES, road_map=RoadMap(0, "player", None, "player"))
    run = play(setup(chart=chart), [cue(3.0, "last time")], until=60.0)
    assert run.turns() == [(0.0, "player")]
    assert 32.0 <= run.now <= 34.0


def test_last_time_in_the_last_chorus_changes_nothing() -> None:
    """Nor in the head out: what follows is the end already."""
    plain = ended(ending_chart())
    for asked in (3.0, 20.0):
        late = ended(ending_chart(), cue(asked, "last time"))
        for part in ("comping", "drums", "melody"):
            assert late.sounded(part) == plain.sounded(part)
        assert [n[:2] for n in late.sounded("bass")] == [n[:2] for n in plain.sounded("bass")]
        assert late.now == plain.now


@pytest.mark.parametrize(("asked", "seam"), [(1.0, 4), (7.9, 4), (8.1, 8)])
def test_last_time_without_a_chart_ends_on_a_seam(asked: float, seam: int) -> None:
    """The band's last note falls on the first beat of the bar after a stretch of four bars."""
    held = chord(0, 80, (48, 52, 55, 59), port="band")
    made = setup(chart=None, with_band=True)
    run = play(made, [*held, cue(asked, "last time")], until=60.0)
    last = run.sounded("bass")[-1]
    assert last[0] == pytest.approx(2.0 * seam, abs=0.03)
    assert last[1] - last[0] > 1.5
    assert run.ended
    assert run.now == pytest.approx(2.0 * (seam + 1), abs=0.6)
    assert all(n[1] <= 2.0 * (seam + 1) + 0.6 for n in run.sounded())


def test_a_solo_without_a_chart_ends_with_the_last_time() -> None:
    """No reply goes on past the end that was asked for while it sounded."""
    held = chord(0, 80, (48, 52, 55, 59), port="band")
    for seed in range(4):
        made = setup(chart=None, turns=Turns("solo"), seed=seed)
        run = play(made, [*held, cue(2.0, "last time")], until=60.0)
        assert run.ended
        assert run.spoken()
        assert max(n["beat"] + n["beats"] for n in run.spoken()) <= 21.5


def test_last_time_tag_and_fermata_without_a_chart() -> None:
    """Four bars more for the tag, and the last chord is held."""
    held = chord(0, 120, (48, 52, 55, 59), port="band")
    inputs = [cue(1.0, "last time"), cue(2.0, "tag"), cue(2.5, "fermata"), cue(25.0, "cut off")]
    run = play(setup(chart=None, with_band=True), [*held, *inputs], until=60.0)
    begin, end, _ = run.sounded("bass")[-1]
    assert (begin, end) == (pytest.approx(16.0, abs=0.03), 25.0)


def test_no_turn_is_left_beyond_the_end() -> None:
    """Turns that were laid past the end that has come are shortened, or gone."""
    form = Form(setup(chart=None))
    plan = TurnPlan(Turns("trade", 8), form)
    assert (plan.at(1.0).end, plan.at(40.0).start) == (32.0, 32.0)
    form.last_time(2.0)
    plan.relay(40.0)
    assert plan.at(1.0).end == 20.0
    assert (plan.at(25.0).who, plan.after(plan.at(1.0))) == ("none", None)


# --- charts, what is shown ------------------------------------------------------------------------


def test_charts_say_how_they_end() -> None:
    """``tag_last_four`` and ``ending`` of the road map; plain if nothing is said."""
    text = (
        "title: T\nkey: C major\nmetre: 4/4\ntempo: 120\n"
        "sections:\n  A:\n    changes: |\n      C6 | F6 | C6 | G7 |\n"
    )
    plain = load_chart(text, "made.yaml").road_map
    assert (plain.tags, plain.fermata) == (0, False)
    asked = load_chart(text + "road_map: {tag_last_four: 2, ending: fermata}\n", "made.yaml")
    assert (asked.road_map.tags, asked.road_map.fermata) == (2, True)


def test_the_ending_is_shown_once_it_is_in_sight() -> None:
    """Empty at first; then the strongest of what was asked for."""
    asked = [cue(3.0, "last time"), cue(5.0, "tag"), cue(7.0, "fermata"), cue(50.0, "cut off")]
    run = ended(ending_chart(), *asked)
    shown = [shot.ending for shot in run.shots]
    assert [a for a, b in pairwise([*shown, None]) if a != b] == [
        "", "last time", "tag", "fermata",
    ]  # fmt: skip
    plain = [shot.ending for shot in ended(ending_chart()).shots]
    assert [a for a, b in pairwise([*plain, None]) if a != b] == ["", "last time"]


def test_the_form_knows_its_choruses() -> None:
    """Two by the road map; one more than the present one at the last time without a head out."""
    assert Form(setup(chart=ending_chart())).choruses == 1
    endless = Form(setup(chart=tune(CHANGES)))
    assert endless.choruses is None
    endless.reach(70.0)
    endless.last_time(40.0)
    assert endless.choruses == 3
