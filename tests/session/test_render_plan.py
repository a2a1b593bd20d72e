"""What a render makes of its options: clocks, files, metres, ends, and plain refusals."""

from dataclasses import replace
from pathlib import Path

import pytest
from made_files import line, shells, write_beats, write_changes, write_midi

from jam.core.setup import Setup
from jam.errors import InputError
from jam.events import Intent, MidiIn
from jam.session.config import Config
from jam.session.copies import read_setup, setup_record, write_copies
from jam.session.options import RenderOptions
from jam.session.plan import DEFAULT_CHORUSES, plan_render
from jam.session.plan_time import plan_time

AABA = "copper-horizon"
WALTZ = "window-waltz"


@pytest.fixture
def player(tmp_path: Path) -> Path:
    return write_midi(tmp_path / "player.mid", {"horn": line(0.0, 16.0)})


def options(tmp_path: Path, **named: object) -> RenderOptions:
    return replace(RenderOptions(out=tmp_path / "out"), **named)  # type: ignore[arg-type]


def clock_bytes(inputs: tuple[object, ...]) -> list[MidiIn]:
    return [item for item in inputs if isinstance(item, MidiIn) and item.port == "clock"]


# --- clocks ------------------------------------------------------------------------------


def test_the_clock_that_is_not_named(tmp_path: Path, player: Path) -> None:
    """Beats are taken for given, else a file's tempo map, else the companion's own clock."""
    beats = write_beats(tmp_path / "beats.txt", 16)
    assert plan_render(options(tmp_path, player=player, beats=beats)).setup.clock == "given"
    assert plan_render(options(tmp_path, player=player)).setup.clock == "file"
    assert plan_render(options(tmp_path, chart=AABA)).setup.clock == "internal"


def test_a_files_tempo_map_and_metres_become_beats(tmp_path: Path) -> None:
    """Beat 0 is tick 0; tempo changes and changes of metre are kept."""
    path = write_midi(
        tmp_path / "p.mid",
        {"horn": line(0.0, 14.0)},
        tempi=((0.0, 120.0), (8.0, 60.0)),
        metres=((0.0, 4, 4), (8.0, 3, 4)),
    )
    setup = plan_render(options(tmp_path, player=path)).setup
    found = [(beat.sec, beat.beat_in_bar) for beat in setup.given_beats[:12]]
    assert found[:9] == [(k / 2.0, k % 4 + 1) for k in range(8)] + [(4.0, 1)]
    assert found[9:] == [(5.0, 2), (6.0, 3), (7.0, 1)]
    assert str(setup.metre) == "4/4"


def test_bars_that_are_no_whole_quarters_are_counted_from_beat_0(tmp_path: Path) -> None:
    """In 9/8 a bar is four quarters and a half: no given beat is called the first of a bar."""
    path = write_midi(tmp_path / "p.mid", {"horn": line(0.0, 9.0)}, metres=((0.0, 9, 8),))
    setup = plan_render(options(tmp_path, player=path)).setup
    assert setup.metre.bar_beats == 4.5
    assert all(beat.beat_in_bar != 1 for beat in setup.given_beats)


def test_a_file_without_bars_is_taken_for_four_four(tmp_path: Path) -> None:
    """Some programs write 1/4 throughout: that is no metre, and the user is told."""
    path = write_midi(tmp_path / "p.mid", {"horn": line(0.0, 8.0)}, metres=((0.0, 1, 4),))
    plan = plan_render(options(tmp_path, player=path))
    assert [beat.beat_in_bar for beat in plan.setup.given_beats[:5]] == [1, 2, 3, 4, 1]
    assert "1/4: taken for 4/4" in plan.remark
    assert plan_render(options(tmp_path, player=path, metre="3/4")).remark == ""


def test_a_pickup_bar_is_a_bar(tmp_path: Path) -> None:
    """A short first bar, as notation programs write one, comes before the regular ones."""
    path = write_midi(
        tmp_path / "p.mid", {"horn": line(0.0, 12.0)}, metres=((0.0, 1, 4), (1.0, 3, 4))
    )
    setup = plan_render(options(tmp_path, player=path)).setup
    assert str(setup.metre) == "3/4"
    assert [beat.beat_in_bar for beat in setup.given_beats[:6]] == [1, 1, 2, 3, 1, 2]


