"""The soloist: one question in, one reply out.

Rhythm first, then pitches; a first line that keeps every hard rule, then better ones while the
effort granted lasts. Effort is counted in expansions (slots times pitches), never in time.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from math import ceil

import numpy as np

from jam.events import PlannedNote
from jam.listening.phrase import Cell
from jam.players.soloist.arpeggios import with_arpeggios
from jam.players.soloist.costs import Place, Pricing, Tables, places, sounding
from jam.players.soloist.feel import perform
from jam.players.soloist.labels import label
from jam.players.soloist.landings import landings, structural_changes
from jam.players.soloist.lattice import Point, Start, cheapest_line
from jam.players.soloist.moves import FIRM, FIRST_STATEMENT, Statement, from_recipe, moved, restated
from jam.players.soloist.request import Prefix, Reply, Request
from jam.players.soloist.rhythm import missed, plan_rhythm, within_breath
from jam.players.soloist.slots import TICKS, Slot, in_line, to_ticks
from jam.players.soloist.taste import taste_matrix
from jam.styles.profile import Idea, Style

MOST_CANDIDATES = 4
KNOWN_AGAIN = 5
ALTERNATIVES = 3
FAR_FETCHED = 8.0
AT_THE_SAME_PITCH = 70
LESS_TELLING = 3.0
_TURNED = ("invert", "same_rhythm")


def answer(request: Request) -> Reply:
    """Return the best reply found within the effort granted; one is always found.

    The notes keep the hard rules H1 to H5 against ``request.changes``.
    """
    best: tuple[float, list[Slot], list[Place], list[Point], str] | None = None
    spent = 0
    for number in range(MOST_CANDIDATES):
        rng = np.random.default_rng((*request.seed, number))
        statement, idea = _idea(request, number, rng)
        slots = with_arpeggios(plan_rhythm(request, statement, rng), request, rng)
        found = _line(request, slots, rng)
        spent += len(slots) * _size(request.style)
        if found is not None:
            cost, where, points = found
            total = cost / len(slots) + _shape_cost(request, slots, statement)
            total += _staleness(request, points) + _unlikeness(slots, points)
            total += FAR_FETCHED if statement is not None and statement.move in _TURNED else 0.0
            total += LESS_TELLING * (number % ALTERNATIVES)
            if best is None or total < best[0]:
                best = (total, slots, where, points, idea)
        if best is not None and spent + len(slots) * _size(request.style) > request.effort:
            break
    if best is None:
        slots, where, points = _plain_line(request)
        best = (0.0, slots, where, points, "a plain line through the guide tones")
    _, slots, where, points, idea = best
    where, points = _moved_on(request, slots, where, points)
    return Reply(_notes(request, slots, where, points), tuple(slots), spent, idea)


def answer_anew(request: Request, reply: Reply, prefix: Prefix) -> Reply:
    """Return ``reply`` with a new tail from ``prefix.from_beat`` on, over ``request.changes``.

    The rhythm that was planned is kept where it still serves; a note is added where the change
    that arrived would else be passed by.
    """
    begin = ceil(prefix.from_beat * TICKS - 1e-6)
    kept = [s for s in reply.slots if isinstance(s, Slot) and s.tick >= begin]
    rng = np.random.default_rng((*request.seed, 77))
    slots = _landed(kept, request, begin, prefix)
    if prefix.breath_beat is not None:
        slots = within_breath(slots, request, to_ticks(prefix.breath_beat))
    if not slots:
        return replace(reply, notes=(), slots=())
    short = _short(slots)
    eased = replace(prefix, pending=prefix.pending[-1:])
    for attempt, before in ((slots, prefix), (short, prefix), (slots, eased), (short, eased)):
        found = _line(request, attempt, rng, before)
        if found is not None:
            _, where, points = found
            notes = _notes(request, attempt, where, points)
            return Reply(notes, tuple(attempt), len(attempt) * _size(request.style), reply.idea)
    return replace(reply, notes=(), slots=())


def _moved_on(
    request: Request, slots: list[Slot], where: list[Place], points: list[Point]
) -> tuple[list[Place], list[Point]]:
    """Return the line with its sequences moved off the pitch of the first statement, where that
    costs little; in a blues a riff may stay where it is."""
    said = [i for i, slot in enumerate(slots) if slot.group == FIRST_STATEMENT]
    if not said or request.blues:
        return where, points
    pitch = points[said[0]].index
    again = [
        i
        for i, slot in enumerate(slots)
        if slot.move == "sequence" and not slot.place and points[i].index == pitch
    ]
    if not again:
        return where, points
    rng = np.random.default_rng((*request.seed, 55))
    found = _line(request, slots, rng, avoid=(again, pitch))
    if found is None or _unlikeness(slots, found[2]) > _unlikeness(slots, points):
        return where, points
    return found[1], found[2]


def pattern(pitches: Sequence[int]) -> tuple[int, ...]:
    """Return the intervals of a line, as kept in ``Request.recent``."""
    return tuple(b - a for a, b in itertools.pairwise(pitches))


# --- the idea ----------------------------------------------------------------------------


def _idea(request: Request, number: int, rng: np.random.Generator) -> tuple[Statement | None, str]:
    """Return the statement a candidate is built on, with what it takes from the call in words."""
    cells = request.call.cells if request.call is not None else ()
    if cells:
        cell = _cell(cells, number)
        literal = request.style.idea.literal
        statement = restated(cell, firm=int(FIRM * (0.5 + literal)))
        statement = moved(statement, _first_move(request.style.idea, rng))
        return statement, f"a cell of {len(cell)} notes from {_place_words(cell)} of the call"
    recipes = request.style.recipes
    if not recipes:
        return None, "nothing to take up: a line of its own"
    recipe = recipes[int(rng.integers(0, len(recipes)))]
    chord = sounding(request.changes, request.window.start).chord
    phase = int(rng.choice([0, TICKS // 2])) + to_ticks(request.window.start)
    return from_recipe(recipe, chord, phase), f"the stock phrase '{recipe.name}'"


def _first_move(idea: Idea, rng: np.random.Generator) -> str:
    """Draw how the idea is first said: as it was, nearly always, the more literal the style is."""
    names = ("restate", "displace", "same_rhythm", "invert")
    free = (1.0 - idea.literal) * 0.5
    shares = np.array([idea.moves.get(name, 0.0) * free + 0.001 for name in names])
    shares[0] = 2.0 * idea.moves.get("restate", 0.0) + 0.1
    return names[int(rng.choice(len(names), p=shares / shares.sum()))]


def _cell(cells: Sequence[Cell], number: int) -> Cell:
    """Return the cell for a candidate: the most characteristic first, long enough to be known
    again (five notes) before shorter ones."""
    longer = [cell for cell in cells if len(cell) >= KNOWN_AGAIN]
    ordered = [*longer, *(cell for cell in cells if len(cell) < KNOWN_AGAIN)]
    return ordered[number % min(ALTERNATIVES, len(ordered))]


def _place_words(cell: Cell) -> str:
    return "the start" if cell.first == 0 else f"note {cell.first + 1}"


# --- one line ----------------------------------------------------------------------------


def _size(style: Style) -> int:
    return style.instrument.high - style.instrument.low + 1


def _line(
    request: Request,
    slots: list[Slot],
    rng: np.random.Generator,
    prefix: Prefix | None = None,
    avoid: tuple[Sequence[int], int] = ((), 0),
) -> tuple[int, list[Place], list[Point]] | None:
    """Return cost, places and points of the best line; ``avoid`` makes one pitch (by its index)
    dear in some slots."""
    instrument = request.style.instrument
    where = places(request, slots, prefix.held if prefix is not None else None)
    pricing = Pricing(request, instrument.low, instrument.high, rng)
    columns = pricing.columns(slots, where)
    for index in avoid[0]:
        columns[index].free[avoid[1]] += AT_THE_SAME_PITCH
    start = _start(prefix, instrument.low, instrument.high)
    found = cheapest_line(columns, taste_matrix(request.style.lines), start)
    return None if found is None else (found[0], where, found[1])


def _start(prefix: Prefix | None, low: int, high: int) -> Start | None:
    if prefix is None or not prefix.pitches:
        return None
    if not prefix.pending:
        return Start(prefix.pitches[-1] - low)
    near = [
        pitch
        for pitch in range(low, high + 1)
        if all(1 <= abs(pitch - waiting) <= 2 for waiting in prefix.pending)
    ]
    if not near:
        near = [p for p in range(low, high + 1) if 1 <= abs(p - prefix.pending[-1]) <= 2]
    return Start(prefix.pitches[-1] - low, tuple(pitch - low for pitch in near))


def _notes(
    request: Request, slots: Sequence[Slot], where: Sequence[Place], points: Sequence[Point]
) -> tuple[PlannedNote, ...]:
    low = request.style.instrument.low
    pitches = [low + point.index for point in points]
    labels = label(slots, where, points, pitches, Tables(request))
    played = perform(
        slots,
        pitches,
        [one.role for one in labels],
        style=request.style,
        bpm=request.bpm,
        feel=request.feel,
        pulse_beats=request.pulse_beats,
        heard_velocity=request.call.velocity if request.call is not None else None,
        heard_range=request.call.velocity_range if request.call is not None else None,
        rng=np.random.default_rng((*request.seed, 99, slots[0].tick & 0xFFFF)),
    )
    return tuple(
        PlannedNote(
            slot.beat, slot.beats, pitch, sound.velocity, sound.beat, sound.beats,
            one.chord, one.degree, one.role, one.move, one.why, sound.bend,
        )
        for slot, pitch, sound, one in zip(slots, pitches, played, labels, strict=True)
    )  # fmt: skip


# --- choosing among candidates ------------------------------------------------------------


def _shape_cost(request: Request, slots: Sequence[Slot], statement: Statement | None) -> float:
    """Return what is wrong with the rhythm as a whole, on the scale of a note's cost."""
    style = request.style.rhythm
    span = max(1, slots[-1].end - slots[0].tick) / TICKS
    density = len(slots) / span
    cost = 12.0 * abs(np.log2(max(density, 0.1) / style.density))
    if statement is not None:
        said = sum(slot.group == FIRST_STATEMENT or slot.move == "sequence" for slot in slots)
        cost -= 4.0 * min(said, 12)
    return float(cost)


