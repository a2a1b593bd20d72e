"""The I/O process on real ports: what it is handed comes out, and its brain's death ends it all."""

from __future__ import annotations

import sys
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from time import perf_counter, sleep
from typing import TypeVar

import pytest

from jam.ports.spawn import IoProcess, spawn
from jam.ports.wire import EndSounding, Heard, PlayNote, Ready, SentNote, Up, encode_all
from jam.ports.wishes import NONE, PartWish, SoundWish, Wishes

from . import performances
from .ledger_audit import Got, align, ledger, notes_only, received
from .server import PERIOD_SEC, Helper, Performer, Receiver, environment, has_left, until

WISHES = Wishes(
    inputs=(("player", "stage-right"),),
    parts=(PartWish("companion", port="hall-companion", sound=None),),
    sound=SoundWish(device=NONE),
    midi_system="JACK",
)

Record = TypeVar("Record")


@pytest.fixture(autouse=True)
def _on_the_server(monkeypatch: pytest.MonkeyPatch) -> None:
    for name, value in environment().items():
        monkeypatch.setenv(name, value)
    monkeypatch.delenv("JACK_PROMISCUOUS_SERVER", raising=False)


@pytest.fixture
def started(ending: ExitStack) -> Callable[[], IoProcess]:
    """Return a function that starts the process and waits until it is ready."""

    def start() -> IoProcess:
        process = spawn(WISHES)
        ending.callback(process.close)
        ending.callback(process.quit, 2.0)
        told(process, Ready, 1)
        return process

    return start


def told(process: IoProcess, kind: type[Record], count: int, within_sec: float = 5.0) -> list[Up]:
    """Return what the process says until ``count`` records of a kind have come."""
    said: list[Up] = []

    def enough() -> bool:
        said.extend(process.receive())
        return sum(isinstance(record, kind) for record in said) >= count

    until(enough, within_sec, f"{count} x {kind.__name__}; said: {said[-5:]}")
    return said


def notes(count: int, first: float, apart: float, length: float) -> list[PlayNote]:
    """Return notes for the companion's port, at machine seconds."""
    handed = perf_counter()
    return [
        PlayNote(n + 1, "companion", t := first + n * apart, t + length, 1, 40 + n % 50, 80, handed)
        for n in range(count)
    ]


def test_notes_handed_ahead_come_out(
    receiver: Callable[..., Receiver], started: Callable[[], IoProcess]
) -> None:
    """200 notes handed over at once come out at their times, and are told as they were heard."""
    ear = receiver("companion")
    process = started()
    handed = notes(200, perf_counter() + 0.3, 0.01, 0.015)
    process.send(handed)
    said = told(process, SentNote, 400)
    until(lambda: len(notes_only(received(ear.lines()[1:]))) >= 400, 2.0, "400 messages")
    heard = received(ear.quit())
    assert ledger(heard).clean
    sent = [Got(one.t, "", one.data) for one in said if isinstance(one, SentNote)]
    agreed = align(notes_only(sent), notes_only(heard), most_apart_sec=0.05)
    assert agreed.same, agreed.words()
    assert agreed.within(1.1 * PERIOD_SEC) > 0.8, agreed.words()
    assert 0.0 <= agreed.offset_sec < 0.01, agreed.words()


def test_what_is_played_is_heard(
    performer: Callable[..., Performer], started: Callable[[], IoProcess]
) -> None:
    """1,000 notes from outside are all told, in order, dated to within a period of each other."""
    hand = performer("right")
    process = started()
    hand.play(performances.burst(1000, 1000, "right"), perf_counter() + 0.2)
    said = told(process, Heard, 2000, within_sec=10.0)
    played = [Got(row["at"], "", tuple(row["bytes"])) for row in hand.wait(5.0)]
    heard = [Got(one.t, "", one.data) for one in said if isinstance(one, Heard)]
    assert [got.data for got in heard] == [got.data for got in played]
    agreed = align(notes_only(played), notes_only(heard), most_apart_sec=0.05)
    assert agreed.within(1.1 * PERIOD_SEC) > 0.8, agreed.words()


def test_a_brain_that_is_killed_leaves_nothing_sounding(
    receiver: Callable[..., Receiver], tmp_path: Path, ending: ExitStack
) -> None:
    """kill -9 of the parent in mid-note: every note is ended at once, none of those to come is
    played, and the process leaves."""
    ear = receiver("companion")
    payload = tmp_path / "payload"
    handed = notes(40, perf_counter() + 1.2, 0.05, 5.0)
    payload.write_bytes(WISHES.to_json().encode() + b"\n" + encode_all(handed))
    command = [str(payload), sys.executable, "-m", "jam.ports.io"]
    brain = Helper("hander.py", command, tmp_path / "hander.jsonl")
    ending.callback(brain.kill)
    pid = brain.lines()[0]["ready"]
    until(lambda: len(ledger(received(ear.lines()[1:])).open) >= 10, 5.0, "ten notes")
    killed = perf_counter()
    brain.kill()
    until(lambda: has_left(pid), 2.0, "the I/O process to leave")
    sleep(0.05)
    book = ledger(received(ear.quit()))
    assert book.clean, book
    assert not book.loose
    assert 10 <= len(book.notes) < 40
    assert max(note.end for note in book.notes) < killed + 0.25


def test_a_successor_ends_what_its_predecessor_left(
    receiver: Callable[..., Receiver], started: Callable[[], IoProcess]
) -> None:
    """kill -9 of the process itself leaves notes on; the next one ends them when it is told to."""
    ear = receiver("companion")
    first = started()
    first.send(notes(3, perf_counter() + 0.05, 0.01, 30.0))
    until(lambda: len(ledger(received(ear.lines()[1:])).open) == 3, 5.0, "three notes")
    first.kill()
    second = started()
    second.send([EndSounding("companion", 1, pitch) for pitch in (40, 41, 42)])
    until(lambda: not ledger(received(ear.lines()[1:])).open, 2.0, "their ends")
    assert ledger(received(ear.quit())).clean
