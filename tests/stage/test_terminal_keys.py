"""Keys of a terminal, pressed through a pseudo-terminal."""

from __future__ import annotations

import os
import select
import signal
import termios
from collections.abc import Iterator

import pytest
from stage_made import snapshot

from jam.core.setup import CUES
from jam.stage.terminal.keys import ESCAPE, Decoder, Keys, NoKeys, open_keys
from jam.stage.terminal.letters import (
    AGAIN_SEC,
    KEYS,
    Letters,
    Meant,
    key_lines,
    key_row,
    keys_of,
)


class Pair:
    """A pseudo-terminal: ``type`` is the hand at the keyboard, ``keys`` what the program reads."""

    def __init__(self) -> None:
        self.hand, self.end = os.openpty()
        self.stream = os.fdopen(self.end, "r", closefd=False)

    def type(self, text: str) -> None:
        os.write(self.hand, text.encode())

    def close(self) -> None:
        os.close(self.hand)
        os.close(self.end)


@pytest.fixture
def pair() -> Iterator[Pair]:
    made = Pair()
    yield made
    made.close()


def until_pressed(keys: Keys, count: int) -> list[str]:
    """Return the next ``count`` keys, waiting as a program does: on the file number."""
    found: list[str] = []
    while len(found) < count:
        number = keys.fileno()
        assert number is not None
        assert select.select([number], [], [], 5.0)[0], f"only {found} came"
        found += keys.pressed()
    return found


def test_typed_keys_arrive_without_enter_and_without_echo(pair: Pair) -> None:
    """Each key comes by itself, nothing is echoed, and nobody waits where none was pressed."""
    keys = open_keys(pair.stream)
    assert keys.pressed() == []
    pair.type("t l?")
    assert until_pressed(keys, 4) == ["t", " ", "l", "?"]
    assert not termios.tcgetattr(pair.end)[3] & (termios.ECHO | termios.ICANON)
    assert select.select([pair.hand], [], [], 0.0)[0] == []
    keys.close()


def test_the_terminal_is_given_back_as_it_was(pair: Pair) -> None:
    """After `close`, called twice even, every setting is what it was before."""
    before = termios.tcgetattr(pair.end)
    keys = open_keys(pair.stream)
    assert termios.tcgetattr(pair.end) != before
    keys.close()
    keys.close()
    assert termios.tcgetattr(pair.end) == before
    assert keys.fileno() is None
    assert keys.pressed() == []


def test_ctrl_z_and_ctrl_s_are_keys_like_others(pair: Pair) -> None:
    """What would stop the program, or freeze its screen, comes as a key that means nothing."""
    keys = open_keys(pair.stream)
    pair.type("\x1a\x13\x1c")
    found = until_pressed(keys, 3)
    assert found == ["\x1a", "\x13", "\x1c"]
    letters = Letters()
    assert [letters.meant(key, 0.0, snapshot()) for key in found] == [None] * 3
    keys.close()


def test_the_handlers_of_signals_are_given_back(pair: Pair) -> None:
    """Stop and continue are handled while keys are read, and as before afterwards."""
    before = signal.getsignal(signal.SIGTSTP), signal.getsignal(signal.SIGCONT)
    keys = open_keys(pair.stream)
    assert signal.getsignal(signal.SIGTSTP) != before[0]
    keys.close()
    assert (signal.getsignal(signal.SIGTSTP), signal.getsignal(signal.SIGCONT)) == before


def test_a_terminal_that_has_hung_up_is_let_go() -> None:
    """No error comes out, and no file number is left on which select would spin."""
    pair = Pair()
    keys = open_keys(pair.stream)
    os.close(pair.hand)
    assert keys.pressed() == []
    assert keys.fileno() is None
    keys.close()
    os.close(pair.end)


def test_what_is_no_terminal_has_no_keys() -> None:
    """A pipe, or no input at all, is no reason to fail."""
    read, write = os.pipe()
    with os.fdopen(read) as stream:
        assert isinstance(open_keys(stream), NoKeys)
    os.close(write)
    assert open_keys(stream).pressed() == []


