"""All that a session is given before its first step. Frozen: one setup and one list of inputs
make one session, note for note."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from jam.charts.model import Chart, RoadMap
from jam.events import Part
from jam.harmony.chord import Chord
from jam.harmony.keys import Key
from jam.idiom.model import Idiom
from jam.idiom.plain import plain_idiom
from jam.listening.who import Split
from jam.players.channels import CHANNELS
from jam.styles.profile import Style
from jam.transport.metre import Metre

ClockKind = Literal["internal", "file", "given", "taps", "midi"]
First = Literal["player", "companion"]
Uneven = Literal["swap", "restart"]
TurnKind = Literal["trade", "chorus", "free", "solo", "lay out", "on cue"]

CUES = (
    "start",
    "stop",
    "tap",
    "take it",
    "lay out",
    "trade",
    "last time",
    "tag",
    "fermata",
    "cut off",
    "follow",
    "hold tempo",
    "next style",
    "panic",
)
"""What a player may ask for with a key, a pedal or a pad; each is also the name of an intent."""

DAMPER = 64
"""The controller of the damper pedal (MIDI 1.0): never a cue."""


@dataclass(frozen=True, slots=True)
class TimedChange:
    """A change of a chart in time: ``chord`` holds from ``sec`` on."""

    sec: float
    chord: Chord


@dataclass(frozen=True, slots=True)
class GivenBeat:
    """A beat that is known beforehand: when it falls and its number in the bar, from 1."""

    sec: float
    beat_in_bar: int


@dataclass(frozen=True, slots=True)
class Turns:
    """Who plays when.

    ``on cue`` is silent in the choruses until *take it*, and then solos on, chorus after chorus.
    ``bars`` counts for trades. ``uneven`` says what happens when turns do not divide the form
    (fours over 12 bars): ``swap`` lets the roles swap each chorus, ``restart`` begins again with
    ``first`` at the top. ``eager`` lets a free companion answer on the next off-beat instead of
    the next two-bar seam.
    """

    kind: TurnKind = "trade"
    bars: int = 4
    first: First = "player"
    uneven: Uneven = "swap"
    eager: bool = False


@dataclass(frozen=True)
class Setup:
    """``styles`` are the ones the *next style* cue walks through, ``style`` the first of them.

    ``cues`` maps ``(message, number)`` of the cue port or the player's, as in ``("control", 66)``,
    ``("note", 21)`` or ``("program", 5)``, to a name in `CUES`. ``channels`` are the channels (0 to
    15) of the parts that do not use the ones of `jam.players.channels`. ``autostart`` starts the
    clock with the session; ``damper_starts`` lets the player start it with the damper pedal.
    ``hold_tempo`` keeps the tempo of the count-off until *follow* (taps, MIDI clock).
    ``turn_signal`` lets two soft strokes tell that a turn is about to change hands.
    ``tap_beats`` is what lies between two taps (None: the pulse of the metre).
    ``horizon_sec`` is how far ahead of its sound a note is handed over. ``end_beat`` ends the
    session's turns (None: the road map ends them, if it has an end). ``idioms`` are those that the
    styles name.
    """

    seed: int
    style: Style
    styles: tuple[Style, ...] = ()
    chart: Chart | None = None
    timed_changes: tuple[TimedChange, ...] = ()
    given_beats: tuple[GivenBeat, ...] = ()
    clock: ClockKind = "internal"
    tempo_bpm: float = 120.0
    tap_beats: float | None = None
    metre: Metre = field(default_factory=Metre)
    feel: Literal["swing", "straight"] = "swing"
    key: Key | None = None
    turns: Turns = field(default_factory=Turns)
    road_map: RoadMap | None = None
    split: Split = field(default_factory=Split)
    with_band: bool = True
    with_click: bool = False
    autostart: bool = True
    horizon_sec: float = 0.5
    end_beat: float | None = None
    cues: Mapping[tuple[str, int], str] = field(default_factory=dict)
    channels: Mapping[Part, int] = field(default_factory=dict)
    turn_signal: bool = False
    hold_tempo: bool = False
    damper_starts: bool = False
    idioms: Mapping[str, Idiom] = field(default_factory=dict)

    def idiom_of(self, style: Style) -> Idiom:
        """Return the idiom that ``style`` names, the built-in one where it is not at hand."""
        return self.idioms.get(style.idiom.name) or plain_idiom()

    def channel_of(self, part: Part) -> int:
        """Return the channel (0 to 15) that the notes of ``part`` are sent on."""
        return self.channels.get(part, CHANNELS[part])

    @property
    def first_downbeat(self) -> int:
        """Return the index of the first ``1`` among the given beats, 0 when there is none."""
        ones = (i for i, beat in enumerate(self.given_beats) if beat.beat_in_bar == 1)
        return next(ones, 0)
