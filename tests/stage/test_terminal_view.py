"""The views: what they write, and that they hold nobody up."""

from __future__ import annotations

import io
import os
import select
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from threading import Event
from time import perf_counter

import pytest
from stage_made import STANDING, a_whole_turn, snapshot

from jam.stage.terminal.out import Out
from jam.stage.terminal.view import (
    AT_HAND,
    LinesView,
    NoView,
    ScreenView,
    choose_view,
    console_on,
)

SOON_SEC = 10.0


class Terminal:
    """A pseudo-terminal: ``stream`` is what a program writes to, `read` what a person sees."""

    def __init__(self) -> None:
        self.eye, self.end = os.openpty()
        self.stream = os.fdopen(self.end, "w", encoding="utf-8")

    def read(self, wanted: str) -> str:
        """Return what is written until ``wanted`` is in it."""
        seen = b""
        while wanted.encode() not in seen:
            assert select.select([self.eye], [], [], SOON_SEC)[0], seen.decode("utf-8", "replace")
            seen += os.read(self.eye, 65536)
        return seen.decode("utf-8", "replace")

    def close(self) -> None:
        os.close(self.eye)
        self.stream.close()


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> Iterator[Terminal]:
    monkeypatch.setenv("TERM", "xterm-256color")
    made = Terminal()
    yield made
    made.close()


