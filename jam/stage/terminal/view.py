"""What a terminal shows of a live session: a screen, plain lines, or nothing.

The live loop calls `View.look` after each step. That keeps the newest state and the records that
matter, and returns; a daemon thread of the view's own does the rest, at most eight times a second.
So a terminal that is slow, stopped or closed delays neither a step nor the end of the program.
"""

from __future__ import annotations

import os
import time
from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from threading import Event, Thread
from typing import Literal, Protocol, TextIO

from rich.console import Console, ConsoleDimensions
from rich.live import Live
from rich.text import Text

from jam.core.snapshot import Snapshot
from jam.log import Record
from jam.stage.terminal.glyphs import glyphs_for
from jam.stage.terminal.letters import key_lines
from jam.stage.terminal.lines import LineTeller, Say
from jam.stage.terminal.out import Out, is_terminal
from jam.stage.terminal.screen import Page
from jam.stage.terminal.standing import Standing
from jam.stage.terminal.story import KINDS, Story

Wanted = Literal["auto", "screen", "lines", "none"]
"""The view that is asked for."""

REDRAW_SEC = 0.125
"""The shortest time between two pictures."""

AT_HAND = "at hand"
"""The topic of what answers a key press, and is gone after a few seconds."""

_AT_HAND_SEC = 4.0
_JOIN_SEC = 0.5
_MOST_WAITING = 20_000


class View(Protocol):
    """Shows a session. All calls come from one thread, and none of them waits for the terminal."""

    def start(self) -> None:
        """Begin to show."""

    def look(self, snapshot: Snapshot, records: Sequence[Record]) -> None:
        """Take the state after a step and the records that the step made."""

    def tell(self, topic: str, text: str) -> None:
        """Tell ``text``, in plain words; it replaces what was told of the same topic before, and
        an empty one takes that back."""

    def show_keys(self) -> None:
        """Show all keys, or hide them again."""

    def stop(self, last: str = "") -> None:
        """Show the end and give the terminal back; ``last`` is left standing there."""


@dataclass(frozen=True)
class _Told:
    topic: str
    text: str
    at_sec: float


@dataclass(frozen=True)
class _ShowKeys:
    pass


