"""The player's keys passed on: what is, what is not, and an end for all of it."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from jam.ports.thru import Thru
from jam.ports.wishes import ThruWish

# Numbers of controllers and status bytes: MIDI 1.0 Detailed Specification.
DAMPER = 64

WISH = ThruWish("midi", "auto", 5, silent=(("note", 21), ("control", 66), ("program", 7)))


def test_it_goes_out_on_its_own_channel() -> None:
    """Keys, pedals, bends and pressure leave on the channel wished for, otherwise unchanged."""
    thru = Thru(WISH)
    for data in ((0x92, 60, 80), (0xB2, DAMPER, 127), (0xE2, 0, 64), (0xD2, 30), (0xC2, 1)):
        assert thru.take(data) == [((data[0] & 0xF0) | 5, *data[1:])]
    assert thru.take((0x92, 60, 0)) == [(0x85, 60, 0)]


def test_cues_system_messages_and_the_local_switch_stay() -> None:
    """Whatever is a cue, of the system, or meant for the keyboard itself is not passed on."""
    thru = Thru(WISH)
    for data in (
        (0x90, 21, 80), (0x80, 21, 0), (0x90, 21, 0), (0xB0, 66, 127), (0xC0, 7),
        (0xF8,), (0xFA,), (0xFE,), (0xF2, 1, 2), (0xB0, 122, 0),
    ):  # fmt: skip
        assert thru.take(data) == []
    assert thru.end() == []


def test_a_pitch_from_two_channels_ends_with_the_last() -> None:
    """Struck twice it is let go of in between; it ends when nobody holds it any more."""
    thru = Thru(WISH)
    assert thru.take((0x90, 60, 80)) == [(0x95, 60, 80)]
    assert thru.take((0x91, 60, 70)) == [(0x85, 60, 0), (0x95, 60, 70)]
    assert thru.take((0x80, 60, 40)) == []
    assert thru.take((0x81, 60, 40)) == [(0x85, 60, 40)]
    assert thru.take((0x81, 60, 40)) == []


def test_the_end_lets_go_of_keys_and_pedals() -> None:
    """What is held when it ends gets its note-off, and pedals that are down come up."""
    thru = Thru(WISH)
    for data in ((0x90, 60, 80), (0x90, 64, 80), (0xB0, DAMPER, 100), (0x80, 60, 0)):
        thru.take(data)
    assert thru.end() == [(0x85, 64, 0), (0xB5, DAMPER, 0)]
    assert thru.end() == []


KEYS = st.tuples(st.sampled_from((0x80, 0x81, 0x90, 0x91)), st.integers(60, 62), st.integers(0, 2))


@given(st.lists(KEYS, max_size=40))
def test_every_key_passed_on_is_let_go(played: list[tuple[int, int, int]]) -> None:
    """However keys are pressed and let go: on and off by turns, and the end ends it."""
    thru = Thru(WISH)
    down: set[int] = set()
    for data in [out for played_one in played for out in thru.take(played_one)] + thru.end():
        if data[0] == 0x95:
            assert data[1] not in down
            down.add(data[1])
        else:
            down.remove(data[1])
    assert down == set()
