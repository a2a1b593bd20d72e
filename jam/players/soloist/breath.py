"""What the hard rules ask of time: enough changes met (H1), and room to breathe (H5)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from jam.players.soloist.landings import HAIR, Landing, landings
from jam.players.soloist.request import Request
from jam.players.soloist.slots import LANDINGS, TICKS, Slot, in_line, stretches

_HALF = TICKS // 2
_MIN_NOTE = 2
_MAY_BE_SILENT = 4
"""One structural change in so many may pass in a rest (the hard rule is one in three)."""


def with_landings(
    slots: list[Slot], marks: Sequence[Landing], rng: np.random.Generator
) -> list[Slot]:
    """Put notes near structural changes, as many as keep a line from passing by in silence."""
    first, last = slots[0].tick, slots[-1].tick
    inside = [mark for mark in marks if first < mark.first_tick < last]
    silent = missed(slots, inside)
    spare = len(inside) // _MAY_BE_SILENT
    added: list[Slot] = []
    for landing in rng.permutation(len(silent))[: max(0, len(silent) - spare)]:
        tick = silent[landing].first_tick
        off = tick + _HALF
        late = rng.random() < 0.5 and silent[landing].takes(off / TICKS) and off < last
        added.append(Slot(off if late else tick, _HALF, "landing", LANDINGS + len(added)))
    return in_line([*slots, *added]) if added else slots


def missed(slots: Sequence[Slot], marks: Sequence[Landing]) -> list[Landing]:
    """Return the landings that no slot takes and no slot is held across."""
    spans = [(slot.tick / TICKS, slot.end / TICKS) for slot in slots]
    found = []
    for mark in marks:
        low, least, most = mark.beat, mark.beat - HAIR, mark.until + HAIR
        if not any(least <= begin <= most or begin < low < end for begin, end in spans):
            found.append(mark)
    return found


def within_breath(
    slots: Sequence[Slot],
    request: Request,
    since: int | None = None,
    marks: Sequence[Landing] | None = None,
) -> list[Slot]:
    """Take out notes until no stretch is longer than the breath, landings last of all.

    ``since`` is the tick at which a line that goes on into the slots took its breath.
    """
    marks = landings(request) if marks is None else marks
    breath = request.style.instrument.breath_sec * request.bpm / 60.0 * TICKS * 0.9
    gap = max(_HALF, round(0.25 * request.bpm / 60.0 * TICKS))
    kept = list(slots)
    if since is not None and kept and since < kept[0].tick:
        kept.insert(0, Slot(since, kept[0].tick - since, "run", -1))
    for _ in range(len(slots)):
        long = next(
            (
                (a, b)
                for a, b in stretches(kept, gap)
                if kept[b].end - kept[a].tick > breath and b > a + 1
            ),
            None,
        )
        if long is None:
            break
        _rest_within(kept, *long, marks, gap)
    return [slot for slot in kept if slot.group != -1]


def _rest_within(
    kept: list[Slot], first: int, last: int, marks: Sequence[Landing], gap: int
) -> None:
    """Make room for a breath near the middle of a stretch: a note goes, or is cut short."""
    middle = (kept[first].tick + kept[last].end) / 2
    inside = range(first + 1, last)
    long = [i for i in inside if kept[i + 1].tick - kept[i].tick >= gap + _MIN_NOTE]
    landed = len(missed(kept, marks))
    by_nearness = sorted(inside, key=lambda i: (abs(kept[i].tick - middle), i))
    plain = next(
        (i for i in by_nearness if len(missed([*kept[:i], *kept[i + 1 :]], marks)) == landed), None
    )
    index = next((i for i in by_nearness if i in long), by_nearness[0]) if plain is None else plain
    rest_end = kept[index + 1].tick
    if plain is not None or not long:
        del kept[index]
        index -= 1
    kept[index] = replace(
        kept[index], ticks=min(kept[index].ticks, max(_MIN_NOTE, rest_end - gap - kept[index].tick))
    )
