"""The plan of a live session: who goes first, what is opened, what is remembered."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from jam.charts.model import RoadMap
from jam.core.setup import Turns
from jam.errors import InputError
from jam.listening.who import Split
from jam.players.channels import PROGRAMS
from jam.session.asked import CHART
from jam.session.config import load_config
from jam.session.last_night import ASIDE, FILE, Choices, SaidPorts, keep, remembered
from jam.session.live_options import LiveOptions
from jam.session.live_plan import LivePlan, plan_live, seed_of
from jam.session.live_wishes import part_wish, wishes_of
from jam.session.resources import CONFIG, list_styles


def plan(home: Path, **said: object) -> LivePlan:
    """Return the plan for what was said, without anything of the user's."""
    return plan_live(LiveOptions(home=home, **said))  # type: ignore[arg-type]


def put(path: Path, text: str) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def test_nothing_said_is_enough_to_play(tmp_path: Path) -> None:
    """A blues with the built-in rhythm section, fours, waiting for the one pedal."""
    made = plan(tmp_path)
    setup = made.setup
    assert made.chart == CHART
    assert (setup.clock, setup.with_band, setup.autostart) == ("internal", True, False)
    assert setup.turns == Turns("trade", 4)
    assert setup.road_map == RoadMap(2, "none", None, "none")
    assert setup.cues[("control", 66)] == "take it"
    assert setup.damper_starts


def test_next_style_walks_through_all_of_them(tmp_path: Path) -> None:
    """The one that is chosen comes first, the others in the order of their names."""
    names = [style.name for style in plan(tmp_path, style="modal").setup.styles]
    others = [entry.name for entry in list_styles() if entry.name != "modal"]
    assert names == ["modal", *others]


def test_a_style_that_cannot_be_read_does_not_stop_the_music(tmp_path: Path) -> None:
    """It is left out and told, unless it is the one that was asked for."""
    put(tmp_path / "styles" / "broken.yaml", "name: x\nabuot: y\n")
    assert any("`abuot`" in remark for remark in plan(tmp_path).remarks)
    with pytest.raises(InputError, match="abuot"):
        plan(tmp_path, style="broken")


ORDER = [
    ({}, "", "", "4"),
    ({}, "", "turns: 8\n", "8"),
    ({}, "turns: 2\n", "turns: 8\n", "2"),
    ({"setup": "mine"}, "turns: 2\n", "turns: 8\n", "free"),
    ({"setup": "mine", "turns": "chorus"}, "turns: 2\n", "turns: 8\n", "chorus"),
    ({}, "setup: mine\n", "turns: 8\n", "free"),
    ({}, "setup: mine\nturns: 2\n", "turns: 8\n", "2"),
    ({}, "", "setup: mine\nturns: 8\n", "free"),
    ({"anew": True}, "setup: mine\nturns: 2\n", "turns: 8\n", "8"),
]


@pytest.mark.parametrize(("said", "before", "config", "turns"), ORDER)
def test_who_goes_first(
    said: dict[str, object], before: str, config: str, turns: str, tmp_path: Path
) -> None:
    """The command line, the set-up named there, last night, the configuration, its defaults."""
    put(tmp_path / CONFIG, config + "setups:\n  mine: {turns: free}\n")
    if before:
        put(tmp_path / FILE, before)
    assert plan(tmp_path, **said).config.turns == turns


SETUPS: list[tuple[str, str, bool, Split, Turns]] = [
    ("one line", "internal", True, Split(), Turns()),
    ("two hands", "internal", True, Split("fixed", 60), Turns()),
    ("horn", "internal", True, Split("comping", 60), Turns("on cue")),
    ("band", "midi", False, Split(), Turns()),
    ("taps", "taps", False, Split(), Turns()),
    ("four hands", "internal", True, Split("fixed", 60, (), "band"), Turns()),
]


@pytest.mark.parametrize(("name", "clock", "band", "split", "turns"), SETUPS)
def test_the_set_ups_reach_the_core(
    name: str, clock: str, band: bool, split: Split, turns: Turns, tmp_path: Path
) -> None:
    """Each says whose time it is, who else plays, and how one keyboard is shared."""
    setup = plan(tmp_path, setup=name).setup
    assert (setup.clock, setup.with_band, setup.split, setup.turns) == (clock, band, split, turns)


@pytest.mark.parametrize("kind", ["off", "fixed", "reversed", "comping"])
def test_the_split_of_a_set_up_can_be_changed(kind: str, tmp_path: Path) -> None:
    """Two hands in all its kinds, from the command line."""
    setup = plan(tmp_path, setup="two hands", split=kind, split_at=55).setup
    assert setup.split == Split(kind, 55)  # type: ignore[arg-type]


def test_the_horn_has_the_heads(tmp_path: Path) -> None:
    """It plays them from the chart's melody, in and out; anybody else can be told to."""
    way = plan(tmp_path, setup="horn").setup.road_map
    assert way is not None
    assert (way.head, way.head_out) == ("companion", "companion")
    way = plan(tmp_path, setup="horn", melody="player").setup.road_map
    assert way is not None
    assert (way.head, way.head_out) == ("player", "player")