@pytest.mark.parametrize(
    ("texts", "keys"),
    [
        # Sequences of ECMA-48: CSI for arrows and function keys, SS3 for keypads.
        (["\x1b"], [ESCAPE]),
        (["\x1b[A\x1b[15~\x1bOP"], []),
        (["a\x1b[1;5Cb"], ["a", "b"]),
        (["\x1b\x1b"], [ESCAPE, ESCAPE]),
        (["\x1b", "[At"], [ESCAPE, "t"]),
        (["\x1bt"], [ESCAPE, "t"]),
    ],
)
def test_escape_is_told_from_arrows(texts: list[str], keys: list[str]) -> None:
    """Arrows and function keys are swallowed whole; Escape itself is told at once."""
    decoder = Decoder()
    assert [key for text in texts for key in decoder.decode(text)] == keys


def test_no_key_ends_a_performance_at_once() -> None:
    """While something plays, a single press of any key neither stops nor quits."""
    for tapped in (False, True):
        for key in keys_of(tapped=tapped):
            meant = Letters(tapped=tapped).meant(key.name, 10.0, snapshot())
            assert meant is not None
            assert meant.ask != "quit"
            assert meant.intent not in ("stop", "start", "cut off")


def test_stop_and_quit_are_pressed_twice() -> None:
    """The second press within three seconds counts, another key between them takes it back."""
    letters = Letters()

    def press(name: str, at: float) -> Meant:
        meant = letters.meant(name, at, snapshot())
        assert meant is not None
        return meant

    assert press("q", 0.0).ask == "say"
    assert press("q", AGAIN_SEC).ask == "quit"
    assert press("s", 10.0).ask == "say"
    assert press("s", 10.5) == Meant("intent", "stop")
    assert press("q", 20.0).ask == "say"
    assert press("t", 20.5) == Meant("intent", "take it")
    assert press("q", 21.0).ask == "say"
    assert press("q", 30.0).ask == "say"


def test_a_fermata_is_cut_off_at_once() -> None:
    """Where the last chord waits for its cut-off, one press must do: it is to be in time."""
    meant = Letters().meant("x", 0.0, snapshot(ending="fermata"))
    assert meant == Meant("intent", "cut off")


def test_keys_while_nothing_plays() -> None:
    """Space starts or taps, quit needs no second thought, capitals are the same."""
    for tapped, intent in ((False, "start"), (True, "tap")):
        letters = Letters(tapped=tapped)
        assert letters.meant(" ", 0.0, None) == Meant("intent", intent)
    assert Letters().meant("Q", 0.0, None) == Meant("quit")
    assert Letters().meant("z", 0.0, None) is None


def test_hold_changes_to_follow() -> None:
    """One key holds the tempo and follows it again."""
    meant = [Letters().meant("h", 0.0, snapshot(holding=held)) for held in (False, True)]
    assert meant == [Meant("intent", "hold tempo"), Meant("intent", "follow")]


def test_every_key_stands_in_the_list_and_asks_for_a_cue_that_there_is() -> None:
    """No two keys are the same, and the core knows what they ask for."""
    assert len({key.name for key in KEYS}) == len(KEYS)
    asked = {key.intent for key in KEYS} - {"quit", "keys"}
    assert asked <= set(CUES)
    assert {"tap", "follow"} <= set(CUES)
    assert len(list(key_lines(tapped=False))) == len(KEYS)


@pytest.mark.parametrize("width", [20, 40, 80])
def test_the_row_of_keys_fits(width: int) -> None:
    """However narrow, it ends with the key that shows all of them."""
    for playing in (False, True):
        row = key_row(width, tapped=False, playing=playing)
        assert len(row) <= width
        assert row.endswith("? all keys")
        assert ("space" in row) is (not playing and width > 20)