def test_given_beats_are_the_truth(tmp_path: Path, player: Path) -> None:
    """The core is given the beats as they stand, and the metre is theirs."""
    beats = write_beats(tmp_path / "beats.txt", 30, 100.0, bar=3, first=3)
    setup = plan_render(options(tmp_path, player=player, beats=beats)).setup
    assert len(setup.given_beats) == 30
    assert str(setup.metre) == "3/4"
    assert setup.tempo_bpm == pytest.approx(100.0)


@pytest.mark.parametrize(("first", "bar", "skipped"), [(1, 4, 0), (3, 4, 2), (2, 3, 1)])
def test_taps_begin_so_that_a_downbeat_follows_the_count_off(
    tmp_path: Path, player: Path, first: int, bar: int, skipped: int
) -> None:
    """Four taps count in (common practice): the fifth is the first downbeat."""
    beats = write_beats(tmp_path / "beats.txt", 40, bar=bar, first=first)
    plan = plan_render(options(tmp_path, player=player, beats=beats, clock="taps"))
    taps = [item.t for item in plan.inputs if isinstance(item, Intent)]
    assert taps[0] == pytest.approx(skipped * 0.5)
    assert len(taps) == 40 - skipped
    assert (skipped + 4 + first - 1) % bar == 0


def test_midi_clock_is_made_from_the_tempo_map(tmp_path: Path) -> None:
    """Start, then 24 ticks to the quarter, evenly in each stretch of tempo.

    MIDI 1.0 Detailed Specification: FA, F8; at 120 bpm a tick lasts 20.8333 ms.
    """
    path = write_midi(
        tmp_path / "p.mid", {"horn": line(0.0, 8.0)}, tempi=((0.0, 120.0), (4.0, 240.0))
    )
    plan = plan_render(options(tmp_path, player=path, clock="midi"))
    start, *ticks = clock_bytes(plan.inputs)
    assert start.data == (0xFA,)
    assert {tick.data for tick in ticks} == {(0xF8,)}
    assert ticks[0].t == start.t == 0.0
    assert ticks[1].t == pytest.approx(0.5 / 24)
    assert ticks[4 * 24].t == pytest.approx(2.0)
    assert ticks[5 * 24].t == pytest.approx(2.25)
    assert ticks[-1].t == pytest.approx(plan.end_sec, abs=0.03)


def test_midi_clock_without_a_file_keeps_the_tempo_asked_for(tmp_path: Path) -> None:
    """The tempo is the option's, else the chart's."""
    plan = plan_render(options(tmp_path, chart=AABA, clock="midi", tempo_bpm=90.0))
    assert clock_bytes(plan.inputs)[25].t == pytest.approx(60.0 / 90.0)


# --- files -------------------------------------------------------------------------------


def test_one_file_may_hold_both(tmp_path: Path) -> None:
    """The player's track is named; the band is all the others, or the one that is named."""
    path = write_midi(
        tmp_path / "both.mid",
        {"HORN": line(0.0, 8.0), "KEYS": shells([(50, 53)] * 2), "BASS": shells([(38,)] * 2)},
    )

    def pitches(port: str, **named: object) -> set[int]:
        plan = plan_render(options(tmp_path, band=path, player_track="horn", **named))
        return {
            item.data[1] for item in plan.inputs if isinstance(item, MidiIn) and item.port == port
        }

    assert pitches("player") == {pitch for _, _, pitch in line(0.0, 8.0)}
    assert pitches("band") == {38, 50, 53}
    assert pitches("band", band_track="KEYS") == {50, 53}


def test_a_band_file_silences_the_built_in_band(tmp_path: Path, player: Path) -> None:
    """The rhythm section plays where no band was given, unless it is asked not to."""
    band = write_midi(tmp_path / "band.mid", {"keys": shells([(50, 53, 57)] * 4)})
    assert plan_render(options(tmp_path, player=player)).setup.with_band
    assert not plan_render(options(tmp_path, player=player, band=band)).setup.with_band
    assert not plan_render(options(tmp_path, player=player, with_band=False)).setup.with_band


