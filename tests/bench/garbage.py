"""What no player would play: ``python -m tests.bench.garbage [--cases 300] [--first 1]``.

Each case has a number that makes it: a setup (tune or by ear, clock, turns, style, split) and half
a minute of mixed input (random bytes on every port, hands that forget to let go, clusters, a
broken MIDI clock, cues at any moment). It must hold that

- nothing is raised,
- every note that was sent is ended, and the log is sound by the audit's reading,
- a step before anything is due does nothing,
- the log, performed again, gives the same notes.

What fails is printed with its number and, made shorter for as long as it fails, its input. What
the audit says of H1 to H5, and of places on a grid that the input has torn, is counted and printed
as information: nobody promises manners beside somebody who has none.
"""

from __future__ import annotations

import argparse
import os
import sys
import traceback
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from time import perf_counter

import numpy as np

from jam.charts.model import Player, RoadMap
from jam.core.core import Core, StepResult
from jam.core.setup import CUES, GivenBeat, Setup, Turns
from jam.events import Input, Intent, IoReport, MidiIn
from jam.listening.who import Split
from jam.log import Log, Record, grained, session
from jam.session.drive import Drive
from jam.session.replay import compare, perform_again
from jam.session.resources import HOME_VARIABLE, find_chart, find_style
from jam.transport.metre import Metre
from tests.audit import reading
from tests.audit.findings import Finding
from tests.audit.integrity import audit_log
from tests.audit.rendered import styles, tunes
from tests.audit.roles import Terms
from tests.audit.rules import audit_rules
from tests.bench.words import load, say

LENGTH_SEC = 30.0
PROCESSES = 2
PORTS = ("player", "band", "clock", "cue")
SHOWN = 40
MOST_TRIALS = 250


@dataclass(frozen=True)
class Case:
    """What is played to the core."""

    number: int
    setup: Setup
    inputs: tuple[Input, ...]


@dataclass
class Outcome:
    """What came of a case: ``fault`` in words (empty: none), its shortened input, and what the
    audit says of the rules."""

    number: int
    fault: str = ""
    inputs: tuple[Input, ...] = ()
    heard: Counter[str] = field(default_factory=Counter)
    replies: int = 0


class Restless:
    """A core that is stepped once more between any two steps, where nothing is due."""

    def __init__(self, core: Core) -> None:
        self._core = core
        self._last = 0.0
        self._due = 0.0

    def step(self, inputs: Sequence[Input], now: float, effort: int) -> StepResult:
        """Step in between, which must do nothing, then as asked."""
        between = (self._last + now) / 2
        if self._last < between < min(now, self._due):
            idle = self._core.step((), between, effort)
            assert not idle.commands, f"a step at {between} with nothing due gives commands"
            assert not idle.records, f"a step at {between} with nothing due gives records"
        result = self._core.step(inputs, now, effort)
        self._last, self._due = now, result.next_due
        return result


# --- cases -------------------------------------------------------------------------------


def case(number: int) -> Case:
    """Return the case of that number, always the same."""
    rng = np.random.default_rng((number, 42))
    setup = _setup(number, rng)
    ways = (_bytes, _hands, _clusters, _clock, _cues)
    chosen = [way for way in ways if rng.random() < 0.6]
    if setup.clock == "midi" and _clock not in chosen:
        chosen.append(_clock)
    inputs = [event for way in chosen for event in way(rng)]
    return Case(number, setup, tuple(sorted(inputs, key=lambda event: event.t)))


def _setup(number: int, rng: np.random.Generator) -> Setup:
    def one_of(choices: Sequence[object]) -> object:
        return choices[int(rng.integers(len(choices)))]

    chart = find_chart(str(one_of(tunes()))).value if rng.random() < 0.6 else None
    names = styles()
    style, other = (find_style(str(one_of(names))).value for _ in range(2))
    kind = one_of(("trade", "trade", "chorus", "free", "free", "solo", "lay out", "on cue"))
    first, uneven = one_of(("player", "companion")), one_of(("swap", "restart"))
    turns = Turns(kind, int(rng.integers(1, 5)), first, uneven, bool(rng.random() < 0.5))  # type: ignore[arg-type]
    clock = one_of(("internal", "internal", "given", "taps", "midi"))
    bpm = float(rng.uniform(40, 330))
    return Setup(
        seed=number,
        style=style,
        styles=(style, other),
        chart=chart,
        given_beats=_beats(bpm) if clock == "given" else (),
        clock=clock,  # type: ignore[arg-type]
        tempo_bpm=bpm,
        metre=chart.metre if chart is not None else Metre(int(rng.integers(2, 6)), 4),
        turns=turns,
        road_map=_road_map(rng),
        split=Split(
            one_of(("off", "fixed", "reversed", "comping")),  # type: ignore[arg-type]
            int(rng.integers(40, 80)),
            other=one_of(("comping", "band")),  # type: ignore[arg-type]
        ),
        with_click=bool(rng.random() < 0.2),
        autostart=bool(clock != "internal" or rng.random() < 0.9),
        cues={("note", 21): "take it", ("control", 66): "lay out", ("control", 67): "last time"},
        turn_signal=bool(rng.random() < 0.5),
        hold_tempo=bool(rng.random() < 0.2),
        damper_starts=bool(rng.random() < 0.5),
    )


