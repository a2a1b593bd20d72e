"""Since when is the floor free? A while after the player's last key came up.

How long that is: the rest that ends a phrase; in free playing a breath, for nobody has said that
the turn is over; right before a turn that was agreed upon an eighth will do. Replies are planned a
little earlier than the floor is free, on the hypothesis that the phrase has ended, and taken back
if the player goes on: so the first note may fall on the very moment.
"""

from __future__ import annotations

from jam.core.moment import Moment
from jam.listening.line import Line
from jam.listening.segmenter import RestRule

PLANNED_AHEAD_BEATS = 0.5
"""So long before the floor is free a reply is planned at the earliest."""

BREATH_BEATS = 2.0
"""A rest inside a solo that is not to be talked over."""

_EAGER_REST_BEATS = 1.0
_SHORT_REST_BEATS = 0.25
_EPS = 1e-6


def rest_needed(rest: RestRule, bpm: float, *, free: bool, eager: bool) -> float:
    """Return how long the player must have rested, in beats; ``free``: no turn was agreed upon."""
    phrase_end = rest.rest_beats(bpm)
    if not free:
        return phrase_end
    return max(_EAGER_REST_BEATS, phrase_end) if eager else BREATH_BEATS


def free_from(line: Line, rest_beats: float, m: Moment) -> float:
    """Return the beat at which the player, all keys up, will have rested for ``rest_beats``."""
    return m.beat - line.silence_beats(m.beat) + rest_beats


def seems_over(line: Line, floor_from: float, m: Moment) -> bool:
    """Return whether to take the phrase for ended, if the floor is free from that beat on."""
    rests = line.silence_beats(m.beat) >= _SHORT_REST_BEATS - _EPS
    return rests and floor_from <= m.beat + PLANNED_AHEAD_BEATS


def about_to_begin(line: Line, turn_start: float, m: Moment) -> bool:
    """Return whether the turn is at hand and the player at rest, be it but shortly."""
    at_hand = turn_start - PLANNED_AHEAD_BEATS - _EPS <= m.beat < turn_start - _EPS
    return at_hand and line.silence_beats(m.beat) >= _SHORT_REST_BEATS - _EPS
