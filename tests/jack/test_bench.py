"""The bench proves itself: what is sent through JACK arrives, and the judges see what is wrong."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from time import perf_counter

import numpy as np
import pytest

from . import onsets, performances
from .ledger_audit import Got, align, ledger, notes_only, received
from .recorder import Recorder, audio_outputs
from .server import (
    LOOK_SEC,
    PERIOD_SEC,
    Helper,
    Performer,
    Receiver,
    Server,
    connections,
    run_tool,
    until,
)

ON, OFF = (0x90, 60, 80), (0x80, 60, 0)


# --- the judges ---------------------------------------------------------------------------


def test_a_note_left_on_is_seen() -> None:
    """A note-on without its note-off is open; of two it is the one that was not closed."""
    book = ledger([Got(0.0, "a", ON), Got(1.0, "a", OFF), Got(2.0, "a", (0x90, 62, 1))])
    assert [got.t for got in book.open] == [2.0]
    assert [(note.t, note.end) for note in book.notes] == [(0.0, 1.0)]
    assert not book.clean
    assert book.longest_sec == 1.0


def test_other_faults_of_a_ledger_are_told_apart() -> None:
    """A loose note-off, a key struck while down, an all-notes-off, a pedal left down."""
    book = ledger(
        [
            Got(0.0, "a", OFF),
            Got(1.0, "a", ON),
            Got(1.5, "a", ON),
            Got(2.0, "b", (0xB0, 123, 0)),
            Got(2.0, "a", (0xB0, 123, 0)),
            Got(3.0, "a", (0xB1, 64, 127)),
        ]
    )
    assert len(book.loose) == len(book.again) == len(book.at_once) == 1
    assert not book.open
    assert book.held == [("a", 1, 64)]


def test_a_note_on_without_velocity_closes() -> None:
    """A note-on of velocity 0 is a note-off (MIDI 1.0), on its own channel and port only."""
    book = ledger([Got(0.0, "a", ON), Got(1.0, "a", (0x91, 60, 0)), Got(2.0, "b", (0x90, 60, 0))])
    assert len(book.open) == 1
    assert len(book.loose) == 2
    assert not ledger([Got(0.0, "a", ON), Got(1.0, "a", (0x90, 60, 0))]).open


def test_alignment_finds_what_differs() -> None:
    """A constant offset is no difference; a lost, an added and a changed message are."""
    first = [Got(0.1 * n, "", (0x90, 40 + n % 5, 64)) for n in range(40)]
    second = [got._replace(t=got.t + 7.0 + 0.001 * (n % 2)) for n, got in enumerate(first)]
    good = align(first, second)
    assert good.same
    assert good.offset_sec == pytest.approx(7.0, abs=0.001)
    assert good.within(0.0011) == 1.0
    assert good.within(0.0009) == pytest.approx(0.5)
    bad = align(first, [*second[:10], *second[11:], Got(9.03, "", (0x90, 1, 1))])
    assert [got.t for got in bad.missing] == [first[10].t]
    assert [got.data for got in bad.extra] == [(0x90, 1, 1)]


def test_a_sound_that_comes_again_is_found_to_the_frame() -> None:
    """Copies of a decaying tone at known frames are found there, over a tail of the one before."""
    rng = np.random.default_rng(1)
    tone = np.sin(np.arange(2000) * 0.13) * np.exp(-np.arange(2000) / 400.0)
    meant = np.cumsum(rng.integers(900, 4000, 50))
    signal = np.zeros(meant[-1] + 5000)
    for frame in meant:
        signal[frame : frame + 2000] += tone
    assert onsets.rises(signal, 0.05, 400)[0] == pytest.approx(meant[0], abs=2)
    found = [onsets.matched(signal, tone[:600], frame + 7, 100) for frame in meant]
    assert [round(frame) for frame, _ in found] == list(meant)
    offset, apart = onsets.scatter([frame for frame, _ in found], list(meant))
    assert offset == pytest.approx(0.0, abs=0.1)
    assert np.max(np.abs(apart)) < 0.5


def test_a_performance_is_playable() -> None:
    """Every key goes up before it is struck again, and the same seed plays the same."""
    play = [
        performances.trading(performances.BLUES_IN_F, 2, 260, np.random.default_rng(3))
        for _ in range(2)
    ]
    assert play[0] == play[1]
    book = ledger(Got(event.t, event.port, tuple(event.data)) for event in play[0])
    assert book.clean
    assert not book.again
    assert not book.loose
    assert len(book.notes) > 150


# --- through JACK -------------------------------------------------------------------------


def test_nothing_is_lost_on_the_way(
    performer: Callable[..., Performer], receiver: Callable[..., Receiver]
) -> None:
    """2,000 notes from process to process: all arrive, in order, within a period of each other."""
    ear, hand = receiver("companion"), performer("right")
    connect("stage-right:right", "hall-companion:companion")
    hand.play(performances.burst(2000, 2000, "right"), perf_counter() + 0.2)
    played = hand.wait(20.0)
    until(lambda: len(ear.lines()) > 4000, 5.0, "4,000 messages")
    hand.quit()
    got = received(ear.quit())
    assert ledger(got).clean
    assert [list(one.data) for one in got] == [row["bytes"] for row in played]
    sent = [Got(row["at"], "", tuple(row["bytes"])) for row in played]
    agreed = align(notes_only(sent), notes_only(got))
    assert agreed.same, agreed.words()
    assert agreed.within(1.1 * PERIOD_SEC) > 0.8, agreed.words()


def test_a_receiver_outlives_its_sender(
    performer: Callable[..., Performer], receiver: Callable[..., Receiver], tmp_path: Path
) -> None:
    """A sender that is killed leaves its note open, and its successor is heard as well."""
    ear, hand = receiver("companion"), performer("right")
    connect("stage-right:right", "hall-companion:companion")
    hand.play([performances.Event(0.0, "right", list(ON))], perf_counter())
    until(lambda: len(ear.lines()) > 1, 5.0, "the note")
    hand.kill()
    until(lambda: not connections(), 5.0, "the end of the connection", LOOK_SEC)
    assert len(ledger(received(ear.lines()[1:])).open) == 1
    successor = performer("right")
    connect("stage-right:right", "hall-companion:companion")
    successor.play([performances.Event(0.0, "right", list(OFF))], perf_counter())
    until(lambda: len(ear.lines()) > 2, 5.0, "its end")
    assert ledger(received(ear.quit())).clean


def test_sounds_are_found_in_a_recording(server: Server, tmp_path: Path, ending: ExitStack) -> None:
    """Sounds that a process plays at known frames lie so many frames apart in the recording."""
    rng = np.random.default_rng(2)
    frames = 9000 + np.cumsum(rng.integers(2000, 6000, 25))
    ramp = np.arange(3000)
    sound = (np.sin(ramp * 0.13) + 0.5 * np.sin(ramp * 0.41)) * np.exp(-ramp / 600.0) * 0.4
    np.save(tmp_path / "frames.npy", frames)
    np.save(tmp_path / "sound.npy", sound)
    files = [str(tmp_path / "frames.npy"), str(tmp_path / "sound.npy")]
    speaker = Helper("speaker.py", files, tmp_path / "speaker.jsonl")
    ending.callback(speaker.quit)
    outputs = until(audio_outputs, 5.0, "audio outputs", LOOK_SEC)
    assert len(outputs) == 2
    recorder = Recorder(outputs[:1], tmp_path / "sound.wav")
    speaker.tell({})
    speaker.process.wait(20.0)
    signal = recorder.stop()[:, 0]
    begun = onsets.rises(signal, 0.02, 2000)[0] - frames[0]
    found = [onsets.matched(signal, sound[:800], frame + begun, 2000) for frame in frames]
    assert min(fit for _, fit in found) > 0.98
    apart = np.diff([frame for frame, _ in found]) - np.diff(frames)
    assert np.mean(np.abs(apart) < 0.5) > 0.8, apart


def connect(out: str, into: str) -> None:
    """Connect two ports and see it done."""
    run_tool("jack_connect", out, into)
    until(lambda: tuple(sorted((out, into))) in connections(), 5.0, f"{out} to {into}", LOOK_SEC)
