"""What the outside world plays: pure builders of events ``(t, port, bytes)``.

All of it is invented for these tests: nobody played it. Times are seconds from the first downbeat
(or from what the docstring says), beats are quarter notes. Chance comes from the generator that is
handed in. Bytes: MIDI 1.0 Detailed Specification.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

SCATTER_SEC = 0.015
"""Standard deviation of a hand's timing here; people scatter by 10 to 20 ms (common practice)."""
SWING = 0.62
"""Where in the beat a swung off-beat falls."""
LOWEST_LINE, HIGHEST_LINE = 62, 86

START, CONTINUE, STOP, TICK, SONG_POSITION = 0xFA, 0xFB, 0xFC, 0xF8, 0xF2
TICKS_A_BEAT = 24


class Event(NamedTuple):
    """A message for a port, at a second."""

    t: float
    port: str
    data: list[int]


class Bar(NamedTuple):
    """A bar of 4/4 with one chord: root pitch class and its tones above the root."""

    root: int
    tones: tuple[int, ...]


DOMINANT, MINOR, DIMINISHED, HALF = (0, 4, 7, 10), (0, 3, 7, 10), (0, 3, 6, 9), (0, 3, 6, 10)
BLUES_IN_F: tuple[Bar, ...] = (
    *(Bar(5, DOMINANT), Bar(10, DOMINANT), Bar(5, DOMINANT), Bar(0, MINOR)),
    *(Bar(10, DOMINANT), Bar(11, DIMINISHED), Bar(5, DOMINANT), Bar(9, HALF)),
    *(Bar(7, MINOR), Bar(0, DOMINANT), Bar(5, DOMINANT), Bar(7, MINOR)),
)
"""A twelve-bar blues in F, one chord a bar (common practice)."""


def sec(beat: float, bpm: float) -> float:
    """Return when ``beat`` falls, swung."""
    whole, part = divmod(beat, 1.0)
    swung = part * 2 * SWING if part <= 0.5 else SWING + (part - 0.5) * 2 * (1 - SWING)
    return (whole + swung) * 60.0 / bpm


def note(t: float, length: float, port: str, pitch: int, velocity: int) -> Iterator[Event]:
    """Yield the two messages of a note on channel 1."""
    yield Event(t, port, [0x90, pitch, velocity])
    yield Event(t + length, port, [0x80, pitch, 0])


