"""Set-ups, parts and their routes, and what does not fit together."""

from __future__ import annotations

from pathlib import Path

import pytest

from jam.errors import InputError
from jam.events import Part
from jam.ports.wishes import PARTS
from jam.session.config import Config, load_config
from jam.session.resources import CONFIG, CUES, data_folder, find_config, read_text

SHIPPED = ("one line", "two hands", "horn", "band", "taps", "four hands")


def put(path: Path, text: str) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize("name", SHIPPED)
def test_what_came_along_can_be_taken(name: str) -> None:
    """Each set-up that the README names is there, says what it is for, and can be used."""
    config = find_config().value.with_setup(name)
    assert config.setup == name
    assert config.about


def test_a_set_up_goes_before_what_stands_outside() -> None:
    """Key by key: what it leaves out is as outside, a cue is replaced as a whole."""
    text = (
        "turns: 8\n"
        "split: {at: E4}\n"
        "cues: {take it: {control: 66}, lay out: {control: 67}}\n"
        "setups:\n"
        "  mine:\n"
        "    split: {kind: reversed}\n"
        "    cues: {take it: {note: A0}, Lay Out: none}\n"
    )
    config = load_config(text, "jam.yaml").with_setup("Mine")
    assert config.turns == "8"
    assert (config.split.kind, config.split.at) == ("reversed", 64)
    assert config.cue_map() == {("note", 21): "take it"}


def test_a_copy_of_a_chosen_set_up_says_the_same() -> None:
    """What a session leaves as its configuration can be read, and means what was used."""
    config = find_config().value.with_setup("horn")
    again = Config.model_validate(config.model_dump(mode="json"))
    assert again.with_setup("horn") == config


def test_set_ups_that_came_along_stay_under_ones_own(tmp_path: Path) -> None:
    """A configuration of the user's own adds set-ups and takes the place of some, by name."""
    put(tmp_path / CONFIG, "setups:\n  Two_Hands: {turns: 2}\n  cellar: {turns: 8}\n")
    config = find_config(home=tmp_path).value
    assert {name.lower().replace("_", " ") for name in config.setups} == {*SHIPPED, "cellar"}
    assert config.with_setup("two hands").turns == "2"
    assert config.with_setup("two hands").split.kind == "off"


def test_an_unknown_set_up_is_told_the_nearest() -> None:
    """The option is named, and the name that was meant."""
    with pytest.raises(InputError, match=r"--setup twohands: there is no such.*`two hands`"):
        find_config().value.with_setup("twohands")


def test_clashes_are_told_all_at_once() -> None:
    """Two cues of one pedal, a level on a cue's controller, a shared channel: each has its line."""
    text = (
        "cues:\n"
        "  tap: {control: 66}\n"
        "  stop: {control: 66}\n"
        "level_controls:\n"
        "  bass: 66\n"
        "  master: 11\n"
        "  drums: 11\n"
        "thru:\n"
        "  to: midi\n"
        "  channel: 10\n"
    )
    with pytest.raises(InputError) as caught:
        load_config(text, "jam.yaml")
    told = str(caught.value)
    assert told.startswith("jam.yaml:3: cues.stop: control 66 is for the cue `tap` already")
    for words in ("Line 5: control 66", "Line 7: control 11", "Line 10: your keys"):
        assert words in told


def test_learnt_cues_go_before_and_are_named_by_their_file(tmp_path: Path) -> None:
    """A learnt cue replaces the file's; where it clashes, its own file and line are told."""
    put(tmp_path / CUES, "cues:\n  take it: {note: C2}\n  lay out: none\n")
    assert find_config(home=tmp_path).value.cue_map() == {("note", 36): "take it"}
    put(tmp_path / CUES, "cues:\n  stop:\n    control: 66\n")
    with pytest.raises(InputError, match=rf"{CUES.name}:2: cues.stop: control 66") as caught:
        find_config(home=tmp_path)
    assert "Give each one of its own" in caught.value.mend
    put(tmp_path / CUES, "cues:\n  stopp: {control: 1}\n")
    with pytest.raises(InputError, match=rf"{CUES.name}:2: cues.stopp:.*no cue"):
        find_config(home=tmp_path)


def test_a_file_named_outright_is_taken_as_it_is(tmp_path: Path) -> None:
    """Learnt cues belong to the usual configuration, not to one that is named."""
    put(tmp_path / CUES, "cues:\n  take it: {note: C2}\n")
    other = put(tmp_path / "other.yaml", "style: bop\n")
    assert find_config(other, tmp_path).value.cue_map()[("control", 66)] == "take it"


def test_no_part_has_the_players_channel() -> None:
    """Else the player's damper pedal would hold the companion's notes (a controller holds for
    its channel: MIDI 1.0)."""
    config = Config()
    assert config.thru.channel not in {config.parts.channel(part) for part in PARTS}


@pytest.mark.parametrize(
    ("text", "clash"),
    [
        ("thru: {to: midi, channel: 2}", True),
        ("thru: {to: sound, channel: 2}", False),
        ("thru: {to: midi, channel: 2, port: Rack}", False),
        ("thru: {to: midi, channel: 2, port: Rack}\nparts: {bass: {port: rack}}", True),
        ("thru: {to: both, channel: 7}\nparts: {click: {channel: 7}}", True),
        ("ports: {out: sound}\nthru: {to: midi, channel: 2}", False),
    ],
)
def test_keys_and_parts_may_not_share_a_channel_of_a_port(text: str, clash: bool) -> None:
    """The same channel on another port, or no MIDI at all, is no clash."""
    if not clash:
        load_config(text + "\n", "jam.yaml")
        return
    with pytest.raises(InputError, match="damper pedal would hold") as caught:
        load_config(text + "\n", "jam.yaml")
    assert caught.value.field == "thru.channel"
    assert "is free" in caught.value.mend


@pytest.mark.parametrize(
    ("part", "port", "channel"),
    [("bass", "Low", 9), ("comping", "Trio", 7), ("drums", "Trio", 7), ("melody", "Horn", 5)],
)
def test_the_band_is_short_for_its_three(part: Part, port: str, channel: int) -> None:
    """A part's own words go before the band's; the melody goes with the companion."""
    text = (
        "parts:\n"
        "  band: {port: Trio, channel: 7}\n"
        "  bass: {port: Low, channel: 9}\n"
        "  companion: {port: Horn, channel: 5}\n"
    )
    parts = load_config(text, "jam.yaml").parts
    assert (parts.route(part).port, parts.channel(part)) == (port, channel)


def test_level_controls_name_parts() -> None:
    """The band's slider moves three parts, the master's none in particular."""
    text = "level_controls: {master: 11, band: 20, companion: 21, click: 22}\n"
    assert load_config(text, "jam.yaml").level_controls.map() == {
        11: (None,),
        20: ("bass", "comping", "drums"),
        21: ("companion", "melody"),
        22: ("click",),
    }


def test_the_file_that_comes_along_explains_every_key() -> None:
    """Whoever opens it finds each key of the configuration, set or in a comment."""
    text = read_text(data_folder() / CONFIG)
    for key in set(Config.model_fields) - {"chart", "tempo"}:
        assert f"{key}:" in text, key
