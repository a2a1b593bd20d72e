"""Each weight does what its description says: raised from low to high, it moves what one hears.

The statistics are taken from replies to the same calls with the same seeds; nothing else of the
style differs. Margins are small against what is seen (about a third of it), so that a change of
the soloist's taste does not break the law, and a weight that has no effect does.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import log
from statistics import fmean
from typing import Any

import pytest
from style_asking import BLUES, TUNES, TURN_BEATS, call_of, idiom_named, replies, turns

from jam.events import PlannedNote
from jam.harmony.keys import parse_key
from jam.idiom.classes import tempo_class
from jam.players.soloist.request import Memory, Reply, Story
from jam.review.line_measures import measure, phrases_of
from jam.styles.names import MOVES
from jam.styles.profile import Feel, Rhythm, Style

COUNT = 16
MANY = 48
"""Replies for each end of a weight; many where few notes show it."""

Statistic = Callable[[Sequence[Reply], Sequence[int]], float]
ALL = (0, 1, 2, 3)


def told(name: str) -> Statistic:
    """Return a measure of `jam compare` by its name."""
    return lambda found, tunes: measure(turns(found, tunes))[name]


def each(value: Callable[[PlannedNote], float]) -> Statistic:
    """Return the mean of a value over all notes."""
    return lambda found, tunes: fmean(value(note) for reply in found for note in reply.notes)


def moves(*names: str) -> Statistic:
    """Return the share of notes that such moves or figures gave."""
    return each(lambda note: float(note.move in names))


def off_beat_place(found: Sequence[Reply], tunes: Sequence[int]) -> float:
    """Return where off-beat eighths sound, in beats after their beat: swing makes it later."""
    places = [n.sounds_beat - n.beat for r in found for n in r.notes if n.beat % 1 == 0.5]
    return fmean(places)


def lateness(found: Sequence[Reply], tunes: Sequence[int]) -> float:
    """Return how far notes on the beat sound behind it, in beats."""
    return fmean(n.sounds_beat - n.beat for r in found for n in r.notes if n.beat % 1 == 0)


def straying(found: Sequence[Reply], tunes: Sequence[int]) -> float:
    """Return how far notes on the beat stray from their mean lateness, in beats."""
    late = [n.sounds_beat - n.beat for r in found for n in r.notes if n.beat % 1 == 0]
    middle = fmean(late)
    return fmean(abs(value - middle) for value in late)


def joined(found: Sequence[Reply], tunes: Sequence[int]) -> float:
    """Return the sounding share of the time to the next note, where it follows at once."""
    return fmean(
        a.sounds_beats / (b.sounds_beat - a.sounds_beat)
        for reply in found
        for a, b in pairwise(reply.notes)
        if abs(a.beat + a.beats - b.beat) < 0.01
    )


def holes(found: Sequence[Reply], tunes: Sequence[int]) -> float:
    """Return the share of a reply's span in which nothing sounds."""
    rows = []
    for reply in found:
        first, last = reply.notes[0], reply.notes[-1]
        span = last.beat + last.beats - first.beat
        rows.append(1.0 - sum(note.beats for note in reply.notes) / span)
    return fmean(rows)


def tail(found: Sequence[Reply], tunes: Sequence[int]) -> float:
    """Return the beats left at the end of the turn."""
    return fmean(32.0 - (r.notes[-1].beat + r.notes[-1].beats) for r in found)


def riffs(found: Sequence[Reply], tunes: Sequence[int]) -> float:
    """Return the share of replies that say one figure three times, by the reason in the log."""
    return fmean(any("riff" in note.why for note in reply.notes) for reply in found)


def onset(found: Sequence[Reply], tunes: Sequence[int]) -> float:
    """Return how many beats after the start of the turn the replies begin."""
    return fmean(reply.notes[0].beat - TURN_BEATS for reply in found)


def in_blue(note: PlannedNote) -> float:
    """Tell whether a note is b3, b5 or b7 of the key of the blues, and no tone of its chord."""
    step = (note.pitch - parse_key(TUNES[BLUES][0]).tonic) % 12
    return float(step in (3, 6, 10) and note.role in ("tension", "blue"))


