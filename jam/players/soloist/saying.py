"""How an idea is said, and said again: its moves drawn by the style's weights, within the range.

A weight of zero means never. Steps are semitones, notes are counted.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from jam.players.soloist import moves
from jam.players.soloist.chances import pick, pick_by
from jam.players.soloist.manner import Manner, at_tempo
from jam.players.soloist.request import Request
from jam.players.soloist.slots import folded
from jam.players.soloist.statement import Statement
from jam.styles.names import USUAL_MOVES

_LONG = 7
_AGAIN = (0.35, 0.45, 0.2)
"""How often an idea is said once, twice and three times in a row."""

_VARIED = 0.5
"""How often it is changed a little when it is said again."""

COMES_BACK = 0.75
"""How often the second phrase of a reply begins with the idea again."""

_STEPS = (-5, -4, -2, -1, 1, 2, 3, 5)
_LIKELY_STEPS = (0.09, 0.12, 0.22, 0.12, 0.12, 0.16, 0.1, 0.07)
"""Where a sequence goes, in semitones: steps and thirds, and by the cycle."""

_BARER = 0.75
"""With fewer notes wanted than this share of the idea's, some of them are left out."""

_RIFF, _RIFF_TIMES = 90, 2
"""What bending an interval of a riff costs, that stays while the chords move on; and how often it
is said again."""

_ANSWERS = 0.35
"""How often a reply with an end of its own kind ends with the head of the question."""

_FEWEST, _TELLING = 4, 5
"""No idea is thinned to fewer notes; one of so many, said whole, would be a copy."""

_ROLLS = 0.25
"""A style with a larger share of triplets than this puts ideas into triplets."""

_REGISTERS = (-12, -7, 7, 12)
"""Where the opposite of an idea is said, in semitones from it."""

_Way = tuple[float, Callable[[], Statement | None]]
"""The share of a way to say an idea, and what it makes of it (None: nothing that can be played)."""

_MARGIN = 4


def first_saying(
    request: Request, idea: Statement, manner: Manner, rng: np.random.Generator
) -> Statement | None:
    """Draw how the idea is first said: so that it is known again, nearly always; None where the
    style leaves no way."""
    inside = _within_range(request, idea)
    said = _first(request, inside, manner, rng) or said_again(request, inside, rng)
    return None if said is None else _within_range(request, said)


def _first(
    request: Request, idea: Statement, manner: Manner, rng: np.random.Generator
) -> Statement | None:
    if idea.move == "quote":
        return idea
    style = request.style.idea
    if manner.contrary and rng.random() < style.moves["contrast"] / USUAL_MOVES["contrast"]:
        return moves.contrast(idea, _shift(request, idea, _REGISTERS, (1.0,) * 4, rng))
    said = _one_of(_ways(request, idea, manner, rng), rng)
    if said is None:
        return None
    wanted = round(len(said) * _more(request, manner))
    return moves.thin(said, max(_FEWEST, wanted)) if wanted < _BARER * len(said) else said


def _ways(
    request: Request, idea: Statement, manner: Manner, rng: np.random.Generator
) -> list[_Way]:
    """Return the ways of saying an idea first, each with its share."""
    weights, literal = request.style.idea.moves, request.style.idea.literal
    long = len(idea) > _LONG
    far = 0.2 * (1.2 - literal)
    keep = int(rng.integers(5, 9))
    kept = keep if long else _all_but_a_copy(request, idea)
    rolls = 2.0 * max(0.0, request.style.rhythm.triplets - _ROLLS)
    short = idea.part(0, min(len(idea), _LONG))
    ways: list[tuple[str, float, Callable[[], Statement | None]]] = [
        ("restate", 1.0 + literal, lambda: moves.restate(idea, kept)),
        ("same_rhythm", 1.0 if long else 0.35, lambda: moves.same_rhythm(idea)),
        ("fragment", 0.5 if long else 0.1, lambda: moves.fragment(idea, keep)),
        ("extend", 0.0 if long else 0.4, lambda: moves.extend(idea, int(rng.integers(1, 4)))),
        ("displace", far, lambda: moves.displace(short, pick((-12, -6, 6, 12), rng))),
        ("interpolate", far, lambda: moves.interpolate(short)),
        ("invert", far, lambda: moves.invert(short)),
        ("retrograde", 2.0 * far, lambda: moves.retrograde(short)),
        ("augment", 2.0 * far, lambda: moves.augment(idea.part(0, min(len(idea), 5)))),
        ("diminish", far, lambda: moves.diminish(short)),
        ("same_pitches", far + rolls, lambda: _in_another_rhythm(short, rolls, rng)),
    ]
    fuller = _fuller(request, manner)
    return [(share * weights[name] * fuller.get(name, 1.0), say) for name, share, say in ways]


def _all_but_a_copy(request: Request, idea: Statement) -> int | None:
    """Return how many notes of a short idea are kept, None for all: the whole call leaves its end
    free, so that it is not said back note for note."""
    whole = request.call is not None and len(idea) == len(request.call.notes)
    return len(idea) - 1 if whole and len(idea) >= _TELLING else None


def _one_of(ways: Sequence[_Way], rng: np.random.Generator) -> Statement | None:
    """Draw one of the ways by their shares; what cannot be played is said in the first way, if that
    has a share, else in another; None where there is none."""
    shares = [share for share, _ in ways]
    while any(shares):
        chosen = pick_by(range(len(ways)), shares, rng)
        said = ways[chosen][1]()
        if said is None and shares[0]:
            said = ways[0][1]()
        if said is not None:
            return said
        shares[chosen] = 0.0
    return None


