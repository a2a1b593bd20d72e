"""A new tail for a reply that has begun: what of its rhythm stays, and what it goes on from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from jam.idiom.classes import interval_class
from jam.players.soloist.breath import missed
from jam.players.soloist.landings import Landing
from jam.players.soloist.lattice import Start
from jam.players.soloist.request import Prefix, Request
from jam.players.soloist.slots import LANDINGS, TICKS, Slot, in_line, to_ticks

_HALF = TICKS // 2


def landed(
    kept: Sequence[Slot],
    request: Request,
    begin: int,
    prefix: Prefix,
    marks: Sequence[Landing],
) -> list[Slot]:
    """Return the tail's slots, with a note near every landing that it would else pass by.

    What a span or a figure asked for was meant for other chords, and is dropped.
    """
    slots = [
        replace(slot, wanted_class=None, direction=0, implied=None)
        if slot.wanted_class is not None or slot.implied is not None
        else slot
        for slot in kept
    ]
    latest = to_ticks(request.window.latest)
    last = slots[-1].tick if slots else latest
    _, held_until = prefix.held if prefix.held is not None else (0.0, -1e9)
    for landing in missed(slots, marks):
        behind = landing.until * TICKS < begin or held_until > landing.beat + 1e-6
        if behind or landing.first_tick > last:
            continue
        place = next((t for t in _places_from(landing.first_tick, begin)), begin)
        if landing.takes(place / TICKS) and place <= latest - 2:
            length = min(_HALF, latest - place)
            slots.append(Slot(place, length, "landing", LANDINGS + len(slots)))
    return in_line([*slots, *_in_its_place(slots, begin, last, prefix)])


def _in_its_place(slots: Sequence[Slot], begin: int, last: int, prefix: Prefix) -> list[Slot]:
    """Return a note for the one that was cut off, if none comes within half a beat."""
    cut = prefix.held is not None and prefix.held[1] * TICKS > begin - 2
    soon = any(slot.tick <= begin + _HALF for slot in slots)
    place = -(-begin // _HALF) * _HALF
    wanted = cut and not soon and place < last
    return [Slot(place, _HALF, "landing", LANDINGS - 1)] if wanted else []


def _places_from(tick: int, begin: int) -> list[int]:
    """Return where a landing may be put: on the change, on a half beat, or as soon as can be."""
    return [place for place in (tick, -(-begin // _HALF) * _HALF, begin) if place >= begin]


def loosened(slots: Sequence[Slot]) -> list[Slot]:
    """Return the slots cut short, so that no note sounds across a change it cannot fit."""
    return [replace(slot, ticks=min(slot.ticks, _HALF), wanted=None) for slot in slots]


def start_of(prefix: Prefix, low: int, high: int) -> Start | None:
    """Return where the line stands after what has begun, None if nothing has."""
    if not prefix.pitches:
        return None
    index = prefix.pitches[-1] - low
    led = prefix.pitches[-1] - prefix.pitches[-2] if len(prefix.pitches) > 1 else None
    reached = interval_class(max(-12, min(12, led))) if led is not None else 0
    if not prefix.pending:
        return Start(index, reached)
    near = _steps_from(prefix.pending, low, high) or _steps_from(prefix.pending[-1:], low, high)
    return Start(index, reached, tuple(pitch - low for pitch in near))


def _steps_from(pending: Sequence[int], low: int, high: int) -> list[int]:
    return [
        p for p in range(low, high + 1) if all(1 <= abs(p - waiting) <= 2 for waiting in pending)
    ]


def before_of(prefix: Prefix) -> Slot | None:
    """Return the last note that has begun, as a slot."""
    if prefix.held is None:
        return None
    begin, end = to_ticks(prefix.held[0]), to_ticks(prefix.held[1])
    return Slot(begin, max(1, end - begin), "run", -1)
