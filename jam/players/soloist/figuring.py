"""Free stretches of a line turned into figures of the vocabulary: arpeggios, enclosures, runs.

A figure takes neighbouring notes over one chord and may end on the note on which the line lands
when the chord changes; riffs and pedals run on over changes. Which one it is, is drawn by the
style's weights before there is a look at what fits the notes' times, so that a figure with narrow
wishes is sought where it fits instead of passed over.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, pairwise

import numpy as np

from jam.harmony.changes import Change
from jam.players.soloist.chord_tables import Tables
from jam.players.soloist.figures import Figure, drawn, figure_of, meant
from jam.players.soloist.figures_ground import ground_of
from jam.players.soloist.figures_kept import KEPT, counted, kept, said_on
from jam.players.soloist.figures_rooms import FEWEST, asked, chords_of, is_free, rooms_of, same
from jam.players.soloist.request import Request
from jam.players.soloist.slots import TICKS, Slot, pulse_ticks, to_ticks

_USUAL, _MOST = 6, 8
_MOST_KEPT = 12
_LIKELY = 0.9
"""How often the free notes over a chord become a figure."""

_INTO = 0.25
"""How often a landing is circled, where a style gives enclosures all their weight."""

_RAREST = 5.0
"""A figure for few chords is drawn the more on them, up to so many times."""

_FAR = 3
"""So many notes of a chord may pass before a figure begins."""

_NAMES, _LENGTHS, _DRAWS = 4, 3, 3
"""So many names are tried over a chord, lengths of a figure, and figures of a length."""

_THIRD = 4
_KEPT_DRAWS = 4
_FREE = ("everything", "approaches")
"""Levels of material on which figures may hold notes that pass."""

_RESOLVING = (-1, 1, -2, 2)


def with_figures(slots: Sequence[Slot], request: Request, rng: np.random.Generator) -> list[Slot]:
    """Return the slots with free stretches turned into figures."""
    if not rooms_of(slots):
        return list(slots)
    strict = None if request.style.material in _FREE else Tables(request)
    line = _Line(list(slots), chords_of(slots, request), request, _wishes(request), strict)
    if strict is None:
        _circle_landings(line, rng)
    for room in rooms_of(line.slots):
        _fill(line, room.first, room.end, rng)
    return line.slots


@dataclass(frozen=True)
class _Line:
    """The slots, to be written to, with the change at each, and the weights of the figures;
    ``strict`` tells the notes that a strict level of material may take."""

    slots: list[Slot]
    chords: list[Change]
    request: Request
    wishes: dict[str, float]
    strict: Tables | None

    def following(self, index: int) -> Change | None:
        """Return the next other chord after the one at slot ``index``."""
        return _after(self.request, self.chords[index])

    def meant(self, index: int) -> list[str]:
        """Return the figures that are wanted and meant for the chord at slot ``index``."""
        names = meant(
            self.chords[index], self.following(index), key=self.request.key,
            blues=self.request.blues,
        )  # fmt: skip
        return [name for name in names if name in self.wishes]


def _after(request: Request, own: Change) -> Change | None:
    change = request.changes.after(own.beat)
    while change is not None and same(change, own):
        change = request.changes.after(change.beat)
    return change


def _wishes(request: Request) -> dict[str, float]:
    """Return the vocabulary's weights, raised for what is meant for few chords of the turn."""
    window, changes = request.window, request.changes
    inside = changes.between(window.start + 0.01, window.end)
    beats = [window.start, *(change.beat for change in inside), window.end]
    share: dict[str, float] = defaultdict(float)
    for begin, end in pairwise(beats):
        change = changes.at(begin)
        after = _after(request, change)
        for name in meant(change, after, key=request.key, blues=request.blues):
            share[name] += end - begin
    whole = window.end - window.start
    return {
        name: weight * min(_RAREST, whole / share[name])
        for name, weight in request.style.vocabulary.items()
        if weight > 0.0 and share[name] > 0.0
    }


