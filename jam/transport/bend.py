"""Bending the tempo, so that a better estimate never makes the beat jump.

The map of the past stays as it was, the beat sounding now stays where it is, and the tempo is
bent for a while until the map meets the new estimate: for four times the distance, so never by
more than a third faster or a fifth slower, and half a beat is made good in two beats.
"""

from __future__ import annotations

from jam.transport.timeline import TempoMap, Timeline

SHORTEST_BEND_BEATS = 0.25
BEND_PER_GAP = 4.0
KEPT_STRETCHES = 64
"""How many stretches of the past a map keeps for looking back."""

_SAME_BEATS = 1e-6


def bend(present: TempoMap, target: Timeline, now: float) -> TempoMap:
    """Return the map that is ``present`` up to second ``now`` and soon after becomes ``target``."""
    here = present.beat(now)
    gap = target.beat(now) - here
    past = tuple(
        s for s in present.stretches if s.origin_sec < now and s.origin_beats < here - _SAME_BEATS
    )[-KEPT_STRETCHES:]
    if abs(gap) < _SAME_BEATS:
        return TempoMap((*past, Timeline(target.bpm, here, now)))
    span = max(SHORTEST_BEND_BEATS, BEND_PER_GAP * abs(gap))
    meet_sec = target.sec(here + span)
    bent = Timeline(60.0 * span / (meet_sec - now), here, now)
    return TempoMap((*past, bent, Timeline(target.bpm, here + span, meet_sec)))