def usual_beats(found: Sequence[Reply], tunes: Sequence[int]) -> float:
    """Return how usual each beat is after the two before it in the idiom, inside phrases."""
    idiom = idiom_named("mainstream")
    following = idiom.following[tempo_class(160.0)]
    number = {pattern: index for index, pattern in enumerate(idiom.patterns)}
    rows = []
    for reply in found:
        beats: dict[int, list[int]] = {}
        for note in reply.notes:
            beats.setdefault(int(note.beat // 1), []).append(round(note.beat % 1 * 12))
        filled = [number.get(tuple(beats.get(b, ())), 0) for b in range(min(beats), max(beats) + 1)]
        rows += [log(following[trio]) for trio in zip(filled, filled[1:], filled[2:], strict=False)]
    return fmean(rows)


def longest_beats(found: Sequence[Reply], tunes: Sequence[int]) -> float:
    """Return the mean of each reply's longest phrase, in beats: what one breath has to do."""
    longest = []
    for turn in turns(found, tunes):
        ends = [p[-1]["beat"] + p[-1]["beats"] - p[0]["beat"] for p in phrases_of(turn.notes)]
        longest.append(max(ends))
    return fmean(longest)


def of_the_call(found: Sequence[Reply], tunes: Sequence[int]) -> float:
    """Return the share of three-note shapes of a reply, intervals and gaps, that its call had."""
    rows = []
    for number, reply in enumerate(found):
        call = call_of(tunes[number % len(tunes)], number, 160.0).notes
        known = set(shapes([(n.pitch, n.beat) for n in call]))
        rows += [shape in known for shape in shapes([(n.pitch, n.beat) for n in reply.notes])]
    return fmean(rows)


def shapes(line: Sequence[tuple[int, float]]) -> list[tuple[int, ...]]:
    """Return the three-note shapes of (pitch, beat): two intervals and two gaps in twelfths."""
    steps = [(b[0] - a[0], round((b[1] - a[1]) * 12)) for a, b in pairwise(line)]
    return [(*a, *b) for a, b in pairwise(steps)]


def late_colour(found: Sequence[Reply], tunes: Sequence[int]) -> float:
    """Return how many more of the last third's notes are tensions than of the middle third's."""
    parts: tuple[list[bool], list[bool], list[bool]] = ([], [], [])
    for reply in found:
        for place, note in enumerate(reply.notes):
            parts[3 * place // len(reply.notes)].append(note.role == "tension")
    return fmean(parts[2]) - fmean(parts[1])


@dataclass(frozen=True)
class Law:
    """``key`` of a style, from ``low`` to ``high``, must raise ``statistic`` by ``margin``."""

    key: str
    statistic: Statistic
    margin: float
    low: Any = 0.0
    high: Any = 1.0
    tunes: tuple[int, ...] = ALL
    count: int = COUNT
    asked: Mapping[str, Any] = field(default_factory=dict)
    besides: Mapping[str, Any] = field(default_factory=dict)


def styled(law: Law, value: Any) -> Style:
    """Return the usual style with the law's key set to ``value``."""
    data: dict[str, Any] = {"name": "x", "about": "y"}
    for key, wanted in (*law.besides.items(), (law.key, value)):
        block = data
        *path, last = key.split(".")
        for step in path:
            block = block.setdefault(step, {})
        block[last] = wanted
    return Style.model_validate(data)


def seen(law: Law, value: Any) -> float:
    """Return the statistic with the key at ``value``."""
    style = styled(law, value)
    found = replies(style, law.count, tunes=law.tunes, **law.asked)
    return law.statistic(found, law.tunes)


ALONE = {"call": None}
"""Nothing to take up: the line is the style's own."""

EARLIER = {"memory": Memory(heard=tuple(call_of(0, 50 + n, 160.0) for n in range(3)))}
HIGH_UP = {"call": None, "story": Story(0.65, 1)}
"""The last third of a chorus."""

HORN = {"instrument.name": "trumpet"}
FREE = {f"idea.moves.{name}": 0.1 for name in MOVES} | {"idea.literal": 0.2, "idea.contrast": 1.0}
"""All other moves seldom, and the idea taken freely: one move stands out."""

SAID = [name for name in MOVES if name not in ("quote", "leave_space")]
"""Moves that give notes of their own by their weight; how often it quotes is `idea.quote`."""

LAWS = [
    Law("rhythm.density", told("notes a beat"), 0.5, 1.0, 2.6, asked=ALONE),
    Law("rhythm.triplets", told("beats in triplets"), 0.1, 0.0, 0.7, asked=ALONE),
    Law("rhythm.triplets", told("beats in triplets"), 0.02, 0.0, 0.7),
    Law("rhythm.sixteenths", told("beats in sixteenths"), 0.05, 0.0, 0.6, asked=ALONE),
    Law("rhythm.rests", holes, 0.02, 0.0, 0.5),
    Law("rhythm.start_off_beat", told("phrases begin off the beat"), 0.1),
    Law("rhythm.end_off_beat", told("phrases end off the beat"), 0.3),
    Law("rhythm.space", tail, 1.0, 0.0, 0.5),
    Law("rhythm.two_phrases", told("phrases in a reply"), 0.2),
    Law("rhythm.riffs", riffs, 0.3),
    Law("lines.arpeggios", told("thirds"), 0.03),
    Law("lines.scale", told("steps"), 0.03, count=MANY),
    Law("lines.approach", told("approach notes"), 0.015),
    Law("lines.tensions", told("tensions"), 0.05),
    Law("lines.altered", told("altered, on dominants"), 0.05, tunes=(0, 3)),
    Law("lines.blue", each(in_blue), 0.02, tunes=(BLUES,)),
    Law("lines.leaps", told("leaps"), 0.03),
    Law("lines.repeats", told("repeats"), 0.05),
    Law("lines.anticipations", told("anticipations"), 0.005, count=MANY),
    Law("lines.leaning", told("leaning notes"), 0.005, count=MANY),
    Law("feel.swing", off_beat_place, 0.01, 1.0, 2.0),
    Law("feel.late_ms", lateness, 0.01, 0.0, 40.0),
    Law("feel.scatter_ms", straying, 0.002, 0.0, 20.0, besides={"feel.human": 0.5}),
    Law("feel.human", straying, 0.015),
    Law("feel.legato", joined, 0.15, 0.4, 1.0),
    Law("feel.ghosts", each(lambda note: float(note.velocity < 60)), 0.05),
    Law("feel.falls", each(lambda note: float(note.bend == "fall")), 0.02, besides=HORN),
    Law("feel.scoops", each(lambda note: float(note.bend == "scoop")), 0.02, besides=HORN),
    Law("dynamics.level", each(lambda note: note.velocity), 10.0, 50, 100),
    Law("dynamics.accent", told("loudness, spread in a reply"), 8.0, 0, 40),
    Law(
        "dynamics.mirror",
        told("loudness"),
        10.0,
        besides={"dynamics.level": 60},
        asked={"velocity": 115},
    ),
    Law("instrument.breath_sec", longest_beats, 0.5, 2.0, 12.0),
    Law("instrument.low", told("lowest note of a reply"), 5.0, 45, 62),
    Law("instrument.high", told("highest note of a reply"), 5.0, 74, 95),
    Law("idea.literal", of_the_call, 0.02, count=MANY),
    Law("idea.quote", moves("quote"), 0.05, count=MANY, asked=EARLIER),
    Law("idea.contrast", moves("contrast"), 0.03, count=MANY, besides={"idea.moves.contrast": 1.0}),
    Law("idiom.rhythm", usual_beats, 0.05, asked=ALONE),
    Law("growth", told("notes a beat"), 0.05, asked=HIGH_UP),
    Law("growth", each(lambda note: note.pitch), 0.5, asked=HIGH_UP),
    Law("tension_curve", late_colour, 0.02, "arch", "rising", count=MANY),
    Law(
        "landing",
        told("landings on 7"),
        0.03,
        ["3", "1", "5", "7"],
        ["7", "3", "1", "5"],
        count=MANY,
    ),
    *(Law(f"idea.moves.{name}", moves(name), 0.01, besides=FREE) for name in SAID),
    Law("idea.moves.leave_space", onset, 0.1),
]


@pytest.mark.slow
@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.key)
def test_a_weight_does_what_it_says(law: Law) -> None:
    """Raised from low to high, it raises the statistic that its description names."""
    low, high = seen(law, law.low), seen(law, law.high)
    assert high - low >= law.margin, (low, high)


WISHES = ("triplets", "sixteenths", "rests", "start_off_beat", "end_off_beat", "two_phrases")


@pytest.mark.parametrize("name", WISHES)
def test_what_only_steers_is_told_as_a_wish(name: str) -> None:
    """An idea and the idiom have a say in it, so that no share can be promised."""
    assert str(Rhythm.model_fields[name].description).startswith("wish for ")
    assert str(Feel.model_fields["ghosts"].description).startswith("wish for ")
