"""A whole evening in a test: receiver, performer and companion on one server, judged at the end.

Machine seconds are those of ``time.perf_counter``. A session's own seconds differ from them by a
constant, which `Evening.origin` reads from a press that both have seen.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from contextlib import ExitStack
from pathlib import Path
from time import perf_counter
from typing import Any

from jam.log import Log, read_log
from jam.session.replay import ReplayResult, replay

from . import performances
from .companion import Companion
from .ledger_audit import Alignment, Got, Ledger, align, ledger, notes_only, received
from .performances import Event
from .server import PERIOD_SEC, Performer, Receiver, Server, until

DAMPER = 64
SOLOIST = 3
"""Channel of the soloist, from 0, where a configuration does not say another."""

AHEAD_SEC = 0.2
"""Between handing over a performance and its first message."""


class Evening:
    """Who is there; ``options`` are those of ``jam play``, ``stage`` the performer's outputs."""

    def __init__(
        self,
        server: Server,
        folder: Path,
        ending: ExitStack,
        options: Sequence[str],
        *,
        stage: Sequence[str] = ("right",),
        out: str = "hall-companion",
        terminal: bool = False,
    ) -> None:
        self.folder = folder / "session"
        self.started = 0.0
        self.ear = Receiver(["companion"], folder)
        ending.callback(self.ear.quit)
        self.hand = Performer(stage, folder)
        ending.callback(self.hand.quit)
        self.companion = Companion(folder, options, out=out, terminal=terminal)
        ending.callback(self.companion.close)
        until(self.companion.begun, 15.0, "the companion to be there")
        if out == "hall-companion":
            until(self.heard, 5.0, "the companion to set its parts up")

    # --- while it goes on ----------------------------------------------------------------

    def play(self, events: Iterable[Event], *, press: bool = True) -> float:
        """Press the damper, which starts the count-in, play ``events`` from then on, and return
        the machine second of the press."""
        start = self.started = perf_counter() + AHEAD_SEC
        pressed = performances.press(0.0, "right", DAMPER) if press else []
        self.hand.play([*pressed, *events], start)
        return start

    def heard(self) -> list[Got]:
        """Return what has been received so far."""
        return received(self.ear.lines()[1:])

    def wait(self, what: Callable[[], Any], within_sec: float, why: str) -> Any:
        """Wait for something while the companion lives."""
        return until(what, within_sec, f"{why}; it said: {self.companion.words()[-500:]}")

    def in_mid_phrase(self, notes: int = 4) -> bool:
        """Tell whether the soloist has a note down and has played some before."""
        book = ledger(self.heard())
        line = [note for note in book.notes if note.channel == SOLOIST]
        return len(line) >= notes and any(got.data[0] & 0x0F == SOLOIST for got in book.open)

    def leave(self) -> int:
        """Ask the companion to leave, and return its exit code."""
        return self.companion.interrupt()

    # --- afterwards ----------------------------------------------------------------------

    def log(self) -> Log:
        """Return the log."""
        path = self.folder / "session.jsonl"
        return read_log(path.read_text(encoding="ascii").splitlines(keepends=True), "the log")

    def sent(self) -> list[Got]:
        """Return what the log says was sent to a port, in the session's seconds."""
        return [
            Got(row["at"], "", tuple(row["bytes"]))
            for row in self.log().of("sent")
            if row["port"] not in ("", "none")
        ]

    def agreement(self) -> Alignment:
        """Return how what the log says was sent agrees with what was received."""
        return align(notes_only(self.sent()), notes_only(self.heard()))

    def origin(self) -> float:
        """Return the machine second at which the session's second 0 was, by all that was played
        and logged; the way through JACK counts in, half a period and a period or so."""
        played = [Got(row["at"], "", tuple(row["bytes"])) for row in self.hand.lines()[1:]]
        taken = [Got(row["t"], "", tuple(row["bytes"])) for row in self.log().of("in")]
        return -align(played, taken).offset_sec

    def book(self) -> Ledger:
        """Return what became of every note that was received."""
        return ledger(self.heard())

    def again(self) -> ReplayResult:
        """Perform the session again."""
        return replay(self.folder)


def nothing_sounds(evening: Evening) -> None:
    """Assert that no note and no pedal is left on at the receiver."""
    book = evening.book()
    assert not book.open, book.open
    assert not book.held, book.held


def told_as_heard(evening: Evening) -> None:
    """Assert that the log tells of the notes that were received, and no others, in time."""
    agreed = evening.agreement()
    assert agreed.same, f"{agreed.words()}: {agreed.missing[:3]} {agreed.extra[:3]}"
    assert agreed.within(1.1 * PERIOD_SEC) > 0.8, agreed.words()


def same_again(evening: Evening) -> None:
    """Assert that the session performed again gives the same notes."""
    result = evening.again()
    assert result.same, result.text