def _road_map(rng: np.random.Generator) -> RoadMap | None:
    """Return a way through that is short enough to come to its end; half the time none."""
    if rng.random() < 0.5:
        return None
    players: tuple[Player, ...] = ("companion", "player", "none")
    head, head_out = (players[int(rng.integers(3))] for _ in range(2))
    choruses = None if rng.random() < 0.5 else 1
    tags, fermata = int(rng.integers(3)), bool(rng.random() < 0.3)
    return RoadMap(int(rng.integers(3)), head, choruses, head_out, tags, fermata)


def _beats(bpm: float) -> tuple[GivenBeat, ...]:
    count = int(LENGTH_SEC * bpm / 60)
    return tuple(GivenBeat(0.5 + index * 60 / bpm, index % 4 + 1) for index in range(count))


def _moments(rng: np.random.Generator, count: int) -> list[float]:
    return [float(t) for t in rng.uniform(0.0, LENGTH_SEC, count)]


def _bytes(rng: np.random.Generator) -> Iterator[Input]:
    """Yield messages of any bytes and lengths on any port."""
    for t in _moments(rng, int(rng.integers(20, 400))):
        size = int(rng.integers(0, 5))
        data = tuple(int(byte) for byte in rng.integers(0, 256, size))
        yield MidiIn(t, PORTS[int(rng.integers(4))], data)  # type: ignore[arg-type]


def _hands(rng: np.random.Generator) -> Iterator[Input]:
    """Yield notes of player and band, some of them never let go, some let go twice."""
    for t in _moments(rng, int(rng.integers(20, 300))):
        pitch, channel = int(rng.integers(0, 128)), int(rng.integers(16))
        port = PORTS[int(rng.integers(2))]
        length = float(rng.exponential(0.4))
        yield MidiIn(t, port, (0x90 | channel, pitch, int(rng.integers(0, 128))))  # type: ignore[arg-type]
        for _ in range(int(rng.choice((0, 1, 1, 1, 1, 2)))):
            off = (0x80 if rng.random() < 0.5 else 0x90) | channel
            yield MidiIn(min(t + length, LENGTH_SEC), port, (off, pitch, 0))  # type: ignore[arg-type]


def _clusters(rng: np.random.Generator) -> Iterator[Input]:
    """Yield handfuls of notes struck at one moment, chords in phrases that one could answer."""
    for t in _moments(rng, int(rng.integers(5, 60))):
        for pitch in rng.choice(np.arange(36, 96), size=int(rng.integers(1, 11)), replace=False):
            yield MidiIn(t, "player", (0x90, int(pitch), 80))
            yield MidiIn(min(t + 0.2, LENGTH_SEC), "player", (0x80, int(pitch), 0))


def _clock(rng: np.random.Generator) -> Iterator[Input]:
    """Yield a MIDI clock that shakes, stops, jumps and goes silent."""
    t, gap_sec = float(rng.uniform(0, 1)), 60.0 / float(rng.uniform(30, 400)) / 24.0
    yield MidiIn(t, "clock", (0xFA,))
    while t < LENGTH_SEC:
        yield MidiIn(t, "clock", (0xF8,))
        t += max(0.0, gap_sec * (1 + float(rng.normal(0, 0.2))))
        if rng.random() < 0.002:
            yield MidiIn(t, "clock", ((0xFA,), (0xFB,), (0xFC,))[int(rng.integers(3))])
        if rng.random() < 0.001:
            low, high = (int(byte) for byte in rng.integers(0, 128, 2))
            yield MidiIn(t, "clock", (0xF2, low, high))
        if rng.random() < 0.001:
            t += float(rng.uniform(0, 4))
            gap_sec = 60.0 / float(rng.uniform(30, 400)) / 24.0


def _cues(rng: np.random.Generator) -> Iterator[Input]:
    """Yield every cue at any moment, taps among them, and reports of lost ports."""
    for t in _moments(rng, int(rng.integers(1, 40))):
        names = (*CUES, "tap", "tap", "take it", "no such cue")
        if rng.random() < 0.9:
            names = tuple(name for name in names if name != "cut off")
        yield Intent(t, names[int(rng.integers(len(names)))])
    for t in _moments(rng, int(rng.integers(0, 3))):
        yield IoReport(t, "port lost", {"role": PORTS[int(rng.integers(4))]})


# --- what must hold ----------------------------------------------------------------------


