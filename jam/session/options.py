"""What a command is asked to do, as frozen values.

The command line fills these in and `jam.session.render`, `replay` and `demo` take them; nothing
here is opened or looked up yet. Names of charts and styles may be names or paths: the finder in
`jam.session.resources` tells them apart. Tempi are quarter notes a minute, pitches MIDI numbers.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal, get_args

from jam.listening.who import HeardPart

ClockChoice = Literal["file", "given", "notes", "midi", "taps", "internal"]
"""Where the beat of a render comes from; see `RenderOptions.clock`."""

TurnChoice = Literal["2", "4", "8", "chorus", "free", "solo"]
"""Length of a turn: bars to trade, a chorus each, free, or the companion alone."""

LiveTurnChoice = Literal["2", "4", "8", "chorus", "free", "solo", "lay out", "on cue"]
"""On stage also: silent until *take it*; the missing horn, which has the heads and solos on cue."""

SplitChoice = Literal["off", "fixed", "reversed", "comping"]
"""How the player's one keyboard is shared: all line; line above the split; line below it; all of
it comping."""

FirstChoice = Literal["player", "companion"]
UnevenChoice = Literal["swap", "restart"]

CLOCK_CHOICES: tuple[ClockChoice, ...] = get_args(ClockChoice)
TURN_CHOICES: tuple[TurnChoice, ...] = get_args(TurnChoice)
LIVE_TURN_CHOICES: tuple[LiveTurnChoice, ...] = get_args(LiveTurnChoice)
SPLIT_CHOICES: tuple[SplitChoice, ...] = get_args(SplitChoice)
FIRST_CHOICES: tuple[FirstChoice, ...] = get_args(FirstChoice)
UNEVEN_CHOICES: tuple[UnevenChoice, ...] = get_args(UnevenChoice)


@dataclass(frozen=True, slots=True)
class RenderOptions:
    """Everything `jam render` can be told. None means: not said.

    ``band`` and ``player`` are MIDI files; ``band_track`` and ``player_track`` choose tracks in
    them, by name or by number from 1 (both may name tracks of the same file). ``beats`` and
    ``changes`` are text files, a line a beat (``seconds beat_in_bar``) and a line a change
    (``seconds symbol``).

    ``clock``: ``given`` takes ``beats`` as the truth, ``taps`` takes them as taps, ``file``
    trusts the tempo map of the MIDI file, ``midi`` takes 24 ticks a quarter made from that map,
    ``notes`` listens to the notes alone, ``internal`` keeps ``tempo_bpm``. Not said: ``given``
    when there are beats, else ``file`` when there is a MIDI file, else ``internal``.

    ``key`` and ``metre`` are as typed (``"Eb major"``, ``"3/4"``) and overrule the chart's.
    ``split_at`` is the lowest pitch of the upper hand, ``channels`` say which part plays on a
    channel (0 to 15) of either file. ``choruses`` ends the session after so
    many. ``with_band`` lets the built-in rhythm section play where no band file is given.
    ``config`` is the configuration file to take instead of the usual one, ``home`` the user's
    own folder to take instead of the usual one.
    """

    out: Path
    band: Path | None = None
    player: Path | None = None
    band_track: str | None = None
    player_track: str | None = None
    chart: str | None = None
    clock: ClockChoice | None = None
    beats: Path | None = None
    changes: Path | None = None
    tempo_bpm: float | None = None
    metre: str | None = None
    key: str | None = None
    turns: TurnChoice = "4"
    first: FirstChoice = "player"
    uneven: UnevenChoice = "swap"
    eager: bool = False
    choruses: int | None = None
    style: str | None = None
    seed: int = 1
    split: SplitChoice | None = None
    split_at: int | None = None
    channels: tuple[tuple[int, HeardPart], ...] = ()
    with_band: bool = True
    wav: bool = False
    config: Path | None = None
    home: Path | None = None


@dataclass(frozen=True, slots=True)
class DemoOptions:
    """Everything `jam demo` can be told; ``chart`` and ``style`` as in `RenderOptions`."""

    out: Path
    chart: str | None = None
    style: str | None = None
    seed: int = 1
    choruses: int = 2
    turns: TurnChoice = "4"
    wav: bool = True
    home: Path | None = None
