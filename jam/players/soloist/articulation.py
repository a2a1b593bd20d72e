"""How long the notes of a reply sound, which are ghosted, which are bent.

Joined in runs, shorter before a leap and on an off-beat that a rest follows; shares of the gap by
people's quantiles (`jam.players.soloist.habits`). A fall ends a long last note, a scoop begins a
long accented note that is reached by leap or opens a phrase (common practice of wind players).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from jam.events import Bend, Role
from jam.players.soloist.habits import Habits, gap_class, quantile
from jam.players.soloist.slots import TICKS, Slot
from jam.styles.profile import Feel, Style

SCOOP_SEC, FALL_SEC = 0.22, 0.3
"""No shorter note is bent so."""

_LEAP = 5
_SCOOPED_INTO = 3
_USUAL_LEGATO = 0.9
_SHORTEST_BEATS = 0.04
_FOUR_IN_TEN = 0.4
"""Share of notes in eighth lines that may be ghosted at all, two of them never in a row."""


@dataclass(frozen=True, slots=True)
class Draws:
    """All that is drawn for a line, a number a note: normal ones, and ``chance`` from 0 to 1."""

    phrase: list[float]
    slow: list[float]
    own: list[float]
    scatter: list[float]
    share: list[float]
    chance: list[float]

    @classmethod
    def of(cls, count: int, rng: np.random.Generator) -> Draws:
        """Draw for ``count`` notes."""
        phrase, slow, own, scatter, share = rng.standard_normal((5, count)).tolist()
        return cls(phrase, slow, own, scatter, share, rng.random(count).tolist())


def ghosts(
    slots: Sequence[Slot],
    pitches: Sequence[int],
    roles: Sequence[Role],
    style: Style,
    draws: Draws,
) -> list[bool]:
    """Return which notes are ghosted: passing ones inside a line, lower than a neighbour."""
    chance = min(0.9, style.feel.ghosts / _FOUR_IN_TEN)
    found = [False] * len(slots)
    for i in range(1, len(slots) - 1):
        inside = slots[i].tick - slots[i - 1].tick <= 8 and slots[i + 1].tick - slots[i].tick <= 8
        steps = max(abs(pitches[i] - pitches[i - 1]), abs(pitches[i + 1] - pitches[i])) <= 4
        top = pitches[i] > pitches[i - 1] and pitches[i] > pitches[i + 1]
        weak = slots[i].tick % (2 * TICKS) != 0 or roles[i] in ("approach", "free")
        if inside and steps and weak and not top and not found[i - 1]:
            found[i] = draws.chance[i] < chance
    return found


def lengths(
    slots: Sequence[Slot],
    pitches: Sequence[int],
    places: Sequence[tuple[float, float]],
    onsets: Sequence[float],
    ghosted: Sequence[bool],
    feel: Feel,
    habits: Habits,
    draws: Draws,
) -> list[float]:
    """Return how many beats each note sounds; none into the next, none past its (swung) end."""
    rows = [row.tolist() for row in habits.sounding]
    found: list[float] = []
    for i, slot in enumerate(slots):
        following = slots[i + 1] if i + 1 < len(slots) else None
        if following is not None and following.tick == slot.end:
            room = onsets[i + 1] - onsets[i]
            z = feel.human * draws.share[i] + _joined(i, slots, pitches)
            share = quantile(rows[min(2, gap_class(slot.ticks))], z) * feel.legato / _USUAL_LEGATO
        else:
            end = places[i][1]
            room = (end if following is None else min(end, onsets[i + 1])) - onsets[i]
            share = 0.96 - 0.04 * min(2.0, abs(feel.human * draws.share[i]))
            if slot.tick % TICKS == TICKS // 2 and slot.ticks <= TICKS:
                share *= feel.legato
        share *= 0.85 if ghosted[i] else 1.0
        found.append(min(max(_SHORTEST_BEATS, share * room), room))
    return found


def _joined(i: int, slots: Sequence[Slot], pitches: Sequence[int]) -> float:
    """Return how far a note leans to its successor, in standard deviations of people's shares."""
    leap = abs(pitches[i + 1] - pitches[i])
    if leap == 0:
        return -0.6
    if leap >= _LEAP:
        return -0.8
    return 0.3 if slots[i].ticks >= 2 * TICKS else 0.1


def bends(
    slots: Sequence[Slot],
    pitches: Sequence[int],
    loud: Sequence[int],
    long_beats: Sequence[float],
    style: Style,
    beat_sec: float,
    draws: Draws,
) -> list[Bend | None]:
    """Return the bend of each note, where the instrument has bends at all."""
    found: list[Bend | None] = [None] * len(slots)
    if not style.instrument.bends:
        return found
    mean = sum(loud) / len(loud)
    for i, slot in enumerate(slots):
        long_sec = long_beats[i] * beat_sec
        if long_sec < SCOOP_SEC or slot.ticks < TICKS // 2:
            continue
        rests = i + 1 == len(slots) or slots[i + 1].tick - slot.end >= TICKS // 2
        opens = i == 0 or slot.tick - slots[i - 1].end >= TICKS
        leapt = opens or abs(pitches[i] - pitches[i - 1]) >= _SCOOPED_INTO
        if rests and long_sec >= FALL_SEC and draws.chance[i] < style.feel.falls:
            found[i] = "fall"
        elif leapt and loud[i] >= mean and 1.0 - draws.chance[i] < style.feel.scoops:
            found[i] = "scoop"
    return found