def outcome(number: int) -> Outcome:
    """Play a case and say what came of it."""
    return _judged(case(number))


def shortened(failed: Outcome) -> Outcome:
    """Return the outcome with an input made shorter for as long as the same fault is there."""
    played = case(failed.number)
    inputs, size, left = list(played.inputs), max(1, len(played.inputs) // 2), MOST_TRIALS
    while size:
        begin = 0
        while begin < len(inputs) and left:
            left -= 1
            fewer = inputs[:begin] + inputs[begin + size :]
            again = _judged(Case(played.number, played.setup, tuple(fewer))).fault
            if _kind(again) == _kind(failed.fault):
                inputs = fewer
            else:
                begin += size
        size //= 2
    return replace(failed, inputs=tuple(inputs))


def _judged(played: Case) -> Outcome:
    result = Outcome(played.number)
    try:
        log = _performed(played)
    except Exception:
        result.fault = _where(traceback.format_exc())
        return result
    heard = reading.session([log.header, *log.records])
    result.replies = len(heard.replies)
    found = audit_log(heard)
    wrong = [finding for finding in found if not _excused(finding, heard)]
    soft = [*audit_rules(heard, Terms()), *(finding for finding in found if finding not in wrong)]
    result.heard.update(finding.rule for finding in soft if not finding.tags)
    if wrong:
        result.fault = f"{wrong[0].rule}: {wrong[0].text}"
        return result
    try:
        verdict = compare(log, perform_again(log, Restless(Core(played.setup))))
    except Exception:
        result.fault = "performed again: " + _where(traceback.format_exc())
        return result
    result.fault = "" if verdict.same else f"performed again: {verdict.text}"
    return result


def _excused(finding: Finding, heard: reading.Session) -> bool:
    """Tell whether the input explains it: beats told anew after a jump, and notes away from a
    place that a tempo gone wild has moved, the end of the session among such places."""
    if finding.rule == "beats" and "confessed" not in finding.text:
        return bool(heard.kind("jump"))
    if "never went out" in finding.text and heard.replies:
        return bool(finding.reply == heard.replies[-1].id)
    wild = ("from its place", "from its t", "past its end")
    return finding.rule in ("note", "sent") and any(words in finding.text for words in wild)


def _performed(played: Case) -> Log:
    records: list[Record] = []
    drive = Drive(Core(played.setup), records.extend)
    drive.add(played.inputs)
    drive.run(LENGTH_SEC)
    drive.finish(LENGTH_SEC)
    header = session(
        program="", machine="", seed=played.number, style="", chart=None, clock=played.setup.clock
    )
    return Log(header, tuple(grained(record) for record in records))


def _where(trace: str) -> str:
    lines = [line.strip() for line in trace.strip().splitlines()]
    places = [line.split("/")[-1] for line in lines if line.startswith("File ")]
    return f"{lines[-1]} ({'; '.join(places[-2:])})"


def _kind(fault: str) -> str:
    """Return what two faults of one cause share: the words without the numbers."""
    return "".join(letter for letter in fault if letter.isalpha())[:40]


# --- telling -----------------------------------------------------------------------------


def _tell(one: Outcome) -> None:
    setup = case(one.number).setup
    chart = setup.chart.title if setup.chart is not None else "by ear"
    say(f"\nFAULT in case {one.number}: {one.fault}")
    say(f"  {chart}, {setup.clock} clock, {setup.tempo_bpm:.0f} bpm, {setup.style.name},")
    say(f"  {setup.turns}, {setup.split}")
    for event in one.inputs[:SHOWN]:
        say(f"  {event}")
    if len(one.inputs) > SHOWN:
        say(f"  ... {len(one.inputs)} inputs in all")


def main(arguments: Sequence[str] | None = None) -> int:
    """Play the cases, two at a time; return the exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.garbage", description=__doc__)
    parser.add_argument("--cases", type=int, default=300)
    parser.add_argument("--first", type=int, default=1, help="number of the first case")
    options = parser.parse_args(arguments)
    os.environ[HOME_VARIABLE] = os.devnull
    begun = perf_counter()
    numbers = range(options.first, options.first + options.cases)
    with ProcessPoolExecutor(PROCESSES) as pool:
        played = list(pool.map(outcome, numbers, chunksize=4))
        first = {_kind(one.fault): one for one in reversed(played) if one.fault}
        for one in pool.map(shortened, first.values()):
            _tell(one)
    heard = sum((one.heard for one in played), Counter[str]())
    faults = Counter(_kind(one.fault) for one in played if one.fault)
    replies = sum(one.replies for one in played)
    say(f"\n{options.cases} cases, {replies} replies, {perf_counter() - begun:.0f} s, {load()}")
    say("as information: " + (", ".join(f"{k} {n}" for k, n in sorted(heard.items())) or "nothing"))
    for kind, times in faults.most_common():
        say(f"FAULT in {times} cases: {kind}")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
