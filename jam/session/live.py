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
from datetime import datetime
from pathlib import Path
from time import perf_counter

from jam.events import CUE, PLAYER, Control, Input, Intent, MidiIn, decode
from jam.ports.spawn import spawn
from jam.session.at_hand import can_play, missing_lines
from jam.session.io_client import IoClient
from jam.session.last_night import keep
from jam.session.live_plan import LivePlan
from jam.session.resources import home_folder
from jam.session.take import Left, Take
from jam.session.waiter import Waiter
from jam.stage.terminal.keys import Keys
from jam.stage.terminal.view import View, choose_view

SESSIONS = "sessions"
"""Folder of the user's own folder in which takes are kept, by the date and time they began."""

OPENING_SEC = 3.0
"""How long the I/O process may take to open ports and sound before we go on without."""

_LONGEST_WAIT_SEC = 0.2
_BREAK_AFTER_SEC, _BREAK_AGAIN_SEC = 40 * 60.0, 30 * 60.0
_FAULTS_AT_MOST = 5


def play(plan: LivePlan) -> int:
    """Play live until somebody leaves; return the exit code."""
    client = IoClient(plan.wishes, spawn, perf_counter)
    waiter = Waiter()
    try:
        with waiter.signals():
            open_up(client, waiter)
            if not can_play(client.facts) or waiter.asked:
                client.quit()
                say(missing_lines(client.facts))
                return 0
            return Live(plan, client, waiter).run()
    finally:
        client.quit()
        waiter.close()


def open_up(client: IoClient, waiter: Waiter) -> None:
    """Wait until the I/O process has opened what it could."""
    until = perf_counter() + OPENING_SEC
    while not client.ready and not waiter.asked and perf_counter() < until:
        waiter.wait(client.files, 0.05)
        client.listen()


def say(lines: Iterable[str]) -> None:
    """Print lines, if anybody is there to read them."""
    try:
        for line in lines:
            print(line)
        sys.stdout.flush()
    except (OSError, ValueError):
        return


class Live:
    """The loop of live play."""

    def __init__(self, plan: LivePlan, client: IoClient, waiter: Waiter) -> None:
        self._plan = plan
        self._client = client
        self._waiter = waiter
        self._view: View = choose_view(plan.view, sys.stdout)
        self._keys = Keys()
        self._takes = 0
        self._leaving = False
        self._left: list[Left] = []
        self._afterwards: list[threading.Thread] = []
        self._played_sec = 0.0
        self._break_at_sec = _BREAK_AFTER_SEC

    def run(self) -> int:
        """Play takes until somebody leaves."""
        take = self._new_take()
        keep(self._plan)
        self._view.start()
        for remark in (*missing_lines(self._client.facts), *self._plan.remarks):
            self._view.tell("note", remark)
        with self._keys:
            gc.freeze()
            while not (self._leaving or self._waiter.asked):
                self._once(take)
                if take.ended:
                    self._put_away(take)
                    take = self._new_take()
        self._view.stop()
        take.finish()
        self._client.quit()
        self._put_away(take, finished=True)
        for thread in self._afterwards:
            thread.join()
        say(self._farewell())
        return 0

    def _once(self, take: Take) -> None:
        client = self._client
        files = [*client.files, *self._keys.files]
        self._waiter.wait(files, min(_LONGEST_WAIT_SEC, take.drive.next_due - client.now))
        client.listen()
        inputs = [*client.inputs(), *self._pressed(client.now, running=take.snapshot.running)]
        self._levels(inputs)
        records = take.go(inputs, client.now)
        self._view.look(take.snapshot, records)
        for news in client.news():
            self._view.tell(news.topic, news.text)
        if take.trouble:
            self._view.tell("fault", take.trouble)
        self._mind_the_hands(client.now)

    # --- what comes in -------------------------------------------------------------------

    def _pressed(self, now: float, *, running: bool) -> list[Intent]:
        """Return what was asked for by keys of the terminal."""
        intents = []
        for name in self._keys.asked(tapped=self._plan.setup.clock == "taps", running=running):
            if name == "quit":
                self._leaving = True
            elif name in ("help", "really quit?"):
                self._view.tell(name, self._keys.help)
            else:
                intents.append(Intent(now, name))
        return intents

    def _levels(self, inputs: Iterable[Input]) -> None:
        """Let controllers set levels."""
        for event in inputs:
            message = decode(event) if isinstance(event, MidiIn) else None
            if isinstance(message, Control) and message.port in (PLAYER, CUE):
                for part in self._plan.level_controls.get(message.number, ()):
                    self._client.level(part, message.value / 127.0)

    def _mind_the_hands(self, now: float) -> None:
        """Remind of a break, the first time after 40 minutes."""
        if self._played_sec + now > self._break_at_sec:
            self._break_at_sec = self._played_sec + now + _BREAK_AGAIN_SEC
            minutes = round((self._played_sec + now) / 60.0)
            self._view.tell("break", f"{minutes} minutes: rest your hands and ears a while.")

    # --- takes ---------------------------------------------------------------------------

    def _new_take(self) -> Take:
        self._takes += 1
        return Take(self._plan, self._next_folder(), self._client, perf_counter())

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

    def _put_away(self, take: Take, *, finished: bool = False) -> None:
        """Close a take and let a thread write what it leaves."""
        if not finished:
            take.finish()
        self._played_sec += take.drive.now
        thread = threading.Thread(target=lambda: self._left.append(take.leave()))
        thread.start()
        self._afterwards.append(thread)

    def _farewell(self) -> list[str]:
        kept = [left for left in self._left if left.folder is not None]
        lines = [
            f"{left.folder}: {left.length_sec:.0f} s, {left.replies} replies" for left in kept
        ]
        return lines or ["Nothing was played, so nothing was kept."]
