"""How a turn is divided into phrases: where each begins and ends, and on what note it closes.

Ticks are twelfths of a beat.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from jam.idiom.classes import tempo_class
from jam.idiom.plain import plain_idiom
from jam.players.soloist.chances import pick, pick_by
from jam.players.soloist.chord_tables import sounding
from jam.players.soloist.form import Form
from jam.players.soloist.landings import Landing, landings
from jam.players.soloist.lattice import Floats
from jam.players.soloist.manner import Ending
from jam.players.soloist.request import Request
from jam.players.soloist.slots import CLOSES, TICKS, Slot, pulse_ticks, to_ticks

_HALF = TICKS // 2
MIN_NOTE = 2
_STAYS = 1000
_OVER = 0.3
"""How often a reply that leaves no space closes over the bar line, on the next downbeat."""

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
class Phrase:
    """First and last onset of one phrase, in ticks."""

    begin: int
    end: int


def phrases_in(
    request: Request, frame: Frame, form: Form, rng: np.random.Generator
) -> list[Phrase]:
    """Return the phrases that fill the turn but for the space left at its end.

    They are as long, one against another, as people's are, with rests between them like people's.
    """
    style = request.style.rhythm
    rest_beats, phrase_beats = _usual_lengths(request)
    begin = _begin(request, frame, form, rng)
    space = style.space * float(rng.uniform(0.5, 2.2)) * (frame.end - frame.start)
    over = frame.latest > frame.end + MIN_NOTE and rng.random() < _OVER * (1.0 - 3.0 * style.space)
    end = frame.end if over else max(begin + _HALF, frame.end - int(space))
    room = (end - begin) / TICKS
    chances = max(0, round(room / _PHRASE_BEATS) - 1)
    count = 1 + int((rng.random(chances) < style.two_phrases).sum())
    rests = _quantiles(rest_beats, rng.uniform(0.3, 0.95, count - 1))
    rests = [min(max(rest, 1.25), 0.3 * room) for rest in rests]
    parts = _quantiles(phrase_beats, rng.uniform(0.25, 0.9, count))
    parts = [max(part, 0.3 * max(parts)) for part in parts]
    each = (room - sum(rests)) / sum(parts)
    found: list[Phrase] = []
    tick = begin
    for number, part in enumerate(parts):
        stop = min(end, tick + int(part * each * TICKS))
        found.append(Phrase(tick, max(stop, tick + _HALF)))
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


def closing(
    request: Request,
    frame: Frame,
    phrase: Phrase,
    ends: Ending | None,
    rng: np.random.Generator,
    *,
    final: bool,
) -> Slot:
    """Return the last note of a phrase: off the beat or on it, as often as the style says."""
    off = rng.random() < _OFF_AT_END.get(ends, request.style.rhythm.end_off_beat)
    latest = frame.latest - MIN_NOTE if final else phrase.end
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
    return Slot(tick, max(MIN_NOTE, min(length, room)), "close", CLOSES, firm=_STAYS)


def _off_mark(request: Request, tick: int, end: int, ends: Ending | None) -> int:
    """Return how ill a place suits a last note: ticks from ``end``, more on a chord that wants to
    go on where the reply is to come to rest."""
    if ends != "closed":
        return abs(tick - end)
    restless = sounding(request.changes, tick / TICKS).chord.kind not in ("major", "minor")
    return abs(tick - end) + (TICKS + _HALF if restless else 0)


def _quantiles(row: Floats, shares: Floats) -> list[float]:
    """Return the value of a row of evenly spaced quantiles at each share (0 to 1, below 1)."""
    values = row.tolist()
    found = []
    for share in shares.tolist():
        index, part = divmod(share * (len(values) - 1), 1.0)
        low, high = values[int(index) : int(index) + 2]
        found.append(low + part * (high - low))
    return found