def test_the_view_is_chosen_by_what_the_output_is(
    terminal: Terminal, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A terminal gets a screen; a pipe and a terminal that cannot place its cursor get lines."""
    pipe = io.StringIO()
    assert type(choose_view("auto", terminal.stream, STANDING)) is ScreenView
    assert type(choose_view("lines", terminal.stream, STANDING)) is LinesView
    assert type(choose_view("none", terminal.stream, STANDING)) is NoView
    assert type(choose_view("auto", pipe, STANDING)) is LinesView
    assert type(choose_view("screen", pipe, STANDING)) is LinesView
    monkeypatch.setenv("TERM", "dumb")
    assert type(choose_view("auto", terminal.stream, STANDING)) is LinesView


def test_lines_come_out_of_a_pipe_in_order() -> None:
    """The opening, the turn, what was told, the end and the last words, without a control code."""
    stream = io.StringIO()
    view = choose_view("auto", stream, STANDING)
    view.start()
    view.look(snapshot(), a_whole_turn())
    view.tell("ports", "The band's port is gone.")
    view.tell("ports", "The band's port is gone.")
    view.stop("Kept in a folder.")
    view.stop("Not again.")
    lines = stream.getvalue().splitlines()
    assert lines[:2] == LinesView(Out(stream), STANDING)._teller.opening()
    assert "Bar 1: your turn, 2 bars." in lines
    assert lines.count("The band's port is gone.") == 1
    assert lines[-1] == "Kept in a folder."
    assert all(line.isprintable() for line in lines)


def test_the_screen_shows_what_it_is_given_and_leaves(terminal: Terminal) -> None:
    """It draws on the other screen, follows the state, and goes back to the first at the end."""
    view = choose_view("auto", terminal.stream, STANDING)
    view.start()
    view.look(snapshot(), a_whole_turn())
    # Private modes 1049 and 25 are the other screen and the cursor (xterm control sequences).
    assert "\x1b[?1049h" in terminal.read("COMPANION'S TURN")
    view.tell(AT_HAND, "Press q again to quit.")
    terminal.read("Press q again")
    view.show_keys()
    terminal.read("panic: end every note")
    view.show_keys()
    view.look(snapshot(who="player"), [])
    terminal.read("YOUR TURN")
    view.stop("Kept in a folder.")
    end = terminal.read("Kept in a folder.")
    assert end.index("\x1b[?1049l") < end.index("Kept")
    assert "\x1b[?25h" in end


def test_a_cue_that_was_understood_is_told(terminal: Terminal) -> None:
    """Whoever pressed a pedal sees that it was taken, wherever in the form that was."""
    view = choose_view("auto", terminal.stream, STANDING)
    view.start()
    view.look(snapshot(), [{"kind": "cue", "at": 1.0, "name": "take it"}])
    terminal.read("Cue: take it.")
    view.stop()


def test_nothing_is_drawn_where_nothing_changes(terminal: Terminal) -> None:
    """A picture like the last one is not written again."""
    view = ScreenView(Out(terminal.stream), STANDING)
    view.look(snapshot(), [])
    console = console_on(view._out)
    first = view._picture(console)
    view.look(snapshot(now=20.01, beat=30.52), [])
    assert view._picture(console) == first
    view.look(snapshot(beat=31.5, beat_in_bar=4.5), [])
    assert view._picture(console) != first


def test_no_color_is_obeyed(terminal: Terminal) -> None:
    """The environment's NO_COLOR keeps every colour off the terminal."""
    out = Out(terminal.stream)
    assert console_on(out, {"TERM": "xterm", "NO_COLOR": "1"}).no_color
    assert not console_on(out, {"TERM": "xterm"}).no_color


class Stuck(io.StringIO):
    """Takes nothing, as a terminal whose output has been stopped by hand."""

    def __init__(self) -> None:
        super().__init__()
        self.reached, self.go_on = Event(), Event()

    def write(self, text: str) -> int:
        self.reached.set()
        self.go_on.wait()
        return len(text)


@pytest.mark.parametrize("kind", [LinesView, ScreenView])
def test_a_terminal_that_takes_nothing_holds_nobody_up(kind: type) -> None:
    """Looking and stopping return while the view's thread is stuck in a write."""
    stream = Stuck()
    view = kind(Out(stream), STANDING)
    view.start()
    assert stream.reached.wait(SOON_SEC)
    begun = perf_counter()
    for _ in range(100):
        view.look(snapshot(), a_whole_turn())
        view.tell("ports", "found")
    view.stop("last words")
    assert perf_counter() - begun < 5.0
    stream.go_on.set()
    view._thread.join(SOON_SEC)


def test_a_terminal_that_is_closed_is_no_error(monkeypatch: pytest.MonkeyPatch) -> None:
    """After the other end has hung up, the view goes on in silence and stops."""
    monkeypatch.setenv("TERM", "xterm")
    terminal = Terminal()
    view = choose_view("screen", terminal.stream, STANDING)
    view.start()
    terminal.read("Lamplight")
    os.close(terminal.eye)
    view.look(snapshot(), a_whole_turn())
    view.stop("nobody reads this")
    view._thread.join(SOON_SEC)  # type: ignore[attr-defined]
    assert not view._thread.is_alive()  # type: ignore[attr-defined]
    terminal.stream.close()


def test_a_view_that_fails_says_so_and_leaves_the_music_alone() -> None:
    """A mistake in the view ends the view only, in one line."""
    stream = io.StringIO()
    view = choose_view("lines", stream, STANDING)
    view.start()
    view.look(snapshot(), [{"kind": "reply"}])
    view.stop("last")
    assert "The view has failed" in stream.getvalue()
    assert stream.getvalue().endswith("last\n")


def test_the_program_ends_though_its_terminal_takes_nothing(tmp_path: Path) -> None:
    """A program whose output is a pipe that nobody empties ends by itself, and soon."""
    program = (
        "import sys\n"
        "from jam.stage.terminal.standing import Standing\n"
        "from jam.stage.terminal.view import choose_view\n"
        "view = choose_view('auto', sys.stdout, Standing('x' * 300_000))\n"
        "view.start()\n"
        "view.stop('last')\n"
    )
    read, write = os.pipe()
    with subprocess.Popen([sys.executable, "-c", program], stdout=write, cwd=tmp_path) as process:
        assert process.wait(30.0) == 0
    os.close(read)
    os.close(write)