# --- the end -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("turns", "end_beat"), [("4", 32.0), ("2", 24.0), ("free", 48.0), ("solo", 16.0)]
)
def test_the_companion_is_left_time_to_answer(
    tmp_path: Path, player: Path, turns: str, end_beat: float
) -> None:
    """After the file's last bar comes one turn more, or eight bars when turns are free."""
    setup = plan_render(options(tmp_path, player=player, turns=turns)).setup
    assert setup.end_beat == end_beat


def test_a_chart_alone_ends_after_its_choruses(tmp_path: Path) -> None:
    """An open road map is closed, and there is time for count-in, heads and the last bar."""
    setup = plan_render(options(tmp_path, chart=WALTZ)).setup
    assert setup.road_map is not None
    assert setup.road_map.choruses == DEFAULT_CHORUSES
    plan = plan_render(options(tmp_path, chart=WALTZ, choruses=1))
    assert plan.setup.road_map is not None
    assert plan.setup.road_map.choruses == 1
    assert plan.end_sec < plan_render(options(tmp_path, chart=WALTZ)).end_sec


# --- the copies --------------------------------------------------------------------------


def test_a_setup_comes_back_from_its_copies(tmp_path: Path, player: Path) -> None:
    """Whatever was set up, the folder alone gives the same setup again."""
    beats = write_beats(tmp_path / "beats.txt", 33, 97.3, first=3)
    changes = write_changes(tmp_path / "changes.txt", ["Dm7", "G7(b9,b13)", "Cmaj7", "N.C."])
    cases = [
        {"chart": AABA, "turns": "chorus", "uneven": "restart", "key": "Eb major"},
        {"player": player, "beats": beats, "changes": changes, "turns": "free", "eager": True},
        {"player": player, "clock": "midi", "split": "reversed", "split_at": 55, "seed": 77},
        {"chart": WALTZ, "clock": "internal", "tempo_bpm": 133.3, "first": "companion"},
    ]
    for number, case in enumerate(cases):
        plan = plan_render(options(tmp_path, **case))
        folder = tmp_path / f"copy{number}"
        folder.mkdir()
        write_copies(folder, plan.setup, plan.config, plan.chart_path)
        header = {"seed": plan.setup.seed, "setup": setup_record(plan.setup)}
        assert read_setup(folder, header) == plan.setup


def test_a_melody_beside_a_chart_is_copied_with_it(tmp_path: Path) -> None:
    """The copy of a chart finds its melody in the session's folder, under a name of its own."""
    charts = tmp_path / "charts"
    charts.mkdir()
    write_midi(charts / "session.mid", {"tune": [(0.0, 1.0, 65), (1.0, 1.0, 67)]})
    (charts / "tune.yaml").write_text(
        "title: Borrowed Ladder\nkey: F\nmetre: 4/4\ntempo: 120\n"
        "melody_file: 'session.mid'\nsections:\n  A:\n    changes: F6 | Gm7\n",
        encoding="utf-8",
    )
    plan = plan_render(options(tmp_path, chart=str(charts / "tune.yaml")))
    folder = tmp_path / "copy"
    folder.mkdir()
    write_copies(folder, plan.setup, plan.config, plan.chart_path)
    (charts / "session.mid").unlink()
    assert not (folder / "session.mid").exists()
    header = {"seed": plan.setup.seed, "setup": setup_record(plan.setup)}
    again = read_setup(folder, header)
    assert again.chart == plan.setup.chart
    assert again.chart is not None
    assert len(again.chart.chorus.melody) == 2


@pytest.mark.parametrize("damage", [{}, {"setup": {"clock": "given"}}, {"setup": 3}])
def test_a_header_without_a_setup_cannot_be_played(
    tmp_path: Path, damage: dict[str, object]
) -> None:
    """Logs of other origin are refused in words."""
    plan = plan_render(options(tmp_path, chart=AABA))
    write_copies(tmp_path, plan.setup, Config(), plan.chart_path)
    with pytest.raises(InputError, match="played again"):
        read_setup(tmp_path, {"seed": 1, **damage})


def test_a_copy_that_is_gone_is_named(tmp_path: Path) -> None:
    """Without the chart it was played over, a session is not played again as if it had none."""
    plan = plan_render(options(tmp_path, chart=AABA))
    write_copies(tmp_path, plan.setup, Config(), plan.chart_path)
    (tmp_path / "chart.yaml").unlink()
    header = {"seed": 1, "chart": AABA, "setup": setup_record(plan.setup)}
    with pytest.raises(InputError, match=r"chart\.yaml is missing"):
        read_setup(tmp_path, header)


