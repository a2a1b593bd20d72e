"""``jam play``: one I/O process, one take after another, until somebody leaves.

The loop waits for whichever comes first (a message, a key, a signal, the core's next due moment),
lets the core go on, and shows what came of it. Nothing in it waits for disk, screen or device:
those have threads or a process of their own.
"""

from __future__ import annotations

import gc
import sys
import threading
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from tempfile import mkdtemp
from time import perf_counter

from jam.charts.model import RoadMap
from jam.core.core import Core
from jam.core.setup import Setup, Turns
from jam.core.snapshot import Snapshot
from jam.core.style_rack import NEW_STYLE, new_style_value
from jam.errors import InputError
from jam.events import CUE, PLAYER, Control, Input, Intent, MidiIn, Silence, decode
from jam.ports.wire import News
from jam.session.at_hand import can_play, missing_lines
from jam.session.drive import Drive
from jam.session.effort import LEAST
from jam.session.io_client import IoClient
from jam.session.last_night import keep
from jam.session.live_plan import LivePlan
from jam.session.live_remarks import connected, to_start
from jam.session.resources import home_folder
from jam.session.style_watch import StyleNews, StyleWatch
from jam.session.take import Left, Take
from jam.session.waiter import Waiter
from jam.stage.terminal.keys import open_keys
from jam.stage.terminal.letters import Letters
from jam.stage.terminal.standing import Standing, standing_of
from jam.stage.terminal.view import AT_HAND, View, choose_view

SESSIONS = "sessions"
"""Folder of the user's own folder in which takes are kept, by the date and time they began."""

OPENING_SEC = 10.0
"""How long the I/O process may take to open ports and sound before we go on without."""

SLOW = News(
    "missing", "MIDI and sound did not open in 10 s: close what holds them, or start anew", 0.0
)

_WARM_UP_BEATS = 64.0
_FAULTS_AT_MOST = 5
_LONGEST_WAIT_SEC = 0.2
_BREAK_AFTER_SEC, _BREAK_AGAIN_SEC = 40 * 60.0, 30 * 60.0
LEVEL_NOTE = "Start quiet: turn the volume down, then up from there."


def play(plan: LivePlan, client: IoClient) -> str:
    """Play live through ``client`` until somebody leaves; return what is left to be said."""
    waiter = Waiter()
    try:
        with waiter.signals():
            open_up(client, waiter)
            if not can_play(client.facts) or waiter.asked:
                return "\n".join(missing_lines(client.facts or [SLOW]))
            Live(plan, client, waiter).run()
            return ""
    finally:
        client.quit()
        waiter.close()


def open_up(client: IoClient, waiter: Waiter) -> None:
    """Wait until the I/O process has opened what it could."""
    until = perf_counter() + OPENING_SEC
    while not client.ready and not waiter.asked and perf_counter() < until:
        waiter.wait(client.files, 0.05)
        client.listen()


def warm_up(setup: Setup) -> None:
    """Play the first bars of a chorus for nobody, so that no table or cache is made on stage: those
    of its chords are the dearest."""
    road_map = RoadMap(count_in_bars=1, choruses=1)
    solo = replace(
        setup, clock="internal", autostart=True, turns=Turns("solo"), road_map=road_map, cues={}
    )
    drive = Drive(Core(solo), lambda records: None, grants=((0.0, LEAST),))
    drive.run(_WARM_UP_BEATS * 60.0 / setup.tempo_bpm)