def _unlikeness(slots: Sequence[Slot], points: Sequence[Point]) -> float:
    """Return the cost of a first statement that is not known again: more than one note in four
    off the cell's shape, wherever it was moved to."""
    pairs = [(s, p) for s, p in zip(slots, points, strict=True) if s.group == FIRST_STATEMENT]
    if not pairs:
        return 0.0
    height, shifts = 0, []
    for slot, point in pairs:
        height += slot.wanted or 0
        shifts.append(point.index - height)
    off = len(shifts) - max(Counter(shifts).values())
    return 6.0 * off + (40.0 if off > len(shifts) // 4 else 0.0)


def _staleness(request: Request, points: Sequence[Point]) -> float:
    """Return the cost of saying again what was said lately: four-interval patterns in common."""
    line = pattern([point.index for point in points])
    said = {old[i : i + 4] for old in request.recent for i in range(len(old) - 3)}
    if len(line) < 4 or not said:
        return 0.0
    again = sum(line[i : i + 4] in said for i in range(len(line) - 3))
    return 25.0 * again / (len(line) - 3)


# --- when nothing else can be had -----------------------------------------------------------


def _landed(kept: list[Slot], request: Request, begin: int, prefix: Prefix) -> list[Slot]:
    """Give the tail a note near every landing that it would else pass by."""
    slots = list(kept)
    latest = to_ticks(request.window.latest)
    last = slots[-1].tick if slots else latest
    _, held_until = prefix.held if prefix.held is not None else (0.0, -1e9)
    for landing in missed(slots, landings(request)):
        behind = landing.until * TICKS < begin or held_until > landing.beat + 1e-6
        if behind or landing.first_tick > last:
            continue
        place = next((t for t in _places_from(landing.first_tick, begin)), begin)
        if landing.takes(place / TICKS) and place <= latest - 2:
            length = min(TICKS // 2, latest - place)
            slots.append(Slot(place, length, "landing", 800 + len(slots)))
    return in_line(slots)


def _places_from(tick: int, begin: int) -> list[int]:
    """Return where a landing may be put: on the change, on a half beat, or as soon as can be."""
    half = TICKS // 2
    return [place for place in (tick, -(-begin // half) * half, begin) if place >= begin]


def _short(slots: Sequence[Slot]) -> list[Slot]:
    """Return the slots cut short, so that no note sounds across a change it cannot fit."""
    return [replace(slot, ticks=min(slot.ticks, TICKS // 2), wanted=None) for slot in slots]


def _plain_line(request: Request) -> tuple[list[Slot], list[Place], list[Point]]:
    """Return a short line of one strong note a change: always to be had."""
    window = request.window
    beats = [c.beat for c in structural_changes(request) if window.start <= c.beat < window.end]
    ticks = sorted({to_ticks(beat) for beat in beats} | {to_ticks(window.start) + TICKS // 2})
    slots = in_line([Slot(tick, TICKS // 2, "landing", n) for n, tick in enumerate(ticks)])
    where = places(request, slots)
    instrument = request.style.instrument
    pricing = Pricing(request, instrument.low, instrument.high, np.random.default_rng(0))
    middle = (instrument.high - instrument.low) // 2
    points = []
    for slot, place in zip(slots, where, strict=True):
        mask = pricing.free_mask(slot, place)[pricing.classes]
        options = np.flatnonzero(mask)
        middle = int(options[np.argmin(np.abs(options - middle))])
        points.append(Point(middle, "free"))
    return slots, where, points
