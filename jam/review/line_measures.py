"""What replies are made of, in numbers: density, rests, intervals, roles, landings, range, moves.

All from the records of a log, as `jam.session.exchanges` gives them: a reply is its notes in order
of ``beat``, with ``beats``, ``pitch``, ``velocity``, ``degree``, ``role`` and ``move``. Shares run
from 0 to 1. Every measure is a part of a whole, and both add up over replies; a measure that
nothing was there for is nan.

A *phrase* ends where a rest of a beat or more follows. Intervals count inside phrases: repeats 0,
steps 1 or 2, thirds 3 or 4, leaps 5 semitones and more. A *landing* is the note that sounds across
a change of chord or else the first within a beat after it; its degree is that of the new chord.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import nan

from jam.harmony.chord import Chord
from jam.harmony.families import FAMILIES
from jam.log import Record

REST_BEATS = 1.0
_NEAR = 1e-4
_THIRDS = frozenset({"3", "b3"})
_SEVENTHS = frozenset({"7", "b7", "bb7"})
_ALTERED = frozenset({"b9", "#9", "b5", "#5", "b13"})
_ON_A_THIRD = (4, 8)
_ON_A_QUARTER = (3, 9)

Notes = Sequence[Record]
Measures = dict[str, float]
Share = tuple[float, float]
"""A part and its whole: notes that are tensions, and notes."""
Shares = dict[str, Share]


@dataclass(frozen=True)
class Turn:
    """A reply with its turn: its notes, where the turn begins and ends, the changes in it.

    ``changes`` are (beat, chord) in order, from the one that holds at the start on.
    """

    notes: tuple[Record, ...]
    start: float
    end: float
    changes: tuple[tuple[float, Chord], ...]


def measure(turns: Sequence[Turn]) -> Measures:
    """Return every measure by its name, in the order in which they are told."""
    each = [shares_of(turn) for turn in turns] or [shares_of(Turn((), 0.0, 0.0, ()))]
    return {name: ratio(*summed(shares[name] for shares in each)) for name in each[0]}


def shares_of(turn: Turn) -> Shares:
    """Return every measure of one reply as a part and its whole."""
    notes, phrases = turn.notes, phrases_of(turn.notes)
    lengths = sum(_length(phrase) for phrase in phrases)
    played = float(bool(notes))
    pitches = [note["pitch"] for note in notes] or [0]
    loud = [note["velocity"] for note in notes]
    return {
        "notes a beat": (len(notes), lengths),
        "phrase length, beats": (lengths, len(phrases)),
        "phrases in a reply": (len(phrases), played),
        "silent": (turn.end - turn.start - _sounding(turn), turn.end - turn.start),
        "phrases begin off the beat": _those(_off_beat(phrase[0]) for phrase in phrases),
        "phrases end off the beat": _those(_off_beat(phrase[-1]) for phrase in phrases),
        "beats in triplets": _beats_with(notes, _ON_A_THIRD),
        "beats in sixteenths": _beats_with(notes, _ON_A_QUARTER),
        **_intervals(phrases),
        **_colours(turn),
        **_landings(turn),
        "lowest note of a reply": (min(pitches), played),
        "highest note of a reply": (max(pitches), played),
        "loudness": (sum(loud), len(loud)),
        "loudness, spread in a reply": (_spread(loud), played),
    }


def moves_of(turns: Sequence[Turn]) -> Measures:
    """Return the share of notes that each move gave, the most first."""
    counts = Counter(str(note["move"]) for turn in turns for note in turn.notes)
    total = counts.total()
    return {move: count / total for move, count in sorted(counts.items(), key=_most_first)}


def move_share(turn: Turn, move: str) -> Share:
    """Return how many of a reply's notes a move gave, and how many there are."""
    return _those(note["move"] == move for note in turn.notes)


def summed(shares: Iterable[Share]) -> Share:
    """Return the sum of the parts and that of the wholes."""
    parts, wholes = zip((0.0, 0.0), *shares, strict=True)
    return sum(parts), sum(wholes)


def ratio(part: float, whole: float) -> float:
    """Return the part of the whole, nan where there is none."""
    return part / whole if whole else nan


def phrases_of(notes: Notes) -> list[Notes]:
    """Return ``notes`` cut where a rest of a beat or more follows."""
    found: list[list[Record]] = []
    for note in notes:
        if not found or note["beat"] - _end(found[-1][-1]) > REST_BEATS - _NEAR:
            found.append([])
        found[-1].append(note)
    return list(found)


