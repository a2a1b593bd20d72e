"""Time feel of a reply: when its notes really sound, how long, how loud and how bent.

A soloist swings narrower than the ride cymbal, and narrower still as the tempo rises, and its line
is laid back a little: so its downbeats lie behind the band's, while its off-beats come out near
the cymbal's (Friberg & Sundström 2002, Music Perception 19(3); Nelias et al. 2022, Communications
Physics 5). The ratio is that of what is heard, from onset to onset; over tempo it follows the
medians of soloists' ratios in the Weimar Jazz Database (Pfleiderer et al. 2017, ODbL): 1.37 at
100 bpm, 1.32 at 140, 1.31 at 180, 1.23 at 220, 1.20 at 260, 1.14 at 300.

Each phrase has a swing ratio of its own, and each note strays: a slow drift, which neighbours
share, and a small scatter (`jam.players.soloist.habits`), as far as ``feel.human`` of the style
says. With 0 every note lies exactly on its swung place.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

import numpy as np

from jam.charts.model import Feel
from jam.events import Bend, Role
from jam.players.soloist.articulation import Draws, bends, ghosts, lengths
from jam.players.soloist.dynamics import velocities
from jam.players.soloist.habits import (
    PEOPLE,
    Habits,
    median,
    place_row,
    quantile,
    tempo_class,
)
from jam.players.soloist.slots import TICKS, Slot, pulse_ticks, stretches
from jam.styles.profile import Style
from jam.transport.swing import swing_beat

APART_SEC = 0.03
"""Onsets lie at least so far apart."""

MOST_EARLY_BEATS = 0.1
MOST_LATE_BEATS = 0.2
"""No note sounds further than this from its written place, swing and all."""

_TEMPI = (60, 100, 140, 180, 220, 260, 300)
_MEDIANS = (1.37, 1.37, 1.32, 1.31, 1.23, 1.20, 1.14)
_AT_160 = 1.315

_PHRASE_SHARE = 1.0 / 3.0
"""How far phrases differ in their ratio, against single beats (logarithms; measured: 0.12 against
0.36)."""

_EVEN, _WIDEST_RATIO = 0.95, 2.3
"""No phrase swings less or more, unless the style itself does."""

_SHORTEST_BEATS = 0.1
"""Room that a note has at least, wherever its end falls."""

_HOLDS_PER_BEAT = 0.8
"""How much of a drift is left a beat later."""

_ROOM = 0.3
"""A note strays into this share of the gap to its neighbour at most."""


@dataclass(frozen=True, slots=True)
class Sounding:
    """``beat`` and ``beats`` as they sound, the velocity, and how the pitch is bent."""

    beat: float
    beats: float
    velocity: int
    bend: Bend | None = None


def soloist_swing(style: Style, bpm: float, feel: Feel) -> float:
    """Return the soloist's middle swing ratio at ``bpm``; 1 in a straight feel."""
    if feel == "straight":
        return 1.0
    scale = (float(np.interp(bpm, _TEMPI, _MEDIANS)) - 1.0) / (_AT_160 - 1.0)
    return 1.0 + (style.feel.swing - 1.0) * scale


def lateness_sec(style: Style, bpm: float, feel: Feel) -> float:
    """Return how far the soloist's line is laid back: its downbeats behind the beat, in seconds."""
    if feel == "straight":
        return style.feel.late_ms / 3000.0
    return min(0.05, style.feel.late_ms / 1000.0 * 160.0 / max(80.0, bpm))


def perform(
    slots: Sequence[Slot],
    pitches: Sequence[int],
    roles: Sequence[Role],
    *,
    style: Style,
    bpm: float,
    feel: Feel,
    pulse_beats: float,
    heard_velocity: float | None,
    rng: np.random.Generator,
    idiom: Habits | None = None,
    heard_range: float | None = None,
) -> list[Sounding]:
    """Return how each note of a line sounds.

    The eighths of a dotted pulse (6/8, 12/8) sound as they are written. Notes keep their order,
    never overlap, and none is moved by more than a fifth of a beat. ``heard_velocity`` and
    ``heard_range`` are mean and range (loudest less softest) of the call's velocities, mirrored as
    far as the style asks. ``idiom`` is where the habits come from; without it they are `PEOPLE`.
    """
    if not slots:
        return []
    habits = PEOPLE if idiom is None else idiom
    draws = Draws.of(len(slots), rng)
    places = _places(slots, style, bpm, feel, pulse_beats, habits, draws)
    onsets = _onsets(slots, places, style, bpm, feel, pulse_beats, habits, draws)
    hinted = ghosts(slots, pitches, roles, style, draws)
    loud = velocities(
        slots, pitches, roles, hinted, style.dynamics,
        heard_velocity=heard_velocity, heard_range=heard_range,
    )  # fmt: skip
    long = lengths(slots, pitches, places, onsets, hinted, style.feel, habits, draws)
    bent = bends(slots, pitches, loud, long, style, 60.0 / bpm, draws)
    return [Sounding(*note) for note in zip(onsets, long, loud, bent, strict=True)]


