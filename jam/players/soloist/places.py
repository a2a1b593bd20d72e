"""Where a slot stands among the changes: which chord it is judged by, and what it must do there."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace

from jam.harmony.changes import Change
from jam.players.soloist.chord_tables import sounding
from jam.players.soloist.landings import Landing, landings
from jam.players.soloist.request import Request
from jam.players.soloist.slots import Slot

_HAIR = 1e-6


@dataclass(frozen=True, slots=True)
class Place:
    """What the changes mean for one slot.

    ``now`` holds at its onset (in a span, what the span implies); ``under`` are the changes that
    come while it sounds; ``coming`` is the change it may anticipate (within a pulse, reaching up to
    it or over it). ``lands`` says that the slot is the first note after a structural change,
    ``on_change`` that it is exactly on it, ``crosses`` that it is held across one, ``last`` that it
    ends the reply, ``outside`` that it lies in a span. ``owed`` is the change before, where it
    lasted just a pulse and nothing was heard in it: this note, a pulse later, is its landing too.
    """

    now: Change
    under: tuple[Change, ...]
    coming: Change | None
    lands: bool
    on_change: bool
    crosses: bool
    last: bool
    outside: bool = False
    owed: Change | None = None


def places(
    request: Request,
    slots: Sequence[Slot],
    held: tuple[float, float] | None = None,
    marks: Sequence[Landing] | None = None,
) -> list[Place]:
    """Return the place of every slot among the changes.

    ``held`` is where the note before the first slot begins and ends (for a new tail); ``marks``
    saves working out the request's landings again.
    """
    marks = landings(request) if marks is None else marks
    beats = [mark.beat for mark in marks]
    found = []
    begun, ended = held if held is not None else (-1e9, -1e9)
    first = 0
    for index, slot in enumerate(slots):
        begin, end = slot.beat, slot.end / 12
        while first < len(marks) and marks[first].until < begin - _HAIR:
            first += 1
        mark = None
        if first < len(marks) and marks[first].takes(begin):
            near = marks[first]
            if begun < near.beat - _HAIR and ended <= near.beat + _HAIR:
                mark = near
        owed = None
        if mark and first and marks[first - 1].limit >= begin - _HAIR:
            passed = marks[first - 1].beat
            if begun < passed - _HAIR and ended <= passed + _HAIR:
                owed = sounding(request.changes, passed)
        after = bisect_right(beats, begin)
        crosses = after < len(beats) and beats[after] < end
        last = index == len(slots) - 1
        found.append(_place(request, slot, mark, owed, crosses=crosses, last=last))
        begun, ended = begin, end
    return found


def _place(
    request: Request,
    slot: Slot,
    mark: Landing | None,
    owed: Change | None,
    *,
    crosses: bool,
    last: bool,
) -> Place:
    begin, end = slot.beat, slot.end / 12
    now = sounding(request.changes, begin)
    later = [
        change
        for change in request.changes.between(begin + 2 * _HAIR, end + 2 * _HAIR)
        if not change.passing and not change.chord.is_none
    ]
    coming = later[0] if later and later[0].beat - begin <= request.pulse_beats + _HAIR else None
    outside = slot.implied is not None and not (mark or crosses or last or later)
    if outside and slot.implied is not None:
        now = replace(now, chord=slot.implied, function="none")
    return Place(
        now,
        tuple(change for change in later if change.beat < end - _HAIR),
        coming,
        lands=mark is not None,
        on_change=mark is not None and abs(mark.beat - begin) < _HAIR,
        crosses=crosses,
        last=last,
        outside=outside,
        owed=owed,
    )