def _more(request: Request, manner: Manner) -> float:
    """Return how many notes are wanted for each of the call's, 1/4 to 4."""
    call = request.call
    if call is None or not call.density:
        return 1.0
    wanted = request.style.rhythm.density * manner.density * at_tempo(request.bpm)
    return min(4.0, max(0.25, wanted / call.density))


def _fuller(request: Request, manner: Manner) -> dict[str, float]:
    """Return how much likelier some moves are, where a reply is to be fuller or barer than the
    call."""
    more = _more(request, manner) ** 2
    barer = dict.fromkeys(("augment", "fragment"), 1.0 / more)
    return {**barer, **dict.fromkeys(("diminish", "interpolate", "extend"), more)}


def answered(
    request: Request, idea: Statement, manner: Manner, rng: np.random.Generator
) -> Statement | None:
    """Draw whether the reply ends with the question itself and another end, and return its head."""
    likely = _ANSWERS * request.style.idea.moves["answer"]
    if manner.ends is None or rng.random() >= likely:
        return None
    head = _within_range(request, idea.part(0, min(len(idea), _LONG)))
    return moves.answer(head, closed=manner.ends == "closed")


def _in_another_rhythm(idea: Statement, rolls: float, rng: np.random.Generator) -> Statement:
    if rng.random() < rolls:
        return replace(moves.same_pitches(idea, (4, 4, 4)), phase=0)
    gaps = ((6, 6), (12, 6, 6), (4, 4, 4), (6, 12, 6), (9, 3))[int(rng.integers(5))]
    return moves.same_pitches(idea, gaps)


def said_after(
    request: Request, first: Statement, rng: np.random.Generator, *, more: bool
) -> list[Statement]:
    """Return what is said of the idea right after it: of a long one only its head."""
    long = len(first) > _LONG + 1
    said = moves.fragment(first, int(rng.integers(4, 7))) if long else first
    if more and said.firm and rng.random() < request.style.rhythm.riffs:
        return [replace(said, note="the same riff", tonal=False, firm=_RIFF)] * _RIFF_TIMES
    count = int(rng.random() < COMES_BACK) if long else pick_by((0, 1, 2), _AGAIN, rng)
    return _times(count if more else min(count, 1), request, said, rng)


def _times(
    count: int, request: Request, first: Statement, rng: np.random.Generator
) -> list[Statement]:
    """Say it again and again; a sequence goes on from where the last one stood."""
    found: list[Statement] = []
    base, way = first, 0
    for _ in range(count):
        said = said_again(request, base, rng, way)
        if said is None:
            break
        found.append(said)
        if said.move in moves.SEQUENCES and said.start is not None and base.start is not None:
            way = 1 if said.start > base.start else -1
            base = replace(base, start=said.start)
    return found


def said_again(
    request: Request, first: Statement, rng: np.random.Generator, way: int = 0
) -> Statement | None:
    """Return the idea said again: moved, as a rule changed a little, sometimes a part of it; None
    where the style leaves no way. ``way`` is -1 or 1 where it is to go on down or up."""
    weights = request.style.idea.moves
    named = ("sequence", "real_sequence", "fragment", "displace")
    shares = [weights[n] * s for n, s in zip(named, (1.0, 0.6, 0.3, 0.2), strict=True)]
    if not any(shares):
        return None
    name = pick_by(named, shares, rng)
    likely = [like * (step * way >= 0) for step, like in zip(_STEPS, _LIKELY_STEPS, strict=True)]
    step = _shift(request, first, _STEPS, likely, rng)
    said = moves.sequence(first.part(0, min(len(first), 10)), step, real=name == "real_sequence")
    if name == "fragment":
        said = replace(moves.fragment(said, 4, tail=rng.random() < 0.5), tonal=True)
    elif name == "displace":
        said = moves.displace(said, pick((-6, 6), rng))
    said = moves.vary(said, rng) if rng.random() < _VARIED else said
    return _within_range(request, said)


# --- where it begins -------------------------------------------------------------------------


def _within_range(request: Request, said: Statement) -> Statement:
    """Return it moved by octaves until its first note lies within the range."""
    if said.start is None:
        return said
    pitch = folded(said.start, *_bounds(request))
    return said if pitch == said.start else replace(said, start=pitch)


def _bounds(request: Request) -> tuple[int, int]:
    """Return where an idea may begin: not at the edge of the range, but on every pitch class."""
    low, high = request.style.instrument.low, request.style.instrument.high
    margin = min(_MARGIN, (high - low - 11) // 2)
    return low + margin, high - margin


def _shift(
    request: Request,
    said: Statement,
    shifts: Sequence[int],
    likes: Sequence[float],
    rng: np.random.Generator,
) -> int:
    """Draw by how many semitones it is moved: it begins within the range where one of them fits."""
    low, high = _bounds(request)
    fits = [said.start is None or low <= said.start + shift <= high for shift in shifts]
    kept = [like * fit for like, fit in zip(likes, fits, strict=True)]
    if not any(kept):
        kept = [float(fit) for fit in fits] if any(fits) else list(likes)
    return pick_by(shifts, kept, rng)