def line(
    bars: Sequence[Bar], turn: Iterable[int], bpm: float, rng: np.random.Generator, port: str
) -> Iterator[Event]:
    """Yield a right hand's phrase over the bars numbered in ``turn``, in swung eighths.

    It begins on an off-beat, rests now and then, and closes a beat and a half before the end.
    """
    turn = list(turn)
    last = 4 * (turn[-1] + 1) - 1.5
    pitch = int(rng.integers(68, 78))
    beat = 4.0 * turn[0] + 0.5
    while beat < last:
        bar = bars[int(beat // 4) % len(bars)]
        strong = beat % 1.0 == 0.0
        pitch = _next_pitch(pitch, bar, rng, strong=strong)
        beats = 0.5 if rng.random() < 0.8 else 1.0
        t = max(0.0, sec(beat, bpm) + rng.normal(0.0, SCATTER_SEC))
        length = 0.8 * (sec(beat + beats, bpm) - sec(beat, bpm))
        yield from note(t, length, port, pitch, int(rng.integers(64, 104)))
        beat += beats + (0.5 if rng.random() < 0.12 else 0.0)


def _next_pitch(pitch: int, bar: Bar, rng: np.random.Generator, *, strong: bool) -> int:
    tones = {(bar.root + tone) % 12 for tone in bar.tones}
    near = [
        other
        for other in range(max(LOWEST_LINE, pitch - 5), min(HIGHEST_LINE, pitch + 5) + 1)
        if other != pitch and (other % 12 in tones or (not strong and abs(other - pitch) <= 2))
    ]
    return int(rng.choice(near))


def voicing(bar: Bar) -> list[int]:
    """Return the third, fifth and seventh of the bar's chord, low in the left hand."""
    return sorted(46 + (bar.root + tone - 46) % 12 for tone in bar.tones[1:])


def comping(
    bars: Sequence[Bar], numbers: Iterable[int], bpm: float, rng: np.random.Generator, port: str
) -> Iterator[Event]:
    """Yield a left hand's chords: on one and on the off-beat after two of each bar."""
    for number in numbers:
        for beat in (0.0, 1.5):
            at = sec(4 * number + beat, bpm)
            for pitch in voicing(bars[number % len(bars)]):
                t = max(0.0, at + rng.normal(0.0, SCATTER_SEC / 3))
                yield from note(t, 40.0 / bpm, port, pitch, int(rng.integers(45, 65)))


def two_hands(
    bars: Sequence[Bar], numbers: Iterable[int], bpm: float, rng: np.random.Generator, port: str
) -> Iterator[Event]:
    """Yield comping with both hands: the left hand's chord and two notes an octave above it."""
    for number in numbers:
        low = voicing(bars[number % len(bars)])
        for beat in sorted(rng.choice([0.0, 1.5, 2.0, 3.5], size=2, replace=False)):
            at = sec(4 * number + float(beat), bpm)
            for pitch in [*low, low[0] + 12, low[-1] + 12]:
                t = max(0.0, at + rng.normal(0.0, SCATTER_SEC / 3))
                yield from note(t, 36.0 / bpm, port, pitch, int(rng.integers(50, 75)))


def trading(
    bars: Sequence[Bar],
    choruses: int,
    bpm: float,
    rng: np.random.Generator,
    *,
    turn_bars: int = 4,
    port: str = "right",
    comp_port: str | None = None,
) -> list[Event]:
    """Return a player who trades: every other ``turn_bars`` a phrase, beginning with his own, the
    roles swapped each chorus where the turns do not divide it; the left hand comps all the
    while on ``comp_port``, or on the same port where there is none."""
    last = choruses * len(bars)
    events: list[Event] = []
    for first in range(0, last, 2 * turn_bars):
        events += line(bars, range(first, min(first + turn_bars, last)), bpm, rng, port)
    events += comping(bars, range(last), bpm, rng, comp_port or port)
    return ordered(events)


def press(t: float, port: str, number: int = 66, *, held_sec: float = 0.12) -> list[Event]:
    """Return a pedal pressed and let go."""
    return [
        Event(t, port, [0xB0, number, 127]),
        Event(t + held_sec, port, [0xB0, number, 0]),
    ]


def count_off(bpm: float, port: str, pitch: int) -> list[Event]:
    """Return taps on a key: two halves, four quarters. Second 0 is the first tap, the downbeat
    comes eight beats later: `downbeat_after`."""
    beats = (0.0, 2.0, 4.0, 5.0, 6.0, 7.0)
    return [event for beat in beats for event in note(beat * 60.0 / bpm, 0.05, port, pitch, 100)]


def downbeat_after(bpm: float) -> float:
    """Return how long after the first tap of a `count_off` the downbeat is."""
    return 8 * 60.0 / bpm


def ticks(bpm: float, beats: float, t: float, port: str = "clock") -> list[Event]:
    """Return the ticks of ``beats`` beats, the first of them at ``t``."""
    apart = 60.0 / bpm / TICKS_A_BEAT
    return [Event(t + n * apart, port, [TICK]) for n in range(round(beats * TICKS_A_BEAT))]


def started(bpm: float, beats: float, t: float, port: str = "clock") -> list[Event]:
    """Return a start just before the first tick at ``t``, and ``beats`` beats of ticks."""
    return [Event(t - 0.002, port, [START]), *ticks(bpm, beats, t, port)]


def continued(
    bpm: float, beats: float, t: float, from_beat: int, port: str = "clock"
) -> list[Event]:
    """Return a song position, a continue, and ``beats`` beats of ticks from ``t`` on."""
    sixteenths = 4 * from_beat
    place = [SONG_POSITION, sixteenths & 0x7F, sixteenths >> 7]
    return [
        Event(t - 0.05, port, place),
        Event(t - 0.002, port, [CONTINUE]),
        *ticks(bpm, beats, t, port),
    ]


def stopped(t: float, port: str = "clock") -> list[Event]:
    """Return a stop."""
    return [Event(t, port, [STOP])]


def burst(count: int, per_sec: float, port: str) -> list[Event]:
    """Return ``count`` notes one after the other, two messages each, evenly spread."""
    apart = 2.0 / per_sec
    return [
        event
        for n in range(count)
        for event in note(n * apart, apart / 2, port, 30 + n % 70, 1 + n % 127)
    ]


def ordered(events: Iterable[Event]) -> list[Event]:
    """Return the events in order of time, and no key struck before it was let go."""
    wanted = sorted(events, key=lambda event: event.t)
    keys: dict[tuple[str, int], list[int]] = {}
    for index, event in enumerate(wanted):
        if event.data[0] & 0xE0 == 0x80:
            keys.setdefault((event.port, event.data[1]), []).append(index)
    for indices in keys.values():
        spans = list(zip(_of(wanted, indices, 0x90), _of(wanted, indices, 0x80), strict=True))
        for (_, off), (on, _) in pairwise(spans):
            if wanted[off].t > wanted[on].t - 0.005:
                wanted[off] = wanted[off]._replace(t=wanted[on].t - 0.005)
    return sorted(wanted, key=lambda event: event.t)


def _of(events: Sequence[Event], indices: Iterable[int], status: int) -> list[int]:
    return [index for index in indices if events[index].data[0] & 0xF0 == status]


def moved(events: Iterable[Event], by_sec: float) -> list[Event]:
    """Return the events ``by_sec`` later."""
    return [event._replace(t=event.t + by_sec) for event in events]