def _circle_landings(line: _Line, rng: np.random.Generator) -> None:
    """Let two free notes before a change circle the note that lands on it, now and then."""
    likely = _INTO * line.request.style.vocabulary["enclosure"]
    for index in range(len(line.slots) - 3):
        part = line.slots[index : index + 3]
        now, new = line.chords[index + 1 : index + 3]
        if now is new or part[2].tick % pulse_ticks(line.request.pulse_beats):
            continue
        if not all(is_free(slot) for slot in part) or rng.random() >= likely:
            continue
        if part[1].tick - part[0].tick > TICKS or part[2].tick - part[1].tick > TICKS:
            continue
        figure = _drawn_at(line, "enclosure", index, 3, new, rng)
        if figure is not None:
            _put(line, index, figure)


def _fill(line: _Line, first: int, end: int, rng: np.random.Generator) -> None:
    """Put figures into the free slots ``first <= i < end``, one chord after another."""
    index = first
    while index + FEWEST <= end:
        stop = index + 1
        while stop < end and line.chords[stop] is line.chords[index]:
            stop += 1
        found = _sought(line, index, stop, end, rng) if rng.random() < _LIKELY else None
        if found is None:
            index = stop
            continue
        begin, figure = found
        _put(line, begin, figure)
        after = begin + len(figure.classes)
        _fill(line, index, begin - 1, rng)
        index = after + 1 if after < stop else after


def _sought(
    line: _Line, index: int, stop: int, end: int, rng: np.random.Generator
) -> tuple[int, Figure] | None:
    """Draw figures by weight until one fits somewhere in the slots ``index <= i < stop`` over one
    chord (the room goes on to ``end``), and return where."""
    change, names = line.chords[index], line.meant(index)
    far, lengths = (_FAR, _LENGTHS) if line.strict is None else (0, 1)
    for _ in range(min(_NAMES, len(names))):
        name = names.pop(drawn(list(accumulate(line.wishes[name] for name in names)), rng))
        wanted = int(rng.integers(FEWEST, _USUAL + 1))
        if name in KEPT:
            figure = _kept_at(line, name, index, min(end - index, _MOST_KEPT), rng)
            if figure is not None:
                return index, figure
            continue
        if stop - index < FEWEST:
            return None
        for begin in range(index, min(stop - FEWEST, index + far) + 1):
            for count in _lengths(wanted, stop - begin)[:lengths]:
                figure = _drawn_at(line, name, begin, count, change, rng)
                if figure is not None:
                    return begin, _led_on(line, figure, begin + count, stop, end)
    return None


def _lengths(wanted: int, room: int) -> list[int]:
    """Return the lengths that a figure may have, those next to the one wanted first."""
    most = min(room, _MOST)
    wanted = min(wanted, most)
    near = (wanted, wanted - 1, wanted + 1)
    return [count for count in near if FEWEST <= count <= most]


def _kept_at(
    line: _Line, name: str, index: int, room: int, rng: np.random.Generator
) -> Figure | None:
    """Return the riff or pedal over the next ``room`` slots that need be bent least, of a few."""
    change, after = line.chords[index], line.following(index)
    if line.chords[index + room - 1] is change:
        room = min(room, _MOST)
    best: tuple[int, Figure] | None = None
    for _ in range(_KEPT_DRAWS):
        found = figure_of(
            name, change, after, counted(name, room), key=line.request.key, off_beat_first=False,
            rng=rng,
        )  # fmt: skip
        if found is None:
            break
        found = said_on(found, room)
        figure, bent = kept(found, line.chords[index : index + len(found.steps)])
        if (best is None or bent < best[0]) and _suits(line, figure, index, change):
            best = bent, figure
        if best is not None and not best[0]:
            break
    return best[1] if best is not None else None