def _most_first(item: tuple[str, int]) -> tuple[int, str]:
    return -item[1], item[0]


def _intervals(phrases: Iterable[Notes]) -> Shares:
    sizes = [
        abs(after["pitch"] - before["pitch"])
        for phrase in phrases
        for before, after in pairwise(phrase)
    ]
    return {
        "repeats": _those(size == 0 for size in sizes),
        "steps": _those(1 <= size <= 2 for size in sizes),
        "thirds": _those(3 <= size <= 4 for size in sizes),
        "leaps": _those(size >= 5 for size in sizes),
    }


def _colours(turn: Turn) -> Shares:
    def role(name: str) -> Share:
        return _those(note["role"] == name for note in turn.notes)

    dominant = [note for note in turn.notes if _is_dominant(_chord_at(turn, note["beat"]))]
    return {
        "chord tones": role("chord tone"),
        "tensions": role("tension"),
        "approach notes": role("approach"),
        "anticipations": role("anticipation"),
        "leaning notes": role("leaning"),
        "blue notes": role("blue"),
        "altered, on dominants": _those(
            note["role"] == "tension" and note["degree"] in _ALTERED for note in dominant
        ),
    }


def _landings(turn: Turn) -> Shares:
    degrees = landed_degrees(turn)
    found = [degree for degree in degrees if degree]
    return {
        "changes landed on": (len(found), len(degrees)),
        "landings on 3": _those(degree in _THIRDS for degree in found),
        "landings on 7": _those(degree in _SEVENTHS for degree in found),
        "landings on 1 or 5": _those(degree in ("1", "5") for degree in found),
    }


def landed_degrees(turn: Turn) -> list[str]:
    """Return the degree landed on at each change inside the reply, empty where there is none."""
    if not turn.notes:
        return []
    first, last = float(turn.notes[0]["beat"]), _end(turn.notes[-1])
    inside = [(beat, chord) for beat, chord in turn.changes if first < beat < last - _NEAR]
    return [_landed(turn.notes, beat, chord) for beat, chord in inside if not chord.is_none]


def _landed(notes: Notes, beat: float, chord: Chord) -> str:
    for note in notes:
        across = note["beat"] < beat - _NEAR and _end(note) > beat + _NEAR
        after = beat - _NEAR <= note["beat"] <= beat + 1.0 + _NEAR
        if across or after:
            return chord.degree(note["pitch"])
    return ""


def _chord_at(turn: Turn, beat: float) -> Chord:
    before = [chord for since, chord in turn.changes if since <= beat + _NEAR]
    return before[-1] if before else turn.changes[0][1]


def _is_dominant(chord: Chord) -> bool:
    family = FAMILIES.get(chord.family)
    return family is not None and family.kind == "dominant"


def _sounding(turn: Turn) -> float:
    """Return the beats of the turn in which a note sounds."""
    inside = (min(_end(n), turn.end) - max(float(n["beat"]), turn.start) for n in turn.notes)
    return sum(max(0.0, beats) for beats in inside)


def _beats_with(notes: Notes, places: Sequence[int]) -> Share:
    """Return how many beats have a note on such a twelfth of a beat, of those with notes."""
    beats = {int(note["beat"] // 1) for note in notes}
    with_them = {int(note["beat"] // 1) for note in notes if _twelfth(note) in places}
    return len(with_them), len(beats)


def _off_beat(note: Record) -> bool:
    return _twelfth(note) != 0


def _twelfth(note: Record) -> int:
    """Return the place in the beat, in twelfths of it."""
    return round(float(note["beat"]) % 1 * 12) % 12


def _end(note: Record) -> float:
    return float(note["beat"] + note["beats"])


def _length(phrase: Notes) -> float:
    return _end(phrase[-1]) - float(phrase[0]["beat"])


def _those(true: Iterable[bool]) -> Share:
    found = list(true)
    return sum(found), len(found)


def _spread(values: Sequence[float]) -> float:
    """Return half of what lies between the tenth and the ninetieth of a hundred."""
    if not values:
        return 0.0
    ordered = sorted(values)
    tenth = len(ordered) // 10
    return (ordered[-1 - tenth] - ordered[tenth]) / 2.0
