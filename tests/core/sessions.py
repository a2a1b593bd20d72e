"""Small sessions for tests of the core: setups, players, and a drive that keeps what happens."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cache
from math import ceil, inf
from typing import Any

from jam.charts.model import Bar, Chart, ChartChange, MelodyNote, Passage, RoadMap
from jam.core.core import Core, StepResult
from jam.core.setup import Setup, Turns
from jam.core.snapshot import Snapshot
from jam.events import Command, Input, Intent, MidiIn, Play, Port
from jam.harmony.keys import parse_key
from jam.harmony.symbols import parse_chord
from jam.log import Record
from jam.ports.memory import MemoryPort, Sent
from jam.styles.profile import Recipe, Style
from jam.transport.metre import Metre

EFFORT = 3000
GRAIN_SEC = 1e-6

STYLE = Style(
    name="made",
    about="For tests.",
    recipes=[Recipe(name="three up", degrees=["3", "5", "7"], beats=[0.5, 0.5, 1.0])],
)
OTHER_STYLE = STYLE.model_copy(update={"name": "other"})


@cache
def tune(
    changes: str = "Dm7 G7 Cmaj7 Cmaj7",
    *,
    metre: Metre | None = None,
    tempo_bpm: float = 120.0,
    road_map: RoadMap | None = None,
    melody: tuple[MelodyNote, ...] = (),
    last: str | None = None,
) -> Chart:
    """Return a tune of one chord a bar; ``last`` is the chorus as it goes the last time."""
    metre = metre or Metre()
    chorus = passage(changes, metre, melody)
    return Chart(
        "Made Tune",
        parse_key("C major"),
        metre,
        tempo_bpm,
        "swing",
        chorus,
        chorus if last is None else passage(last, metre, melody),
        road_map or RoadMap(0, "none", None, "none"),
    )


def passage(changes: str, metre: Metre, melody: tuple[MelodyNote, ...] = ()) -> Passage:
    """Return a passage of one chord a bar, in sections of four bars named A, B, ..."""
    bars = [
        Bar(metre.bar_beats, (ChartChange(0.0, parse_chord(symbol)),), "ABCDEFGH"[index // 4 % 8])
        for index, symbol in enumerate(changes.split())
    ]
    return Passage(tuple(bars), melody)


def setup(**changes: Any) -> Setup:
    """Return a setup at 120 bpm over a four-bar tune, in fours, without a band."""
    chart = changes.pop("chart", tune())
    made: dict[str, Any] = {
        "seed": 1,
        "style": STYLE,
        "styles": (STYLE, OTHER_STYLE),
        "chart": chart,
        "metre": chart.metre if chart is not None else Metre(),
        "tempo_bpm": chart.tempo_bpm if chart is not None else 120.0,
        "turns": Turns(),
        "road_map": None if chart is not None else RoadMap(0, "none", None, "none"),
        "with_band": False,
    }
    return Setup(**{**made, **changes})


# --- players ------------------------------------------------------------------------------


def key(t: float, pitch: int, velocity: int = 80, *, port: Port = "player") -> MidiIn:
    """Return a key going down, or coming up with velocity 0."""
    return MidiIn(round(t, 6), port, (0x90, pitch, velocity))


def note(
    beat: float, beats: float, pitch: int, bpm: float = 120.0, *, port: Port = "player"
) -> list[MidiIn]:
    """Return a note on the beats of a clock that began with beat 0 at second 0."""
    sec = 60.0 / bpm
    return [
        key(beat * sec, pitch, port=port),
        key((beat + beats) * sec, pitch, 0, port=port),
    ]


def line(start: float, end: float, bpm: float = 120.0, step: float = 0.5) -> list[MidiIn]:
    """Return a line of eighths from ``start`` on, the last of which is up by ``end``."""
    shape = (62, 65, 69, 72, 71, 69, 67, 64)
    count = ceil((end - start) / step - 1e-9)
    notes = [(start + index * step, shape[index % 8]) for index in range(count)]
    return [
        message
        for beat, pitch in notes
        for message in note(beat, min(0.8 * step, end - beat), pitch, bpm)
    ]


def chord(
    beat: float, beats: float, pitches: Sequence[int], bpm: float = 120.0, *, port: Port = "player"
) -> list[MidiIn]:
    """Return several keys struck together."""
    return [m for pitch in pitches for m in note(beat, beats, pitch, bpm, port=port)]


def cue(t: float, name: str) -> Intent:
    """Return a cue asked for on the page."""
    return Intent(t, name)


# --- the drive ----------------------------------------------------------------------------


@dataclass
class Run:
    """All that came out of a session."""

    records: list[Record] = field(default_factory=list)
    commands: list[tuple[float, Command]] = field(default_factory=list)
    sent: list[Sent] = field(default_factory=list)
    shots: list[Snapshot] = field(default_factory=list)
    refused: int = 0
    port: MemoryPort = field(default_factory=MemoryPort)
    ended: bool = False
    now: float = 0.0

    def of(self, kind: str) -> list[Record]:
        """Return the records of a kind."""
        return [record for record in self.records if record["kind"] == kind]

    @property
    def replies(self) -> list[Record]:
        """Return the records of replies that were planned from the start, not of their tails."""
        return [record for record in self.of("reply") if "replans" not in record]

    @property
    def plays(self) -> list[Play]:
        """Return the notes handed over, in order."""
        return [command for _, command in self.commands if isinstance(command, Play)]

    def notes(self) -> dict[int, list[Record]]:
        """Return the notes of each reply as the log leaves them at the end, by reply."""
        found: dict[int, list[Record]] = {}
        for record in self.of("reply"):
            kept = found.get(record["id"], [])
            if "replans" in record:
                begin = record["from_beat"]
                kept = [
                    {**n, "beats": min(n["beats"], begin - n["beat"])}
                    for n in kept
                    if n["beat"] < begin - 1e-6
                ]
            found[record["id"]] = [*kept, *record["notes"]]
        return {number: notes for number, notes in found.items() if notes}

    def spoken(self) -> list[Record]:
        """Return the notes of all replies as the log leaves them, in order."""
        return sorted((n for notes in self.notes().values() for n in notes), key=lambda n: n["t"])

    def sounded(self, part: str = "companion") -> list[tuple[float, float, int]]:
        """Return the notes that went out: when they began, when they ended, their pitch."""
        down: dict[int, Sent] = {}
        found = []
        for message in self.sent:
            if message.part != part:
                continue
            if message.data[0] & 0xF0 == 0x90:
                down[message.note] = message
            else:
                found.append((down.pop(message.note).t, message.t, message.data[1]))
        assert not down
        return sorted(found)

    def turns(self) -> list[tuple[float, str]]:
        """Return the turns that were told, a turn after one of the same player left out."""
        told: list[tuple[float, str]] = []
        for record in self.of("turn"):
            if not told or told[-1][1] != record["who"]:
                told.append((record["beat"], record["who"]))
        return told


def play(
    made: Setup,
    inputs: Iterable[Input] = (),
    *,
    until: float = 20.0,
    extra: Iterable[float] = (),
    close: bool = True,
    may_fail: bool = False,
) -> Run:
    """Step the core at its dues and at the inputs, and at ``extra`` seconds besides.

    No musician may fail unless ``may_fail`` says so: the core would go on without it.
    """
    core, run = Core(made), Run()
    waiting = sorted(inputs, key=lambda event: event.t)
    more = sorted(extra)
    due = 0.0
    while True:
        now = min(on_grain(due), waiting[0].t if waiting else inf, more[0] if more else inf)
        now = max(now, run.now)
        if now > until:
            break
        taken = [event for event in waiting if event.t <= now]
        waiting = waiting[len(taken) :]
        more = [t for t in more if t > now]
        result = core.step(taken, now, EFFORT)
        _keep(run, result, now)
        due = result.next_due
        if run.ended:
            break
    if close:
        run.sent += run.port.advance(until)
        run.sent += run.port.close()
    assert may_fail or not [fault for fault in run.of("fault") if "who" in fault]
    return run


def _keep(run: Run, result: StepResult, now: float) -> None:
    run.sent += run.port.advance(now)
    run.refused += len(run.port.take(result.commands, now))
    run.records += result.records
    run.commands += [(now, command) for command in result.commands]
    run.shots.append(result.snapshot)
    run.ended, run.now = result.ended, now


def on_grain(sec: float) -> float:
    """Return the first whole microsecond that is not before ``sec``."""
    if sec == inf:
        return inf
    grain = round(sec, 6)
    return grain if grain >= sec else round(grain + GRAIN_SEC, 6)


def without_at(records: Iterable[Record]) -> list[Record]:
    """Return the records without the second of the step that made them."""
    return [{k: v for k, v in record.items() if k != "at"} for record in records]
