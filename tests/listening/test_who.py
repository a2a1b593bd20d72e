"""Who plays what, by port and by keyboard split."""

from __future__ import annotations

import pytest

from jam.listening.who import Split, WhoPlays, part_of


@pytest.mark.parametrize(
    ("kind", "pitch", "part"),
    [
        ("off", 40, "line"),
        ("off", 80, "line"),
        ("fixed", 59, "comping"),
        ("fixed", 60, "line"),
        ("reversed", 59, "line"),
        ("reversed", 60, "comping"),
    ],
)
def test_split_divides_the_players_keyboard(kind, pitch, part):
    """The split pitch is the lowest note of the upper side, and reversed swaps the hands."""
    assert part_of(Split(kind, 60), "player", 0, pitch) == part


def test_band_port_is_band_whatever_the_split():
    """Notes of the band port are the band's, high or low."""
    assert {part_of(Split("fixed", 60), "band", 3, pitch) for pitch in (30, 90)} == {"band"}


def test_note_off_goes_where_its_note_on_went():
    """Moving the split while a key is down does not move its release."""
    who = WhoPlays(Split("fixed", 60))
    assert who.note_on("player", 0, 62) == "line"
    who.split = Split("fixed", 65)
    assert who.note_off("player", 0, 62) == "line"
    assert who.note_on("player", 0, 62) == "comping"


def test_same_note_struck_twice_needs_two_releases():
    """Each of two strikes is ended once, the latest first; a third release is nobody's."""
    who = WhoPlays(Split("fixed", 60))
    who.note_on("player", 0, 62)
    who.split = Split("reversed", 60)
    who.note_on("player", 0, 62)
    releases = [who.note_off("player", 0, 62) for _ in range(3)]
    assert releases == ["comping", "line", None]


def test_channels_and_ports_are_kept_apart():
    """The same pitch on another channel or port is another note."""
    who = WhoPlays()
    who.note_on("player", 0, 62)
    assert who.note_off("player", 1, 62) is None
    assert who.note_off("band", 0, 62) is None
    assert who.note_off("player", 0, 62) == "line"


def test_a_named_channel_tells_the_part_on_any_port() -> None:
    """A channel that is named goes before port and split; one that is not leaves them to it."""
    split = Split("fixed", 60, ((1, "comping"), (2, "band")))
    assert part_of(split, "player", 1, 80) == "comping"
    assert part_of(split, "player", 2, 80) == "band"
    assert part_of(split, "band", 1, 30) == "comping"
    assert part_of(split, "player", 0, 80) == "line"
    assert part_of(split, "player", 0, 40) == "comping"


def test_with_a_line_channel_all_others_are_the_bands() -> None:
    """One port that carries the whole band needs one name: the line's."""
    split = Split(channels=((3, "line"),))
    parts = [part_of(split, "player", channel, 60) for channel in range(16)]
    assert parts == ["band"] * 3 + ["line"] + ["band"] * 12