class NoView:
    """Shows nothing but the last words; also what the other views have in common."""

    def __init__(self, out: Out) -> None:
        self._out = out
        self._shown: Snapshot | None = None
        self._inbox: deque[Record | _Told | _ShowKeys] = deque(maxlen=_MOST_WAITING)
        self._over = Event()
        self._last = ""
        self._thread = Thread(target=self._run, name="terminal view", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def look(self, snapshot: Snapshot, records: Sequence[Record]) -> None:
        for record in records:
            if record["kind"] in KINDS:
                self._inbox.append(record)
        self._shown = snapshot

    def tell(self, topic: str, text: str) -> None:
        self._inbox.append(_Told(topic, text, time.monotonic()))

    def show_keys(self) -> None:
        self._inbox.append(_ShowKeys())

    def stop(self, last: str = "") -> None:
        if self._over.is_set():
            return
        self._last = last
        self._over.set()
        if self._thread.is_alive():
            # A terminal that takes nothing keeps the thread; as a daemon it ends with the program.
            self._thread.join(_JOIN_SEC)

    # --- the view's own thread -----------------------------------------------------------

    def _run(self) -> None:
        try:
            self._show()
        except Exception as problem:
            # The music goes on without a view, whatever is wrong with it.
            self._out.write(f"\nThe view has failed and shows nothing more: {problem!r}\n")
            self._over.wait()
        if self._last:
            self._out.write(self._last.rstrip("\n") + "\n")
        self._out.close()

    def _show(self) -> None:
        while not self._over.wait(REDRAW_SEC):
            self._inbox.clear()

    def _taken(self) -> list[Record | _Told | _ShowKeys]:
        """Return what has come in since the last call."""
        taken = []
        while self._inbox:
            taken.append(self._inbox.popleft())
        return taken


class LinesView(NoView):
    """Tells the session line by line."""

    def __init__(self, out: Out, standing: Standing, say: Say = "usual") -> None:
        super().__init__(out)
        self._standing = standing
        self._teller = LineTeller(standing, say)
        self._told: dict[str, str] = {}

    def _show(self) -> None:
        self._write(self._teller.opening())
        while not self._over.wait(REDRAW_SEC) and not self._out.gone:
            self._write(self._lines())
        self._write([*self._lines(), *self._teller.closing()])

    def _lines(self) -> list[str]:
        # The state first: what it shows is at least as new as the records taken after it.
        shown, records, lines = self._shown, list[Record](), list[str]()
        for item in self._taken():
            if isinstance(item, _ShowKeys):
                lines += key_lines(tapped=self._standing.tapped)
            elif isinstance(item, _Told):
                if item.text and (item.topic == AT_HAND or self._told.get(item.topic) != item.text):
                    lines += item.text.splitlines()
                self._told[item.topic] = item.text
            else:
                records.append(item)
        return [*self._teller.tell(shown, records), *lines]

    def _write(self, lines: Sequence[str]) -> None:
        if lines:
            self._out.write("".join(f"{line}\n" for line in lines))


class ScreenView(NoView):
    """Draws the page anew where it has changed, on the terminal's other screen."""

    def __init__(self, out: Out, standing: Standing) -> None:
        super().__init__(out)
        self._standing = standing
        self._story = Story(standing.metre.bar_beats)
        self._glyphs = glyphs_for(out.encoding)
        self._news: dict[str, _Told] = {}
        self._keys_shown = False

    def _show(self) -> None:
        console = console_on(self._out)
        drawn: Text | None = None
        with Live(
            console=console,
            screen=True,
            auto_refresh=False,
            redirect_stdout=False,
            redirect_stderr=False,
        ) as live:
            while not self._out.gone:
                page = self._picture(console)
                if page != drawn:
                    live.update(page, refresh=True)
                    drawn = page
                if self._over.wait(REDRAW_SEC):
                    break

    def _picture(self, console: Console) -> Text:
        for item in self._taken():
            self._take(item)
        width, height = self._out.size()
        if console.size != (width, height):
            console.size = ConsoleDimensions(width, height)
        page = Page(
            self._standing, self._story, self._shown, self._fresh_news(), self._glyphs,
            self._keys_shown,
        )  # fmt: skip
        return Text("\n", no_wrap=True).join(page.lines(width, height))

    def _take(self, item: Record | _Told | _ShowKeys) -> None:
        if isinstance(item, _ShowKeys):
            self._keys_shown = not self._keys_shown
        elif isinstance(item, _Told):
            self._news.pop(item.topic, None)
            if item.text:
                self._news[item.topic] = item
        else:
            self._story.take(item)
            if item["kind"] == "cue" and item["name"] != "tap":
                self._news[AT_HAND] = _Told(AT_HAND, f"Cue: {item['name']}.", time.monotonic())
            elif item["kind"] == "fault":
                self._news["fault"] = _Told("fault", str(item["what"]), time.monotonic())

    def _fresh_news(self) -> list[str]:
        now = time.monotonic()
        old = self._news.get(AT_HAND)
        if old is not None and now - old.at_sec > _AT_HAND_SEC:
            del self._news[AT_HAND]
        return [told.text for told in self._news.values()]


def console_on(out: Out, environ: Mapping[str, str] | None = None) -> Console:
    """Return a console that writes to ``out``; without colour where ``NO_COLOR`` asks for that."""
    return Console(
        file=out,  # type: ignore[arg-type]
        force_terminal=True,
        highlight=False,
        markup=False,
        emoji=False,
        width=out.size().columns,
        height=out.size().lines,
        _environ=os.environ if environ is None else environ,
    )


def choose_view(wanted: Wanted, stream: TextIO, standing: Standing, *, say: Say = "usual") -> View:
    """Return the view for ``stream``: ``auto`` is a screen on a terminal that can place its
    cursor, else lines; a screen that is asked for falls back on lines in the same way."""
    out = Out(stream)
    if wanted == "none":
        return NoView(out)
    able = is_terminal(stream) and os.environ.get("TERM", "") not in ("dumb", "unknown")
    if wanted == "lines" or not able:
        return LinesView(out, standing, say)
    return ScreenView(out, standing)