def _drawn_at(
    line: _Line, name: str, index: int, count: int, change: Change, rng: np.random.Generator
) -> Figure | None:
    """Draw a figure over ``change`` that suits the times of the slots, if one is soon found."""
    tick = line.slots[index].tick
    off = tick % pulse_ticks(line.request.pulse_beats) != 0
    if name == "bebop_scale" and not _in_turn(line, index, count):
        return None
    leap = rng.random() < line.request.style.lines.leaps
    for draw in range(_DRAWS):
        figure = figure_of(
            name, change, line.following(index), count, key=line.request.key, off_beat_first=off,
            rng=rng,
        )  # fmt: skip
        if figure is None:
            return None
        moves_well = draw == _DRAWS - 1 or leap or _is_smooth(line, index, figure)
        if moves_well and _suits(line, figure, index, change):
            return figure
    return None


def _is_smooth(line: _Line, index: int, figure: Figure) -> bool:
    """Tell whether the figure leaps once at most, and begins no more than a third from where the
    one before it ended."""
    if sum(abs(b - a) > _THIRD for a, b in pairwise(figure.steps)) > 1:
        return False
    before = line.slots[index - 1].wanted_class if index else None
    apart = 1 if before is None else (figure.classes[0] - before) % 12
    return 1 <= min(apart, 12 - apart) <= _THIRD


def _in_turn(line: _Line, index: int, count: int) -> bool:
    """Tell whether every other slot, and no other, falls on a beat."""
    beat = pulse_ticks(line.request.pulse_beats)
    part = line.slots[index : index + count]
    held = part[0].tick % beat != 0
    return all(slot.tick % beat or number % 2 == held for number, slot in enumerate(part))


def _suits(line: _Line, figure: Figure, index: int, change: Change) -> bool:
    """Tell whether the notes' times suit the figure.

    No weak note lasts; a trip out of the chord begins when the chord has been heard and lasts a bar
    at most. Strict levels of material take none but their own notes.
    """
    request, part = line.request, line.slots[index : index + len(figure.classes)]
    if line.strict is not None:
        return figure.implied is None and all(
            line.strict.of(line.chords[index + place]).strong[wanted]
            for place, wanted in enumerate(figure.classes)
        )
    if figure.implied is not None:
        heard = index > 0 and line.chords[index - 1] is change
        return heard and part[-1].end - part[0].tick <= to_ticks(request.bars.bar_beats)
    longest = TICKS * max(request.pulse_beats / 2.0, 0.25 * request.bpm / 60.0)
    strong = change.chord.strong
    return all(
        slot.ticks <= longest
        or wanted in (line.chords[index + place].chord.strong if figure.name in KEPT else strong)
        for place, (wanted, slot) in enumerate(zip(figure.classes, part, strict=True))
    )


def _led_on(line: _Line, figure: Figure, after: int, stop: int, end: int) -> Figure:
    """Return the figure with the note on which it resolves in the next chord, if that is free and
    the step is short."""
    if after != stop or after >= end or figure.implied is not None:
        return figure
    new = line.chords[after]
    ground = ground_of(new.chord, new.function, None, line.request.key)
    for classes in (ground.tones, ground.liked):
        for step in _RESOLVING:
            goal = (figure.classes[-1] + step) % 12
            if (goal - new.chord.root) % 12 in classes and goal in new.chord.strong:
                way = 1 if step > 0 else -1
                return replace(
                    figure,
                    classes=(*figure.classes, goal),
                    directions=(*figure.directions, way),
                    steps=(*figure.steps, figure.steps[-1] + step),
                )
    return figure


def _put(line: _Line, index: int, figure: Figure) -> None:
    """Ask the slots from ``index`` on for the figure; the last note of a trip is back home."""
    last = len(figure.classes) - 1
    for place, (wanted, way) in enumerate(zip(figure.classes, figure.directions, strict=True)):
        over = figure.implied if place != last else None
        slot = line.slots[index + place]
        line.slots[index + place] = asked(
            slot, index, place, figure.name, wanted, way, over, figure.why
        )
