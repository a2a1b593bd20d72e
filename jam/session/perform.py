"""One session from its plan to its finished folder, in virtual time.

`jam render` and `jam demo` differ in what they plan and who plays; what happens then is here.
"""

from __future__ import annotations

import platform
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter

import numpy as np

import jam
from jam import log
from jam.core.core import Core
from jam.core.setup import Setup
from jam.events import Input
from jam.session import folder as folders
from jam.session.config import Config
from jam.session.copies import setup_record, write_copies
from jam.session.drive import Drive
from jam.session.exchanges import replies_of
from jam.session.leave import leave_midi, leave_sound


@dataclass(frozen=True)
class Plan:
    """A session before it is played.

    ``end_sec`` is when it ends at the latest. ``chart`` is the name the header gives, None without
    a chart; ``chart_path`` the file it was read from. ``remark`` is for the user to read.
    """

    setup: Setup
    config: Config
    style: str
    end_sec: float
    inputs: tuple[Input, ...] = ()
    chart: str | None = None
    chart_path: Path | None = None
    remark: str = ""


@dataclass(frozen=True)
class Performance:
    """A session that was played: its folder, its log, its last second, and what it cost."""

    folder: Path
    log: log.Log
    length_sec: float
    wall_sec: float
    remark: str = ""

    @property
    def text(self) -> str:
        """A few lines to tell what came out."""
        replies = replies_of(self.log)
        answers = sum(reply.answers is not None for reply in replies)
        told = (
            f"{self.folder}: {self.length_sec:.0f} s of music, {len(replies)} replies,"
            f" {answers} of them to a call, made in {self.wall_sec:.1f} s"
        )
        if not replies:
            told += f"\n{_why_silent(self.log)}"
        return f"{self.remark}\n{told}" if self.remark else told


def _why_silent(said: log.Log) -> str:
    """Tell what may be the reason that the companion said nothing."""
    if not said.of("chord"):
        return (
            "No chord was known: give --chart or --changes, a --band that plays them, or say with"
            " --split or --line-channel where the player comps."
        )
    if not said.of("beat"):
        return "No beat was known: give --beats, or another --clock."
    return "No turn was the companion's, or the player never rested in one."


Feed = Callable[[Drive, Sequence[log.Record]], None]
"""Somebody who listens before playing: is given the drive and the growing list of records."""


def perform(folder: Path, plan: Plan, *, wav: bool, feed: Feed | None = None) -> Performance:
    """Play the session into ``folder``, which must be new or empty."""
    begun = perf_counter()
    folder = folders.new_folder(folder)
    write_copies(folder, plan.setup, plan.config, plan.chart_path)
    header = header_of(plan.setup, plan.style, plan.chart)
    records: list[log.Record] = []
    with folders.log_into(folder, header) as writer:

        def write(made: Iterable[log.Record]) -> None:
            fresh = list(made)
            records.extend(fresh)
            writer.write(fresh)

        drive = Drive(Core(plan.setup), write)
        length_sec = play_through(drive, plan, records, feed)
    setup = plan.setup
    metre = setup.chart.metre if setup.chart is not None else setup.metre
    program = setup.style.instrument.program - 1
    leave_midi(folder / folders.MIDI, records, metre, setup.tempo_bpm, program)
    if wav:
        leave_sound(folder / folders.WAV, records, setup.seed, program)
    wall_sec = perf_counter() - begun
    whole = {"kind": "session", "length_sec": length_sec, "wall_sec": wall_sec}
    folders.write_timing(folder, [*drive.timing.records(), whole])
    return Performance(folder, log.Log(header, tuple(records)), length_sec, wall_sec, plan.remark)


def play_through(
    drive: Drive, plan: Plan, records: Sequence[log.Record], feed: Feed | None = None
) -> float:
    """Play the session from its first input to its last note; return its last second."""
    drive.add(plan.inputs)
    if feed is not None:
        feed(drive, records)
    drive.run(plan.end_sec)
    return drive.finish(plan.end_sec)


def machine() -> str:
    """Return what the notes of a session may hang on, beside the program itself."""
    return (
        f"{platform.system()} {platform.machine()}, Python {platform.python_version()},"
        f" numpy {np.__version__}"
    )


def header_of(setup: Setup, style: str, chart: str | None) -> log.Record:
    """Return the first line of a session's log; ``style`` and ``chart`` are names."""
    return log.session(
        program=jam.__version__,
        machine=machine(),
        seed=setup.seed,
        style=style,
        chart=chart,
        clock=setup.clock,
        setup=setup_record(setup),
    )
