"""A wish finds its port: exactly, with other numbers, or in part; never by a guess between two."""

import pytest

from jam.errors import PortError
from jam.ports.names import find, first, is_own, is_through, plain

# Names as the systems list them: ALSA and JACK (ports of the system, of a bridge, of a program),
# CoreMIDI, Windows. The devices are invented.
ALSA = [
    "Midi Through:Midi Through Port-0 14:0",
    "Stage Keys:Stage Keys MIDI 1 20:0",
    "Stage Keys:Stage Keys MIDI 2 20:1",
    "Wind Reed:Wind Reed MIDI 1 24:0",
    "phrase-turns:player 128:0",
]


@pytest.mark.parametrize(
    ("name", "without"),
    [
        ("Stage Keys:Stage Keys MIDI 1 20:0", "Stage Keys:Stage Keys MIDI 1"),
        ("bridge:Stage Keys [20] (capture): MIDI 1", "bridge:Stage Keys (capture): MIDI 1"),
        ("system:midi_capture_1", "system:midi_capture_1"),
        ("Stage Keys 49", "Stage Keys 49"),
        ("Take 20:0 here", "Take 20:0 here"),
    ],
)
def test_plain_names_leave_out_what_a_cable_changes(name: str, without: str) -> None:
    """Only the numbers of client and port go, and going twice changes nothing."""
    assert plain(name) == without
    assert plain(without) == without


@pytest.mark.parametrize(
    ("pattern", "found"),
    [
        ("Wind Reed:Wind Reed MIDI 1 24:0", ALSA[3]),
        ("Wind Reed:Wind Reed MIDI 1", ALSA[3]),
        ("Wind Reed:Wind Reed MIDI 1 32:0", ALSA[3]),
        ("reed", ALSA[3]),
        ("KEYS MIDI 2", ALSA[2]),
        ("Theremin", None),
    ],
)
def test_a_wish_finds_its_port(pattern: str, found: str | None) -> None:
    """Exact, then with other numbers, then a part in capitals or not."""
    assert find(pattern, ALSA) == found


def test_the_exact_name_wins_over_longer_ones() -> None:
    """A name that is a part of another one still means itself."""
    assert find("Keys", ["Keys and Pads", "Keys"]) == "Keys"


def test_two_that_fit_are_a_question() -> None:
    """The player is told both names and asked for more letters."""
    with pytest.raises(PortError) as caught:
        find("stage", ALSA)
    assert ALSA[1] in caught.value.problem
    assert ALSA[2] in caught.value.problem
    assert "more" in caught.value.mend


def test_two_alike_are_a_question_too() -> None:
    """Two keyboards of one make differ in their numbers only: the numbers decide, or the player."""
    twins = ["Keys:Keys 20:0", "Keys:Keys 24:0"]
    assert find("Keys:Keys 24:0", twins) == "Keys:Keys 24:0"
    with pytest.raises(PortError):
        find("Keys:Keys 28:0", twins)


def test_auto_takes_no_through_port_and_none_of_ours() -> None:
    """The first real one; none if there are only such."""
    assert first(ALSA, "phrase-turns") == ALSA[1]
    assert first([ALSA[0], ALSA[4], "phrase-turns-01:out"], "phrase-turns") is None
    assert is_through(ALSA[0])
    assert not is_through(ALSA[1])
    assert is_own("phrase-turns-02:companion", "phrase-turns")
    assert is_own("phrase-turns-watch-01:alive", "phrase-turns")
    assert not is_own("phrase-turnstile:out", "phrase-turns")