def test_a_chart_that_is_named_is_played_as_it_says(tmp_path: Path) -> None:
    """Its heads, its tempo and its metre hold; one that we chose is there for its changes."""
    setup = plan(tmp_path, chart=CHART).setup
    assert setup.chart is not None
    assert setup.road_map == setup.chart.road_map
    assert setup.tempo_bpm == setup.chart.tempo_bpm
    assert plan(tmp_path, chart=CHART, choruses=3, tempo_bpm=90.0).setup.tempo_bpm == 90.0


def test_without_a_chart_the_changes_are_heard(tmp_path: Path) -> None:
    """With another's clock, or when none is wished for, no chart is made up."""
    assert plan(tmp_path, chart="none").setup.chart is None
    assert plan(tmp_path, clock="midi").setup.chart is None
    assert plan(tmp_path, with_band=False).setup.chart is None
    assert plan(tmp_path, chart="none", metre="3/4").setup.metre.bar_beats == 3.0


def test_two_nights_differ(tmp_path: Path) -> None:
    """The seed is the moment of the start, unless it is said."""
    assert seed_of(datetime(2031, 4, 5, 21, 30, 15)) == 20310405213015
    assert plan(tmp_path, seed=7).setup.seed == 7
    assert plan(tmp_path).setup.seed > 20_000_000_000_000


def test_switches_reach_the_core(tmp_path: Path) -> None:
    """Hold, click and turn signal, each on."""
    setup = plan(tmp_path, hold=True, click=True, turn_signal=True).setup
    assert (setup.hold_tempo, setup.with_click, setup.turn_signal) == (True, True, True)


# --- wishes ------------------------------------------------------------------------------


def test_ports_that_are_named_are_wished_for(tmp_path: Path) -> None:
    """Every role and the output, as typed; roles without a port are left out."""
    wishes = plan(
        tmp_path, player_in="Keys", band_in="Trio", cues_in="Pads", out="Rack", system="JACK"
    ).wishes
    assert wishes.inputs == (("player", "Keys"), ("band", "Trio"), ("cue", "Pads"))
    assert {(part.port, part.sound) for part in wishes.parts} == {("Rack", None)}
    assert wishes.midi_system == "JACK"


@pytest.mark.parametrize(
    ("ports", "clock"),
    [("{}", "auto"), ("{band: Trio}", "Trio"), ("{band: Trio, clock: Box}", "Box")],
)
def test_a_midi_clock_is_looked_for(ports: str, clock: str) -> None:
    """Where nobody has said its port: the band's, or else the player's."""
    config = load_config(f"clock: midi\nports: {ports}\n", "jam.yaml")
    assert dict(wishes_of(config, 1, 0).inputs)["clock"] == clock


@pytest.mark.parametrize(
    ("text", "port", "sound"),
    [
        ("ports: {out: auto}", "auto", (0, 1)),
        ("ports: {out: sound}", "none", (0, 1)),
        ("ports: {out: none}", "none", None),
        ("ports: {out: virtual}", "virtual", None),
        ("ports: {out: Rack}", "Rack", None),
        ("parts: {click: {sound: [3, 4]}}", "auto", (2, 3)),
        ("parts: {click: {sound: none}}", "auto", None),
        ("parts: {click: {port: Rack}}", "Rack", None),
        ("parts: {click: {port: Rack, sound: [3, 4]}}", "Rack", (2, 3)),
        ("parts: {click: {port: none}}", "none", None),
    ],
)
def test_where_a_part_goes(text: str, port: str, sound: tuple[int, int] | None) -> None:
    """Where ``out`` says, unless the part says otherwise: a port, sound, both or nowhere."""
    wish = part_wish(load_config(text + "\n", "jam.yaml"), "click", 0)
    assert (wish.port, wish.sound) == (port, sound)


def test_programs_and_channels_are_counted_from_zero_on_the_wire() -> None:
    """1 in the file is 0 in the message (MIDI 1.0); the soloist has the style's sound."""
    text = "parts: {bass: {program: 1, channel: 16}, comping: {program: keep}}\n"
    parts = {wish.part: wish for wish in wishes_of(load_config(text, "j"), 1, 56).parts}
    assert (parts["bass"].program, parts["bass"].channel) == (0, 15)
    assert (parts["comping"].program, parts["companion"].program) == (None, 56)
    assert part_wish(load_config("style: bop\n", "j"), "bass", 56).program == PROGRAMS["bass"]


def test_cues_are_not_passed_on() -> None:
    """A cue pedal must not reach the sound that the player's own keys go to."""
    text = "thru: {to: both}\ncues: {tap: {note: 21}, stop: {program: 3}}\n"
    thru = wishes_of(load_config(text, "j"), 1, 0).thru
    assert thru.silent == (("note", 21), ("program", 2))
    assert (thru.port, thru.channel) == ("auto", 0)


def test_the_core_sends_where_the_parts_say(tmp_path: Path) -> None:
    """Channels of the configuration are those of the notes, and nobody has the player's own."""
    put(tmp_path / CONFIG, "parts: {bass: {channel: 7}}\n")
    made = plan(tmp_path)
    assert made.setup.channel_of("bass") == 6
    assert made.wishes.thru.channel not in set(made.setup.channels.values())


