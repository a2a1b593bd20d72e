"""Time feel, dynamics and articulation of a reply: when and how loud its notes really sound.

A soloist swings narrower than the ride cymbal, and narrower still as the tempo rises; its
downbeats lie a little behind the band, its off-beats do not (Friberg & Sundström 2002, Music
Perception 19(3); Nelias et al. 2022, Communications Physics 5). The shape over tempo follows the
medians of soloists' ratios in the Weimar Jazz Database (Pfleiderer et al. 2017, ODbL): 1.37 at
100 bpm, 1.32 at 140, 1.31 at 180, 1.23 at 220, 1.20 at 260, 1.14 at 300.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from jam.charts.model import Feel
from jam.events import Role
from jam.players.soloist.slots import TICKS, Slot, pulse_ticks
from jam.styles.profile import Style
from jam.transport.swing import swing_beat

_TEMPI = (60, 100, 140, 180, 220, 260, 300)
_MEDIANS = (1.37, 1.37, 1.32, 1.31, 1.23, 1.20, 1.14)
_AT_160 = 1.315


def soloist_swing(style: Style, bpm: float, feel: Feel) -> float:
    """Return the soloist's swing ratio at ``bpm``; 1 in a straight feel."""
    if feel == "straight":
        return 1.0
    scale = (float(np.interp(bpm, _TEMPI, _MEDIANS)) - 1.0) / (_AT_160 - 1.0)
    return 1.0 + (style.feel.swing - 1.0) * scale


def lateness_sec(style: Style, bpm: float, feel: Feel) -> float:
    """Return how far the soloist's downbeats lie behind the beat, in seconds."""
    if feel == "straight":
        return style.feel.late_ms / 3000.0
    return min(0.05, style.feel.late_ms / 1000.0 * 160.0 / max(80.0, bpm))


@dataclass(frozen=True, slots=True)
class Sounding:
    """``beat`` and ``beats`` as they sound, and the velocity."""

    beat: float
    beats: float
    velocity: int


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
) -> list[Sounding]:
    """Return how each note of a line sounds.

    The eighths of a dotted pulse (6/8, 12/8) sound as they are written. Notes never overlap and
    none is moved by more than a fifth of a beat. ``heard_velocity`` is the mean velocity of the
    call, mirrored as far as the style asks.
    """
    width = pulse_ticks(pulse_beats)
    ratio = soloist_swing(style, bpm, feel) if width == TICKS else 1.0
    late = lateness_sec(style, bpm, feel) * bpm / 60.0
    scatter = style.feel.scatter_ms / 1000.0 * bpm / 60.0
    level = float(style.dynamics.level)
    if heard_velocity is not None:
        level += style.dynamics.mirror * (heard_velocity - level) * 0.8
    onsets = []
    for slot in slots:
        onset = swing_beat(slot.beat, ratio) if _swings(slot, slots) else slot.beat
        drift = float(np.clip(rng.normal(0.0, scatter), -2 * scatter, 2 * scatter))
        onsets.append(onset + (late if slot.tick % width == 0 else 0.0) + drift)
    for i in range(1, len(onsets)):
        onsets[i] = max(onsets[i], onsets[i - 1] + 0.02)
    found = []
    for i, slot in enumerate(slots):
        limit = onsets[i + 1] if i + 1 < len(slots) else slot.end / TICKS
        touching = i + 1 < len(slots) and slots[i + 1].tick == slot.end
        end = limit if touching else min(limit, swing_beat(slot.end / TICKS, ratio))
        length = (end - onsets[i]) * (style.feel.legato if touching else 0.95)
        length = min(max(0.04, length), limit - onsets[i])
        found.append(Sounding(onsets[i], length, _velocity(i, slots, pitches, roles, level, style)))
    return found


def _swings(slot: Slot, slots: Sequence[Slot]) -> bool:
    """An off-beat eighth swings unless its beat is divided in three or four."""
    beat = slot.tick // TICKS
    inside = {s.tick % TICKS for s in slots if s.tick // TICKS == beat}
    return not inside & {3, 4, 8, 9}


def _velocity(
    i: int,
    slots: Sequence[Slot],
    pitches: Sequence[int],
    roles: Sequence[Role],
    level: float,
    style: Style,
) -> int:
    accent = style.dynamics.accent
    value = level - accent * 0.4
    top = (i == 0 or pitches[i] > pitches[i - 1]) and (
        i + 1 == len(pitches) or pitches[i] > pitches[i + 1]
    )
    if top:
        value += accent * 0.7
    if slots[i].tick % TICKS == TICKS // 2:
        value += accent * 0.5
    if roles[i] in ("approach", "free"):
        value -= accent * 0.5
    t = i / max(1, len(slots) - 1)
    value += accent * 0.4 * float(np.sin(np.pi * t))
    return int(np.clip(round(value), 1, 127))