def test_a_word_that_the_turns_do_not_know_is_refused(tmp_path: Path) -> None:
    """A damaged header is told, not performed with something else."""
    plan = plan_render(options(tmp_path, chart=AABA))
    write_copies(tmp_path, plan.setup, Config(), plan.chart_path)
    setup = setup_record(plan.setup)
    setup["turns"]["uneven"] = "xx"
    with pytest.raises(InputError, match="'xx' is none of swap, restart"):
        read_setup(tmp_path, {"seed": 1, "chart": AABA, "setup": setup})


def test_a_metre_that_cannot_be_played_is_refused_with_a_chart_too(
    tmp_path: Path,
) -> None:
    """A file in 7/16 is not taken for the chart's 4/4 without a word."""
    odd = write_midi(tmp_path / "odd.mid", {"x": line(0.0, 8.0)}, metres=((0.0, 7, 16),))
    with pytest.raises(InputError, match="'7/16' cannot be played"):
        plan_render(options(tmp_path, player=odd, chart=AABA))


# --- refusals ----------------------------------------------------------------------------


def test_what_does_not_fit_is_refused(tmp_path: Path, player: Path) -> None:
    """Each wrong combination is one error that says what is wrong and what to do."""
    beats = write_beats(tmp_path / "beats.txt", 8)
    changes = write_changes(tmp_path / "changes.txt", ["Dm7"])
    odd = write_midi(tmp_path / "odd.mid", {"x": line(0.0, 8.0)}, metres=((0.0, 7, 8),))
    cases: list[tuple[dict[str, object], str]] = [
        ({"player": player, "clock": "notes"}, "not here yet"),
        ({"player": player, "clock": "given"}, "there are no beats"),
        ({"player": player, "clock": "taps"}, "there are no beats"),
        ({"player": player, "clock": "file", "beats": beats}, "does not take the beats"),
        ({"chart": AABA, "clock": "file"}, "there is no file"),
        ({"player": player, "tempo_bpm": 100.0}, "tempo map of the file"),
        ({"player": player, "beats": beats, "tempo_bpm": 100.0}, "comes from the beats"),
        ({"chart": AABA, "changes": changes}, "from a chart already"),
        ({"chart": AABA, "metre": "3/4"}, "is in 4/4"),
        ({"player": player, "metre": "7/8"}, "'7/8' cannot be played"),
        ({"player": odd}, "'7/8' cannot be played"),
        ({"player": player, "key": "H"}, "unknown"),
        ({"player": player, "choruses": 2}, "no chart"),
        ({"player_track": "horn"}, "no file to take it from"),
        ({"band_track": "horn", "player": player}, "no file to take it from"),
        ({}, "nothing to play to"),
    ]
    for named, problem in cases:
        with pytest.raises(InputError, match=problem):
            plan_render(options(tmp_path, **named))


def test_a_setup_has_what_the_core_needs(tmp_path: Path, player: Path) -> None:
    """Cues come from the configuration, the split from the options, seeds are kept."""
    setup: Setup = plan_render(options(tmp_path, player=player, split="fixed", seed=9)).setup
    assert setup.seed == 9
    assert (setup.split.kind, setup.split.pitch) == ("fixed", 60)
    assert setup.styles == (setup.style,)
    assert plan_time(options(tmp_path, chart=AABA), setup.chart, None).clock == "internal"


def test_the_split_and_channels_of_the_configuration_hold_unless_overruled(
    tmp_path: Path, player: Path
) -> None:
    """What the command does not say is as the configuration says."""
    config = tmp_path / "jam.yaml"
    text = "split:\n  kind: fixed\n  at: 55\nchannels:\n  comping: 2\n"
    config.write_text(text, encoding="utf-8")
    own = plan_render(options(tmp_path, player=player, chart=AABA, config=config)).setup.split
    assert (own.kind, own.pitch, own.channels) == ("fixed", 55, ((1, "comping"),))
    said = options(
        tmp_path, player=player, chart=AABA, config=config, split="off", channels=((4, "line"),)
    )
    other = plan_render(said).setup.split
    assert (other.kind, other.channels) == ("off", ((4, "line"),))