def _places(
    slots: Sequence[Slot],
    style: Style,
    bpm: float,
    feel: Feel,
    pulse_beats: float,
    habits: Habits,
    draws: Draws,
) -> list[tuple[float, float]]:
    """Return where each note would begin and end if nothing strayed: on the swung grid."""
    straight = feel == "straight" or pulse_ticks(pulse_beats) != TICKS
    middle = 1.0 if straight else soloist_swing(style, bpm, feel)
    row = habits.swing[tempo_class(bpm)].tolist()
    divided = _divided_beats(slots)
    places: list[tuple[float, float]] = []
    for first, last in stretches(slots, TICKS):
        ratio = middle
        if not straight:
            wide = quantile(row, draws.phrase[first]) / median(row)
            ratio = middle * exp(log(wide) * _PHRASE_SHARE * style.feel.human)
            ratio = min(max(ratio, min(middle, _EVEN)), max(middle, _WIDEST_RATIO))
        for slot in slots[first : last + 1]:
            onset, end = (
                tick / TICKS if tick // TICKS in divided else swing_beat(tick / TICKS, ratio)
                for tick in (slot.tick, slot.end)
            )
            if slot.late is not None:
                onset = slot.beat + slot.late * min(1.0, style.feel.human + 0.2)
            places.append((onset, max(end, onset + _SHORTEST_BEATS)))
    return places


def _divided_beats(slots: Sequence[Slot]) -> set[int]:
    """Return the beats that hold triplets or sixteenths: their off-beat does not swing."""
    return {slot.tick // TICKS for slot in slots if slot.tick % TICKS in (3, 4, 8, 9)}


def _onsets(
    slots: Sequence[Slot],
    places: Sequence[tuple[float, float]],
    style: Style,
    bpm: float,
    feel: Feel,
    pulse_beats: float,
    habits: Habits,
    draws: Draws,
) -> list[float]:
    """Return the beats at which the notes begin."""
    per_sec = bpm / 60.0
    width = pulse_ticks(pulse_beats)
    own = min(1.0, 2.0 * style.feel.human)
    late = own * lateness_sec(style, bpm, feel) * per_sec
    scatter = own * style.feel.scatter_ms / 1000.0 * per_sec
    rows = [row.tolist() for row in habits.early_late[tempo_class(bpm)]]
    onsets: list[float] = []
    for i, (slot, z) in enumerate(zip(slots, _strayings(slots, habits.drift, draws), strict=True)):
        place = places[i][0]
        row = rows[place_row(slot.tick, width)]
        stray = style.feel.human * (quantile(row, z) - median(row)) / 1000.0 * per_sec
        stray += scatter * min(2.0, max(-2.0, draws.scatter[i]))
        stray = 0.5 * stray if slot.late is not None else stray + late
        before = place - places[i - 1][0] if i else 1.0
        after = places[i + 1][0] - place if i + 1 < len(slots) else 4.0
        after = min(after, places[i][1] - place)
        low = max(-_ROOM * before, slot.beat - MOST_EARLY_BEATS - place)
        high = min(_ROOM * after, slot.beat + MOST_LATE_BEATS - place)
        onset = place + min(max(stray, min(low, 0.0)), max(high, 0.0))
        if onsets:
            onset = max(onset, min(onsets[-1] + APART_SEC * per_sec, slot.beat + MOST_LATE_BEATS))
        onsets.append(onset)
    return onsets


def _strayings(slots: Sequence[Slot], drift: float, draws: Draws) -> list[float]:
    """Return how far each note strays, in standard deviations: what it shares with its neighbours,
    the less the longer ago, and what is its own."""
    shared = min(1.0, max(0.0, drift / sqrt(_HOLDS_PER_BEAT)))
    weights = sqrt(shared), sqrt(1.0 - shared)
    slow = draws.slow[0]
    found = []
    for i, slot in enumerate(slots):
        if i:
            left = _HOLDS_PER_BEAT ** ((slot.tick - slots[i - 1].tick) / TICKS)
            slow = left * slow + sqrt(1.0 - left * left) * draws.slow[i]
        found.append(weights[0] * slow + weights[1] * draws.own[i])
    return found
