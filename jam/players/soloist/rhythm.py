"""The rhythm of a reply: statements of the idea, what joins them, and how it ends.

The plan satisfies, before any pitch is chosen, what the hard rules ask of time: the window of the
turn (H4), a note near every structural change (H1), and the breath (H5).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from jam.players.soloist.landings import Landing, landings
from jam.players.soloist.moves import Statement, moved
from jam.players.soloist.request import Request
from jam.players.soloist.slots import TICKS, Slot, in_line, pulse_ticks, stretches, to_ticks

_HALF = TICKS // 2
_MIN_NOTE = 2
_STAYS = 1000

_BEAT_PATTERNS = {
    "rest": (),
    "quarter": (0,),
    "off": (6,),
    "eighths": (0, 6),
    "triplet": (0, 4, 8),
    "sixteenths": (0, 3, 6, 9),
    "turn": (0, 6, 9),
}
_DOTTED_PATTERNS = {
    "rest": (),
    "quarter": (0,),
    "off": (6, 12),
    "eighths": (0, 12),
    "triplet": (0, 6, 12),
    "sixteenths": (0, 3, 6, 9, 12, 15),
    "turn": (0, 6, 9, 12),
}


@dataclass(frozen=True)
class _Frame:
    """The window in ticks."""

    start: int
    end: int
    earliest: int
    latest: int
    pulse: int
    beat: int
    landings: tuple[Landing, ...]


def plan_rhythm(
    request: Request, statement: Statement | None, rng: np.random.Generator
) -> list[Slot]:
    """Return the slots of one candidate reply, in order; at least one."""
    window = request.window
    frame = _Frame(
        to_ticks(window.start),
        to_ticks(window.end),
        to_ticks(window.earliest),
        to_ticks(window.latest),
        max(_HALF, to_ticks(request.pulse_beats)),
        pulse_ticks(request.pulse_beats),
        tuple(landings(request)),
    )
    last = _ending(request, frame, rng)
    slots = _statements(request, frame, statement, last.tick, rng)
    slots += _pickup(request, frame, slots, rng)
    slots += _joined(request, frame, slots, last.tick, rng)
    slots = [slot for slot in slots if slot.end <= last.tick or slot.tick < last.tick]
    slots = in_line([*slots, last])
    slots = _with_landings(slots, frame, rng)
    return within_breath(slots, request)


def _ending(request: Request, frame: _Frame, rng: np.random.Generator) -> Slot:
    """Return the last note: off the beat or on it, before the turn ends or over its bar line."""
    style = request.style.rhythm
    room = frame.end - frame.start
    space = style.space * rng.uniform(0.3, 1.6) * room
    aim = frame.end - int(space)
    off = rng.random() < style.end_off_beat
    places = [
        tick
        for tick in range(frame.start + min(TICKS, room // 2), frame.latest - 2, _HALF)
        if (tick % frame.beat != 0) == off
    ] or [max(frame.earliest, frame.end - TICKS)]
    tick = min(places, key=lambda place: (abs(place - aim), place))
    length = int(rng.choice([_HALF, _HALF, TICKS, TICKS + _HALF]))
    return Slot(tick, max(_MIN_NOTE, min(length, frame.latest - tick)), "close", 900, firm=_STAYS)


def _statements(
    request: Request,
    frame: _Frame,
    statement: Statement | None,
    last: int,
    rng: np.random.Generator,
) -> list[Slot]:
    if statement is None:
        return []
    bar = to_ticks(request.bars.bar_beats)
    bars = max(1, round((frame.end - frame.start) / bar))
    most = 1 + int(bars >= 2) + int(bars >= 4) + int(bars >= 8)
    count = max(1, most - int(rng.random() > 0.4 + request.style.idea.literal))
    slots: list[Slot] = []
    tick = _first_place(request, frame, statement, rng)
    for number in range(count):
        said = statement if number == 0 else _varied(statement, request, number, rng)
        if tick + said.onsets[-1] > last - (0 if number == 0 else _HALF):
            break
        slots += said.at(tick, number)
        tick = _next_place(frame, tick, said, statement, bar)
    return slots


def _pickup(
    request: Request, frame: _Frame, said: Sequence[Slot], rng: np.random.Generator
) -> list[Slot]:
    """Lead into an idea that begins on the beat from the off-beat before it."""
    if not said or said[0].tick % frame.beat or said[0].tick - _HALF < frame.earliest:
        return []
    if rng.random() > request.style.rhythm.start_off_beat:
        return []
    return [Slot(said[0].tick - _HALF, _HALF, "run", 99)]


def _varied(
    statement: Statement, request: Request, number: int, rng: np.random.Generator
) -> Statement:
    """The second statement is a sequence nearly always; later ones vary as the style weighs."""
    weights = request.style.idea.moves
    names = ["sequence", "same_rhythm", "invert", "displace", "fragment"]
    shares = np.array([weights.get(name, 0.0) + 0.01 for name in names])
    shares[0] *= 4.0 if number == 1 else 1.0
    shares[1:] *= 1.2 - request.style.idea.literal
    return moved(statement, names[int(rng.choice(len(names), p=shares / shares.sum()))])


def _first_place(
    request: Request, frame: _Frame, statement: Statement, rng: np.random.Generator
) -> int:
    """The idea begins where it stood in the bar if that is near the start of the turn, else at
    the same place in the beat."""
    bar = to_ticks(request.bars.bar_beats)
    phase = statement.phase
    latest = min(frame.start + 2 * TICKS, frame.end - statement.onsets[-1] - _MIN_NOTE)
    places = [
        tick
        for tick in range(frame.earliest, max(latest, frame.earliest) + 1)
        if (tick - phase) % frame.beat == 0
    ]
    if not places:
        return max(frame.earliest, min(frame.start, latest))
    off_wanted = rng.random() < request.style.rhythm.start_off_beat

    def dislike(tick: int) -> tuple[float, int]:
        cost = 0.0 if (tick - frame.start - phase) % bar == 0 else 1.0
        cost += 0.5 if (tick % frame.beat != 0) != off_wanted else 0.0
        cost += abs(tick - frame.start - _HALF) / (2.0 * TICKS)
        return cost + float(rng.random()) * 0.5, tick

    return min(places, key=dislike)


def _next_place(frame: _Frame, tick: int, said: Statement, idea: Statement, bar: int) -> int:
    """The next statement stands to the next chord as this one stood to its own."""
    changes = [landing.first_tick for landing in frame.landings]
    anchor = max((change for change in changes if change <= tick + frame.pulse), default=tick)
    offset = tick - anchor
    for change in changes:
        place = change + offset
        if change > anchor and place >= tick + said.span + 1 and place - tick <= 2 * bar:
            return place
    return tick + bar * max(1, -(-(said.span + 1) // bar))


# --- what joins the statements ------------------------------------------------------------


def _joined(
    request: Request, frame: _Frame, said: Sequence[Slot], last: int, rng: np.random.Generator
) -> list[Slot]:
    """Return the slots of the runs between statements and on to the last note."""
    gaps: list[tuple[int, int]] = []
    if not said:
        off = rng.random() < request.style.rhythm.start_off_beat
        gaps.append((max(frame.earliest, frame.start + (_HALF if off else 0)), last))
    else:
        groups = [slot.group for slot in said]
        for index in range(1, len(said)):
            if groups[index] != groups[index - 1]:
                gaps.append((said[index - 1].end, said[index].tick))
        gaps.append((said[-1].end, last))
    slots: list[Slot] = []
    for number, (begin, end) in enumerate(gaps):
        final = number == len(gaps) - 1
        slots += _fill(request, frame, begin, end, 100 + number, rng, final=final)
    return slots


def _fill(
    request: Request,
    frame: _Frame,
    begin: int,
    end: int,
    group: int,
    rng: np.random.Generator,
    *,
    final: bool,
) -> list[Slot]:
    if end - begin < _HALF:
        return []
    style = request.style.rhythm
    breathe = rng.random() < min(0.9, 0.25 + 2.0 * style.rests)
    if breathe and end - begin > TICKS:
        begin += int(rng.choice([_HALF, TICKS, TICKS + _HALF]))
        if not final and rng.random() < 0.4 + style.rests:
            return []
    shares = _pattern_shares(request)
    width = frame.beat
    patterns = _BEAT_PATTERNS if width == TICKS else _DOTTED_PATTERNS
    names = list(shares)
    weights = np.array([shares[name] for name in names])
    slots: list[Slot] = []
    beat = begin - (begin - frame.start) % width
    while beat < end:
        name = names[int(rng.choice(len(names), p=weights))]
        for place in patterns[name]:
            if begin <= beat + place <= end - _MIN_NOTE - 1:
                slots.append(Slot(beat + place, TICKS, "run", group, len(slots)))
        beat += width
    return [_shortened(slot, slots[i + 1 :], end) for i, slot in enumerate(slots)]


def _shortened(slot: Slot, later: Sequence[Slot], end: int) -> Slot:
    following = later[0].tick if later else end
    gap = following - slot.tick
    return replace(slot, ticks=gap if gap <= TICKS else _HALF if slot.tick % TICKS else TICKS)


def _pattern_shares(request: Request) -> dict[str, float]:
    """Return how often each beat pattern comes, so that the density is the style's.

    People play more notes a beat the slower it goes: factors after the notes a beat by tempo of
    the solos in the Weimar Jazz Database (Pfleiderer et al. 2017, ODbL), 1 at 160 bpm.
    """
    style, bpm = request.style.rhythm, request.bpm
    factor = float(np.interp(bpm, [60, 90, 120, 160, 200, 240], [1.7, 1.5, 1.2, 1.0, 0.9, 0.85]))
    density = style.density * factor
    triplet = style.triplets * (1.0 if bpm < 210 else 0.25)
    sixteenth = style.sixteenths if bpm < 150 else 0.0
    if bpm < 100:
        sixteenth = max(sixteenth, min(0.35, (density - 2.0) / 2.0))
    sixteenth = max(0.0, min(sixteenth, 1.0 - triplet))
    rest = min(style.rests, 0.4)
    left = max(0.0, 1.0 - triplet - sixteenth - rest)
    single = min(left, max(0.0, 2.0 * left + 3.0 * triplet + 3.5 * sixteenth - density))
    shares = {
        "rest": rest,
        "quarter": single * 0.5,
        "off": single * 0.5,
        "eighths": left - single,
        "triplet": triplet,
        "sixteenths": sixteenth * 0.5,
        "turn": sixteenth * 0.5,
    }
    total = sum(shares.values())
    return {name: share / total for name, share in shares.items()}


# --- what the hard rules ask of time ------------------------------------------------------


def _with_landings(slots: list[Slot], frame: _Frame, rng: np.random.Generator) -> list[Slot]:
    """Put a note near every structural change that the line would pass by in silence."""
    first, last = slots[0].tick, slots[-1].tick
    added: list[Slot] = []
    for landing in missed(slots, frame.landings):
        tick = landing.first_tick
        if not first < tick < last:
            continue
        off = tick + _HALF
        late = rng.random() < 0.5 and landing.takes(off / TICKS) and off < last
        added.append(Slot(off if late else tick, _HALF, "landing", 800 + len(added)))
    return in_line([*slots, *added]) if added else slots


def missed(slots: Sequence[Slot], marks: Sequence[Landing]) -> list[Landing]:
    """Return the landings that no slot takes and no slot is held across."""
    return [
        landing
        for landing in marks
        if not any(
            landing.takes(slot.beat) or slot.beat < landing.beat < slot.end / TICKS
            for slot in slots
        )
    ]


def within_breath(slots: Sequence[Slot], request: Request, since: int | None = None) -> list[Slot]:
    """Take out notes until no stretch is longer than the breath, landings last of all.

    ``since`` is the tick at which a line that goes on into the slots took its breath.
    """
    marks = landings(request)
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
    plain = [i for i in inside if len(missed([*kept[:i], *kept[i + 1 :]], marks)) == landed]
    index = min(plain or long or inside, key=lambda i: (abs(kept[i].tick - middle), i))
    rest_end = kept[index + 1].tick
    if plain or not long:
        del kept[index]
        index -= 1
    kept[index] = replace(
        kept[index], ticks=min(kept[index].ticks, max(_MIN_NOTE, rest_end - gap - kept[index].tick))
    )