class Live:
    """The loop of live play."""

    def __init__(self, plan: LivePlan, client: IoClient, waiter: Waiter) -> None:
        self._plan = plan
        self._client = client
        self._waiter = waiter
        self._view: View = choose_view(plan.view, sys.stdout, self._standing())
        self._styles = StyleWatch(plan.setup.styles, plan.style_files, plan.home)
        self._letters = Letters(tapped=plan.setup.clock == "taps")
        self._takes = self._faults = 0
        self._leaving = False
        self._left: list[Left] = []
        self._afterwards: list[threading.Thread] = []
        self._played_sec = 0.0
        self._break_at_sec = _BREAK_AFTER_SEC

    def run(self) -> None:
        """Play takes until somebody leaves."""
        take = self._new_take()
        self._keys = open_keys()
        try:
            self._view.start()
            self._begin()
            self._styles.start()
            while not (self._leaving or self._waiter.asked):
                try:
                    self._once(take)
                    self._faults = 0
                except Exception as error:  # on stage everything is survived
                    take = self._survive(take, error)
                if take.ended:
                    self._put_away(take)
                    take = self._new_take()
        finally:
            self._keys.close()
            self._styles.stop()
            try:
                self._leave(take)
            finally:
                self._view.stop("\n".join(self._farewell()))

    def _leave(self, take: Take) -> None:
        """End every note, and wait for what is to be written."""
        take.finish()
        self._client.quit()
        self._put_away(take)
        for thread in self._afterwards:
            thread.join()

    def _begin(self) -> None:
        """Show what there is to be said before the first note."""
        facts = self._client.facts
        sound = next((news.text for news in facts if news.topic == "sound"), "")
        remarks = [
            connected(self._client.ports, sound), LEVEL_NOTE,
            *missing_lines(facts), *self._plan.remarks, keep(self._plan),
        ]  # fmt: skip
        for number, remark in enumerate(filter(None, dict.fromkeys(remarks))):
            self._view.tell(f"note {number}", remark)
        self._client.news()
        warm_up(self._plan.setup)
        gc.freeze()

    def _standing(self) -> Standing:
        return standing_of(self._plan.setup, to_start(self._plan.config, self._plan.setup))

    def _survive(self, take: Take, error: Exception) -> Take:
        """Tell a fault of the loop and go on; when it does not pass, begin a new take."""
        self._faults += 1
        self._view.tell("fault", f"Something went wrong and is passed over: {error!r}")
        take.fault(f"{type(error).__name__}: {error}")
        if self._faults < _FAULTS_AT_MOST:
            return take
        self._faults = 0
        self._view.tell("fault", f"Begun anew, since this did not pass: {error!r}")
        self._client.take([Silence()], self._client.now)
        take.abandon()
        self._put_away(take)
        return self._new_take()

    def _once(self, take: Take) -> None:
        client = self._client
        keys = self._keys.fileno()
        files = client.files if keys is None else [*client.files, keys]
        self._waiter.wait(files, min(_LONGEST_WAIT_SEC, take.drive.next_due - client.now))
        client.listen()
        inputs = [*client.inputs(), *self._pressed(client.now, take.snapshot)]
        for changed in self._styles.news():
            inputs += self._changed(changed, client.now)
        self._levels(inputs)
        records = take.go(inputs, client.now)
        self._view.look(take.snapshot, records)
        for news in client.news():
            self._tell_news(news)
        if take.trouble:
            self._view.tell("fault", take.trouble)
        self._mind_the_hands(client.now)

    def _tell_news(self, news: News) -> None:
        """Tell what the I/O process has found, lost or done; a port that is back is good again."""
        who, _, name = news.text.partition("=")
        match news.topic:
            case "lost" if name:
                self._view.tell(
                    who, f"{who}: {name} is gone; it is taken up again when it is back."
                )
            case "found":
                self._view.tell(who, "")
                self._view.tell(AT_HAND, f"{who}: {name} is back.")
            case "input" | "output":
                self._view.tell(who, "")
            case "priority":
                return
            case _:
                self._view.tell(news.topic, news.text)

    # --- what comes in -------------------------------------------------------------------

    def _pressed(self, now: float, shown: Snapshot) -> list[Intent]:
        """Return what was asked for by keys of the terminal."""
        intents = []
        for name in self._keys.pressed():
            meant = self._letters.meant(name, now, shown)
            match None if meant is None else meant.ask:
                case "intent":
                    assert meant is not None
                    intents.append(Intent(now, meant.intent))
                case "quit":
                    self._leaving = True
                case "keys":
                    self._view.show_keys()
                case "say":
                    assert meant is not None
                    self._view.tell(AT_HAND, meant.text)
        return intents

    def _changed(self, news: StyleNews, now: float) -> list[Intent]:
        """Tell of a style whose file has changed, and return what the core is told of it."""
        topic = f"style {news.replaces}"
        if news.trouble:
            self._view.tell(topic, f"Played on as it was: {news.trouble}")
            return []
        self._view.tell(topic, "")
        self._view.tell(
            AT_HAND,
            f"Reply style {news.style.name}: as its file says now, from its next reply on.",
        )
        setup = self._plan.setup
        styles = tuple(news.style if s.name == news.replaces else s for s in setup.styles)
        self._plan = replace(self._plan, setup=replace(setup, style=styles[0], styles=styles))
        return [Intent(now, NEW_STYLE, new_style_value(news.replaces, news.style))]

    def _levels(self, inputs: Iterable[Input]) -> None:
        """Let controllers set levels."""
        controls = self._plan.level_controls
        for event in inputs if controls else ():
            message = decode(event) if isinstance(event, MidiIn) else None
            if isinstance(message, Control) and message.port in (PLAYER, CUE):
                for part in controls.get(message.number, ()):
                    self._client.level(part, message.value / 127.0)

    def _mind_the_hands(self, now: float) -> None:
        """Remind of a break, the first time after 40 minutes."""
        if self._played_sec + now > self._break_at_sec:
            self._break_at_sec = self._played_sec + now + _BREAK_AGAIN_SEC
            minutes = round((self._played_sec + now) / 60.0)
            self._view.tell("break", f"{minutes} minutes: rest your hands and ears a while.")

    # --- takes ---------------------------------------------------------------------------

    def _new_take(self) -> Take:
        """Begin a take; if its folder cannot be written, in one that can, for a tune is no time to
        stop for a disk. A folder that was asked for and will not do is an InputError at once."""
        self._takes += 1
        folder = self._next_folder()
        try:
            return Take(self._plan, folder, self._client, perf_counter())
        except (OSError, InputError) as error:
            if self._takes == 1 and isinstance(error, InputError):
                raise
            spare = Path(mkdtemp(prefix="jam-"))
            self._view.tell("disk", f"{folder} cannot be written ({error}): kept in {spare}.")
            return Take(self._plan, spare, self._client, perf_counter())

    def _next_folder(self) -> Path:
        """Return a folder that is not there yet."""
        asked = self._plan.out_folder
        if asked is None:
            name = datetime.now().astimezone().strftime("%Y-%m-%d %H.%M.%S")
            asked = home_folder(self._plan.home) / SESSIONS / name
        elif self._takes == 1:
            return asked
        folder, number = asked, 1
        while folder.exists():
            number += 1
            folder = asked.with_name(f"{asked.name} ({number})")
        return folder

    def _put_away(self, take: Take) -> None:
        """Close a take and let a thread write what it leaves."""
        take.finish()
        self._played_sec += take.drive.now
        thread = threading.Thread(target=lambda: self._left.append(take.leave()))
        thread.start()
        self._afterwards.append(thread)

    def _farewell(self) -> list[str]:
        kept = [left for left in self._left if left.folder is not None]
        lines = [f"{left.folder}: {left.length_sec:.0f} s, {left.replies} replies" for left in kept]
        return lines or ["Nothing was played, so nothing was kept."]
