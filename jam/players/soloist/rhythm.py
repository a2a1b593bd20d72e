"""The rhythm of a reply: when its phrases begin and end, what is said in them, what fills them.

The plan satisfies, before any pitch is chosen, what the hard rules ask of time: the window of the
turn (H4), a note near enough structural changes (H1), and the breath (H5). Ticks are twelfths of a
beat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil

import numpy as np

from jam.idiom.classes import tempo_class
from jam.idiom.plain import plain_idiom
from jam.players.soloist import moves
from jam.players.soloist.beats import BeatChain
from jam.players.soloist.breath import with_landings, within_breath
from jam.players.soloist.chances import pick, pick_by
from jam.players.soloist.chord_tables import sounding
from jam.players.soloist.form import Form
from jam.players.soloist.landings import Landing, landings
from jam.players.soloist.lattice import Floats
from jam.players.soloist.manner import Ending
from jam.players.soloist.request import Request
from jam.players.soloist.slots import TICKS, Slot, in_line, pulse_ticks, to_ticks
from jam.players.soloist.statement import Statement

_HALF = TICKS // 2
_MIN_NOTE = 2
_STAYS = 1000
_OVER = 0.3
"""How often a reply that leaves no space closes over the bar line, on the next downbeat."""

_LEAST_BEFORE = 4
"""So many notes of the first saying stay before the question is answered."""

_QUICKEST, _RUNNING = 1 / 20, 4 / 15
"""Seconds that two notes, and five in a row, lie apart at least: hands and tongues run at fifteen
notes a second at most (sixteenths at 225 bpm; common practice)."""

_KEEPS_PLACE, _LITERAL_KEEPS = 0.2, 0.3
"""How often an idea keeps its place in the beat against a style's wish to begin off it or on it:
always so often, and so much oftener for a style that takes all literally."""

_IN_PLACE = 3.0
"""How much likelier a reply begins at the place in the bar where the idea was said."""

_PHRASE_BEATS = 6.5
"""A turn may hold a phrase for every so many beats."""

_OFF_AT_END: dict[Ending | None, float] = {"closed": 0.3, "open": 0.8}
_LAST_LENGTHS: dict[Ending | None, tuple[int, ...]] = {
    "closed": (TICKS, TICKS + _HALF, 2 * TICKS, 2 * TICKS),
    "open": (4, _HALF, _HALF, TICKS),
    None: (4, _HALF, _HALF, TICKS, TICKS, TICKS + _HALF, 2 * TICKS),
}
"""How often a reply ends off the beat, and how long its last note is, by how it is to end."""

CLOSE_GROUP = 900


@dataclass(frozen=True)
class Frame:
    """The window in ticks, with its landings; ``beat`` is the distance of places on the beat."""

    start: int
    end: int
    earliest: int
    latest: int
    beat: int
    bar: int
    landings: tuple[Landing, ...]

    @classmethod
    def of(cls, request: Request) -> Frame:
        """Return the window of a request."""
        window = request.window
        return cls(
            to_ticks(window.start),
            to_ticks(window.end),
            to_ticks(window.earliest),
            to_ticks(window.latest),
            pulse_ticks(request.pulse_beats),
            to_ticks(request.bars.bar_beats),
            tuple(landings(request)),
        )


@dataclass(frozen=True)
class _Phrase:
    """First and last onset of one phrase, in ticks."""

    begin: int
    end: int


def plan_rhythm(
    request: Request, form: Form, rng: np.random.Generator, frame: Frame | None = None
) -> list[Slot]:
    """Return the slots of one candidate reply, in order; at least one.

    ``frame`` saves working it out again for each candidate.
    """
    frame = frame or Frame.of(request)
    chain = BeatChain(request, form.manner.density, rng)
    slots: list[Slot] = []
    group = 0
    phrases = _phrases(request, frame, form, rng)
    for number, phrase in enumerate(phrases):
        said = form.openings[number] if number < len(form.openings) else ()
        placed = _said(request, frame, phrase, said, group, rng)
        group += len(said)
        final = number == len(phrases) - 1
        ends = form.manner.ends if final else None
        last = _closing(request, frame, phrase, ends, rng, final=final)
        if final and form.answer is not None:
            placed, last = _with_answer(form.answer, placed, last, phrase, group)
        placed = [s for s in placed if s.tick < last.tick - _MIN_NOTE]
        fill = _filled(frame, chain, phrase, placed, last.tick, 100 + 100 * number)
        slots += [*placed, *fill, replace(last, group=CLOSE_GROUP + number)]
    line = _lengthened(_playable(in_line(slots), request.bpm), rng)
    line = with_landings(line, frame.landings, rng)
    return within_breath(line, request, marks=frame.landings)


# --- phrases -----------------------------------------------------------------------------


def _phrases(request: Request, frame: Frame, form: Form, rng: np.random.Generator) -> list[_Phrase]:
    """Return the phrases that fill the turn but for the space left at its end.

    They are as long, one against another, as people's are, with rests between them like people's.
    """
    style = request.style.rhythm
    rest_beats, phrase_beats = _usual_lengths(request)
    begin = _begin(request, frame, form, rng)
    space = style.space * float(rng.uniform(0.5, 2.2)) * (frame.end - frame.start)
    over = frame.latest > frame.end + _MIN_NOTE and rng.random() < _OVER * (1.0 - 3.0 * style.space)
    end = frame.end if over else max(begin + _HALF, frame.end - int(space))
    room = (end - begin) / TICKS
    chances = max(0, round(room / _PHRASE_BEATS) - 1)
    count = 1 + int((rng.random(chances) < style.two_phrases).sum())
    rests = _quantiles(rest_beats, rng.uniform(0.3, 0.95, count - 1))
    rests = [min(max(rest, 1.25), 0.3 * room) for rest in rests]
    parts = _quantiles(phrase_beats, rng.uniform(0.25, 0.9, count))
    parts = [max(part, 0.3 * max(parts)) for part in parts]
    each = (room - sum(rests)) / sum(parts)
    found: list[_Phrase] = []
    tick = begin
    for number, part in enumerate(parts):
        stop = min(end, tick + int(part * each * TICKS))
        found.append(_Phrase(tick, max(stop, tick + _HALF)))
        if number < count - 1:
            tick = _off_or_on(stop + int(rests[number] * TICKS), style.start_off_beat, rng)
    return found


def _usual_lengths(request: Request) -> tuple[Floats, Floats]:
    """Return the quantiles of rests and of phrases, in beats: the idiom's, as far as it counts."""
    own, plain, tempo = request.idiom, plain_idiom(), tempo_class(request.bpm)
    weight = request.style.idiom.rhythm
    rests = weight * own.rest_beats[tempo] + (1.0 - weight) * plain.rest_beats[tempo]
    phrases = weight * own.phrase_beats[tempo] + (1.0 - weight) * plain.phrase_beats[tempo]
    return rests, phrases


