"""What `jam play` is asked to do, as a frozen value.

The command line fills it in and `jam.session.live_plan` takes it. None means: not said, so that
the set-up, last night or the configuration decides.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal, get_args

from jam.session.options import FirstChoice, LiveTurnChoice, SplitChoice, UnevenChoice

LiveClock = Literal["internal", "midi", "taps"]
MelodyChoice = Literal["chart", "companion", "player", "none"]
ViewChoice = Literal["auto", "screen", "lines"]

LIVE_CLOCKS: tuple[LiveClock, ...] = get_args(LiveClock)
MELODY_CHOICES: tuple[MelodyChoice, ...] = get_args(MelodyChoice)


@dataclass(frozen=True, slots=True)
class LiveOptions:
    """Everything `jam play` can be told.

    ``chart`` and ``style`` are names or paths, ``setup`` is a name. ``player_in``, ``band_in``,
    ``clock_in``, ``cues_in`` and ``out`` are ports as in ``ports`` of the configuration,
    ``system`` is the MIDI system. ``key`` and ``metre`` are as typed and overrule the chart's.
    ``split_at`` is the lowest pitch of the upper hand. ``with_band`` is about the built-in rhythm
    section. ``hold`` keeps the tempo of the count-off. ``seed`` None: another one each night.
    ``out_folder`` is where the session goes. ``anew`` forgets last night. ``config`` is the
    configuration file to take instead of the usual one, ``home`` the user's own folder to take
    instead of the usual one.
    """

    chart: str | None = None
    style: str | None = None
    tempo_bpm: float | None = None
    turns: LiveTurnChoice | None = None
    first: FirstChoice | None = None
    uneven: UnevenChoice = "swap"
    eager: bool = False
    clock: LiveClock | None = None
    setup: str | None = None
    melody: MelodyChoice | None = None
    player_in: str | None = None
    band_in: str | None = None
    clock_in: str | None = None
    cues_in: str | None = None
    out: str | None = None
    system: str | None = None
    seed: int | None = None
    split: SplitChoice | None = None
    split_at: int | None = None
    metre: str | None = None
    key: str | None = None
    choruses: int | None = None
    with_band: bool | None = None
    click: bool | None = None
    turn_signal: bool | None = None
    hold: bool | None = None
    view: ViewChoice = "auto"
    out_folder: Path | None = None
    anew: bool = False
    config: Path | None = None
    home: Path | None = None