def test_levels_are_set_by_controllers(tmp_path: Path) -> None:
    """The plan says which parts each controller sets."""
    put(tmp_path / CONFIG, "level_controls: {master: 11, click: 22}\n")
    assert plan(tmp_path).level_controls == {11: (None,), 22: ("click",)}


@pytest.mark.parametrize(
    ("said", "config", "told"),
    [
        ({}, "thru: {to: sound}\n", "heard twice"),
        ({"setup": "taps"}, "", "jam cue tap"),
        ({"band_in": "auto"}, "", "--band-in"),
        ({"setup": "band"}, "", "Ports of our own"),
    ],
)
def test_what_a_player_should_know_is_told(
    said: dict[str, object], config: str, told: str, tmp_path: Path
) -> None:
    """Doubled sound, a tap without a pedal, two who want the same port."""
    put(tmp_path / CONFIG, config or "style: bop\n")
    assert any(told in remark for remark in plan(tmp_path, **said).remarks)
    assert not any(told in remark for remark in plan(tmp_path, setup="one line").remarks) or config


# --- last night --------------------------------------------------------------------------


def test_last_night_is_taken_up(tmp_path: Path) -> None:
    """What was said comes back when nothing is said, and what is said tonight goes before it."""
    first = plan(
        tmp_path, setup="horn", chart="paper-kites", tempo_bpm=150.0, style="sparse", out="Rack"
    )
    assert keep(first) == ""
    again = plan(tmp_path)
    assert (again.chart, again.style, again.setup.tempo_bpm) == ("paper-kites", "sparse", 150.0)
    assert again.config.setup == "horn"
    assert again.config.ports.out == "Rack"
    assert any("--anew" in remark for remark in again.remarks)
    assert plan(tmp_path, style="bop").chart == "paper-kites"
    fresh = plan(tmp_path, anew=True)
    assert (fresh.chart, fresh.config.setup, fresh.remarks) == (CHART, None, ())


def test_what_belongs_together_goes_together() -> None:
    """A tempo goes with its chart; turns, clock and ports go with their set-up."""
    before = Choices(setup="band", chart="a", tempo=90, clock="midi", ports=SaidPorts(band="Trio"))
    assert Choices(chart="b").over(before) == before.model_copy(
        update={"chart": "b", "tempo": None}
    )
    assert Choices(setup="horn").over(before) == Choices(setup="horn", chart="a", tempo=90)
    assert Choices().over(before) == before


def test_what_is_gone_is_left_out(tmp_path: Path) -> None:
    """A chart, style or set-up of last night that is no more keeps nobody from playing."""
    put(tmp_path / FILE, "chart: no-such\nstyle: no-such\nsetup: no such\nturns: 8\n")
    made = plan(tmp_path)
    assert (made.chart, made.style, made.config.turns) == (CHART, "bop", "8")
    assert sum("is left out" in remark for remark in made.remarks) == 3


@pytest.mark.parametrize("text", ["turns: 3\n", "- a\n", "\tx", "", "setup: [1]\n"])
def test_a_damaged_file_is_moved_aside(text: str, tmp_path: Path) -> None:
    """It is told in one line and kept under another name, not overwritten."""
    put(tmp_path / FILE, text)
    choices, told = remembered(tmp_path)
    assert choices == Choices()
    assert "\n" not in told
    assert ASIDE in told
    assert (tmp_path / ASIDE).read_text(encoding="utf-8") == text
    assert not (tmp_path / FILE).exists()


def test_a_folder_that_takes_nothing_is_told(tmp_path: Path) -> None:
    """Choices that cannot be kept are one line, no fault."""
    (tmp_path / "file").write_text("")
    made = plan(tmp_path)
    object.__setattr__(made, "home", tmp_path / "file" / "inside")
    assert "could not be kept" in keep(made)


def test_a_chart_in_a_file_is_found_from_elsewhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is kept of a chart named by its path holds in any folder."""
    text = (
        "title: T\nkey: F\nmetre: 4/4\ntempo: 90\nsections:\n  A:\n    changes: F7 | Bb7\nform: A\n"
    )
    put(tmp_path / "tunes" / "mine.yaml", text)
    monkeypatch.chdir(tmp_path / "tunes")
    assert keep(plan(tmp_path, chart="mine.yaml")) == ""
    monkeypatch.chdir(tmp_path)
    assert plan(tmp_path).chart == "mine"


def test_what_does_not_fit_together_is_told_before_anything_is_opened(tmp_path: Path) -> None:
    """An output named tonight may bring the player's keys and a part onto one channel."""
    put(
        tmp_path / CONFIG,
        "thru: {to: midi, port: Rack, channel: 2}\nparts: {bass: {port: Low}}\n",
    )
    assert plan(tmp_path).wishes.thru.port == "Rack"
    put(tmp_path / CONFIG, "thru: {to: midi, port: Rack, channel: 2}\n")
    with pytest.raises(InputError, match="share channel 2"):
        plan(tmp_path, out="rack")