def _begin(request: Request, frame: Frame, form: Form, rng: np.random.Generator) -> int:
    """Return where the first note falls: off the beat as often as the style says."""
    if request.prompt:
        return max(frame.earliest, frame.start)
    phase = form.phase
    off = rng.random() < request.style.rhythm.start_off_beat
    heard = request.call is not None and bool(request.call.cells)
    if heard and phase is not None and off != (phase % frame.beat != 0):
        stays = _KEEPS_PLACE + _LITERAL_KEEPS * request.style.idea.literal
        phase = phase if rng.random() < stays else None
    late = TICKS * form.manner.later_beats
    places = [
        tick
        for tick in range(
            frame.earliest, frame.start + min(TICKS + int(late), (frame.end - frame.start) // 3) + 1
        )
        if (tick % _HALF == 0 and phase is None) or (phase is not None and not (tick - phase) % 12)
    ] or [max(frame.earliest, frame.start)]
    said_at = frame.bar if phase is None else phase % frame.bar
    likes = [
        (_IN_PLACE if (tick - frame.start) % frame.bar == said_at else 1.0)
        * (1.0 if (tick % frame.beat != 0) == off or phase is not None else 0.08)
        * (0.7 if tick < frame.start else 1.0)
        * 2.0 ** (-abs(tick - frame.start - _HALF - late) / 9.0)
        for tick in places
    ]
    return pick_by(places, likes, rng)


def _off_or_on(tick: int, off_share: float, rng: np.random.Generator) -> int:
    beat = tick - tick % TICKS
    return beat + _HALF if rng.random() < off_share else beat


def _closing(
    request: Request,
    frame: Frame,
    phrase: _Phrase,
    ends: Ending | None,
    rng: np.random.Generator,
    *,
    final: bool,
) -> Slot:
    """Return the last note of a phrase: off the beat or on it, as often as the style says."""
    off = rng.random() < _OFF_AT_END.get(ends, request.style.rhythm.end_off_beat)
    latest = frame.latest - _MIN_NOTE if final else phrase.end
    places = [
        tick
        for tick in range(phrase.begin + _HALF, min(phrase.end + TICKS, latest) + 1)
        if tick % _HALF == 0 and (tick % frame.beat != 0) == off
    ] or [max(phrase.begin, min(phrase.end, latest))]
    if final and phrase.end == frame.end <= latest:
        places = [frame.end]
    tick = min(places, key=lambda place: (_off_mark(request, place, phrase.end, ends), place))
    length = pick(_LAST_LENGTHS[ends], rng)
    room = frame.latest - tick
    return Slot(tick, max(_MIN_NOTE, min(length, room)), "close", CLOSE_GROUP, firm=_STAYS)


def _off_mark(request: Request, tick: int, end: int, ends: Ending | None) -> int:
    """Return how ill a place suits a last note: ticks from ``end``, more on a chord that wants to
    go on where the reply is to come to rest."""
    restless = sounding(request.changes, tick / TICKS).chord.kind not in ("major", "minor")
    return abs(tick - end) + (TICKS + _HALF if restless and ends == "closed" else 0)


# --- what is said and what fills ------------------------------------------------------------


def _said(
    request: Request,
    frame: Frame,
    phrase: _Phrase,
    statements: Sequence[Statement],
    group: int,
    rng: np.random.Generator,
) -> list[Slot]:
    """Return the slots of the statements at the start of a phrase, one after another."""
    slots: list[Slot] = []
    tick = phrase.begin
    for number, statement in enumerate(statements):
        if number and (tick + statement.onsets[-1] > phrase.end or tick > phrase.end - TICKS):
            break
        said = _where_said(frame, tick, statement)
        slots += [s for s in said.at(tick, group + number) if s.tick <= phrase.end]
        after = statements[number + 1] if number + 1 < len(statements) else None
        tick = _next_place(frame, tick, statement, after, rng)
    return slots


def _with_answer(
    answer: Statement, placed: list[Slot], last: Slot, phrase: _Phrase, group: int
) -> tuple[list[Slot], Slot]:
    """Return what is said with the head of the question before the last note, if it finds room."""
    gap = answer.onsets[-1] - answer.onsets[-2] if len(answer) > 1 else TICKS
    begin = last.tick - answer.onsets[-1] - max(_HALF, min(gap, 2 * TICKS))
    begin -= (begin - answer.phase) % _HALF
    before = [slot for slot in placed if slot.end <= begin]
    if begin < phrase.begin or (placed and len(before) < min(len(placed), _LEAST_BEFORE)):
        return placed, last
    head = _where_it_lies(answer, begin)
    return [*before, *head.at(begin, group)], replace(last, move="answer", why=answer.note)


def _where_it_lies(said: Statement, tick: int) -> Statement:
    """Return a statement without the player's own timing where it lies elsewhere in the beat."""
    return replace(said, lates=()) if (tick - said.said_at) % TICKS else said


def _where_said(frame: Frame, tick: int, statement: Statement) -> Statement:
    """Return a statement with the words for where it has come to lie, if not in its place."""
    later = (tick - statement.said_at + frame.bar // 2) % frame.bar - frame.bar // 2
    if statement.move == "displace":
        return replace(statement, note=moves.displaced_words(later))
    if not later % TICKS:
        return statement
    note = statement.note + moves.OFF_ITS_BEAT if statement.firm else statement.note
    return replace(statement, note=note, lates=())


def _next_place(
    frame: Frame, tick: int, said: Statement, after: Statement | None, rng: np.random.Generator
) -> int:
    """The next statement follows at once, or after as long as the chords take to change; a
    displaced one after whole beats and what it is displaced by."""
    least = tick + said.onsets[-1] + max(_HALF, min(said.lengths[-1], TICKS))
    soon = -(-least // _HALF) * _HALF
    same = tick + -(-(least - tick) // TICKS) * TICKS
    if after is not None and after.move == "displace":
        moved = (after.phase - said.phase) % TICKS
        return same - TICKS + moved if same - TICKS + moved >= least else same + moved
    changes = [mark.first_tick for mark in frame.landings]
    anchor = max((change for change in changes if change <= tick + TICKS), default=tick)
    by_chord = next((c + tick - anchor for c in changes if c + tick - anchor >= least), same)
    if by_chord - least > frame.bar:
        by_chord = same
    return pick_by((soon, same, by_chord), (0.25, 0.45, 0.3), rng)


def _filled(
    frame: Frame,
    chain: BeatChain,
    phrase: _Phrase,
    said: Sequence[Slot],
    last: int,
    group: int,
) -> list[Slot]:
    """Return the slots of a phrase that no statement takes, beat after beat."""
    taken = _taken(said)
    slots: list[Slot] = []
    beat = phrase.begin - phrase.begin % frame.beat
    run = 0
    chain.begin()
    while beat < last:
        inside = [slot.tick - beat for slot in said if beat <= slot.tick < beat + frame.beat]
        gap_from = max((end for tick, end in taken if tick < beat + frame.beat), default=0)
        gap_to = min((tick for tick, _ in taken if tick >= beat + frame.beat), default=last)
        if inside:
            chain.heard(inside)
            places = [p for p in chain.draw() if beat + p >= gap_from] if gap_to > gap_from else []
            run += 1
        else:
            places = list(chain.draw())
            chain.heard(places)
        for place in places:
            tick = beat + place
            free = phrase.begin <= tick <= last - _MIN_NOTE - 1
            if free and tick >= gap_from and not any(a - 3 < tick < b for a, b in taken):
                slots.append(Slot(tick, TICKS, "run", group + run, len(slots)))
        beat += frame.beat
    if not said and phrase.begin < last and not any(s.tick == phrase.begin for s in slots):
        slots.insert(0, Slot(phrase.begin, _HALF, "run", group, 0))
    return slots


def _taken(said: Sequence[Slot]) -> list[tuple[int, int]]:
    """Return from and to of each statement: nothing else is put between its notes."""
    found: dict[int, tuple[int, int]] = {}
    for slot in said:
        begin, _ = found.get(slot.group, (slot.tick, 0))
        found[slot.group] = (begin, max(slot.end, slot.tick + _MIN_NOTE))
    return list(found.values())


def _playable(slots: Sequence[Slot], bpm: float) -> list[Slot]:
    """Return the slots without those that come sooner after the others than hands can play."""
    least, least_of_all = (ceil(sec * bpm / 60.0 * TICKS - 1e-6) for sec in (_QUICKEST, _RUNNING))
    found: list[Slot] = []
    for slot in slots:
        soon = bool(found) and slot.tick - found[-1].tick < least
        soon = soon or (len(found) > 3 and slot.tick - found[-4].tick < least_of_all)
        if soon and slot.firm <= found[-1].firm:
            continue
        if soon:
            found.pop()
        found.append(slot)
    return found


def _lengthened(slots: Sequence[Slot], rng: np.random.Generator) -> list[Slot]:
    """Return the slots with the lengths that people give notes: joined, or let go before a rest."""
    found = []
    for slot, following in zip(slots, [*slots[1:], None], strict=True):
        if following is None or slot.group >= CLOSE_GROUP or slot.move not in ("run",):
            found.append(slot)
            continue
        gap = following.tick - slot.tick
        if gap <= TICKS:
            ticks = gap
        elif gap <= 2 * TICKS:
            ticks = gap if rng.random() < 0.5 else TICKS
        else:
            ticks = pick((_HALF, TICKS, TICKS + _HALF, 2 * TICKS), rng)
        found.append(slot.lasting(ticks))
    return found


def _quantiles(row: Floats, shares: Floats) -> list[float]:
    """Return the value of a row of evenly spaced quantiles at each share (0 to 1, below 1)."""
    values = row.tolist()
    found = []
    for share in shares.tolist():
        index, part = divmod(share * (len(values) - 1), 1.0)
        low, high = values[int(index) : int(index) + 2]
        found.append(low + part * (high - low))
    return found
