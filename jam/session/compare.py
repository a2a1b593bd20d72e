"""Two reply styles side by side: what differs in what they play to the same calls?

A stand-in player plays the same turns of the same tune to both (`jam.session.demo`), and the logs
of the two sessions are measured. Nothing is taken from inside the soloist: what is told is what
was played.

A row is marked where the two differ by more than chance makes in 19 rows of 20: the answers to
each call are exchanged between the two by the toss of a coin, many times over
(`jam.review.chance`), so that a style against itself with another seed is marked in 1 row of 20.
Unasked, the tune is played for `BARS` bars or more: some 20 answers of each in turns of four.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, isnan
from pathlib import Path

import numpy as np

from jam.errors import InputError
from jam.harmony.keys import parse_key
from jam.harmony.spelling import spell
from jam.log import Log
from jam.review.chance import Swaps, chance, swaps
from jam.review.line_measures import (
    Share,
    Shares,
    Turn,
    move_share,
    moves_of,
    ratio,
    shares_of,
    summed,
)
from jam.session.asked import CHART
from jam.session.demo import demo, unkept
from jam.session.exchanges import Reply, chord_named, replies_of
from jam.session.heard import last_chords
from jam.session.options import DemoOptions
from jam.session.resources import find_chart, find_style
from jam.styles.profile import Style

WIDTH = 80
BARS = 160
MARKED = 0.05
"""The largest chance at which a row is marked."""
_NAME, _VALUE = 30, 14
_PLACES = ("first", "second")
_MOST_MOVES = 8
_PITCHES = frozenset({"lowest note of a reply", "highest note of a reply"})
_PLAIN = frozenset({"notes a beat", "phrase length, beats", "phrases in a reply"})
_LOUD = frozenset({"loudness", "loudness, spread in a reply"})
_LEGEND = "marked: more than chance makes in 19 rows of 20 (so one or two may be chance)"
_TOSSES = 11
"""The stream of random numbers of the tosses, apart from all others of the same seed."""
_FLATS = parse_key("Ab major")


@dataclass(frozen=True)
class CompareOptions:
    """Everything `jam compare` can be told.

    ``choruses`` None is as many as make `BARS`; ``wav`` is a folder to keep both sessions in.
    """

    styles: tuple[str, str]
    chart: str | None = None
    seed: int = 1
    choruses: int | None = None
    wav: Path | None = None
    home: Path | None = None


def compare(options: CompareOptions) -> str:
    """Play the tune with both styles and return the table; raises InputError."""
    styles = [find_style(name, options.home).value for name in options.styles]
    return table(styles, _played(options))


def turns_of(log: Log) -> list[Turn]:
    """Return the companion's replies with their turns and the changes in them."""
    changes = [(b, chord_named(str(c["symbol"]))) for b, c in last_chords(log.records).items()]
    taken = [
        (float(turn["beat"]), float(turn["beat"] + turn["beats"]))
        for turn in log.of("turn")
        if turn["who"] == "companion"
    ]
    found = []
    for reply in replies_of(log):
        start, end = _turn_of(reply, taken)
        held = [change for change in changes if change[0] <= start][-1:]
        inside = [change for change in changes if start < change[0] < end]
        found.append(Turn(reply.notes, start, end, (*held, *inside)))
    return found


def table(styles: Sequence[Style], logs: Sequence[Log]) -> str:
    """Return the two styles side by side, `WIDTH` columns at most."""
    turns = [turns_of(log) for log in logs]
    for style, replies in zip(styles, turns, strict=True):
        if not replies:
            mend = "Name another chart, or more --choruses"
            raise InputError(f"style {style.name}", "it had nothing to answer there", mend)
    moves = list(moves_of([*turns[0], *turns[1]]))[:_MOST_MOVES]
    answers = _by_call(turns, moves)
    tosses = swaps(len(answers[0]), np.random.default_rng((logs[0].header["seed"], _TOSSES)))

    def rows(names: Iterable[str]) -> list[str]:
        return [_row(name, _of(name, answers[0]), _of(name, answers[1]), tosses) for name in names]

    return "\n".join(
        [
            *_title(styles, logs[0], [len(replies) for replies in turns]),
            *rows(shares_of(turns[0][0])),
            "",
            "moves and figures, share of notes",
            *rows(map(_of_move, moves)),
        ]
    )


def _by_call(turns: Sequence[Sequence[Turn]], moves: Sequence[str]) -> list[list[list[Shares]]]:
    """Return for each style and each call, in the same order, what its answers measure."""
    calls = sorted({turn.start for replies in turns for turn in replies})
    return [
        [[_shares(turn, moves) for turn in replies if turn.start == call] for call in calls]
        for replies in turns
    ]


def _shares(turn: Turn, moves: Iterable[str]) -> Shares:
    return {**shares_of(turn), **{_of_move(move): move_share(turn, move) for move in moves}}


def _of_move(name: str) -> str:
    """Return the name of the row of a move."""
    return f"  {name.replace('_', ' ')}"


def _of(name: str, answers: Iterable[Iterable[Shares]]) -> list[Share]:
    """Return a measure by its name, for each call."""
    return [summed(shares[name] for shares in said) for said in answers]


def _played(options: CompareOptions) -> list[Log]:
    choruses = options.choruses
    if choruses is None:
        chart = find_chart(options.chart or CHART, options.home).value
        choruses = ceil(BARS / len(chart.chorus.bars))
    logs = []
    for number, name in enumerate(options.styles, start=1):
        wish = DemoOptions(
            out=(options.wav or Path()) / f"{number}-{Path(name).stem}",
            chart=options.chart,
            style=name,
            seed=options.seed,
            choruses=choruses,
            home=options.home,
        )
        logs.append(unkept(wish) if options.wav is None else demo(wish).log)
    return logs


def _turn_of(reply: Reply, taken: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Return the turn that a reply lies in for the most part; its own span if there is none."""
    first = float(reply.notes[0]["beat"])
    last = float(reply.notes[-1]["beat"] + reply.notes[-1]["beats"])
    shared = [(min(last, end) - max(first, start), start, end) for start, end in taken]
    most, start, end = max(shared, default=(0.0, first, last))
    return (start, end) if most > 0 else (first, last)


def _title(styles: Sequence[Style], log: Log, replies: Sequence[int]) -> list[str]:
    header = log.header
    told = [
        f"{place:<8}{style.name}: {style.about}"[:WIDTH]
        for place, style in zip(_PLACES, styles, strict=True)
    ]
    tune = f"over {header['chart']}, the same calls to both, seed {header['seed']}"
    places = "".join(f"{place:>{_VALUE}}" for place in _PLACES)
    counts = "".join(f"{count:>{_VALUE}}" for count in replies)
    return [*told, tune, _LEGEND, "", f"{'':<{_NAME}}{places}", f"{'replies':<{_NAME}}{counts}"]


def _row(name: str, one: Sequence[Share], other: Sequence[Share], tosses: Swaps) -> str:
    shares = ratio(*summed(one)), ratio(*summed(other))
    values = "".join(f"{_value(name, share):>{_VALUE}}" for share in shares)
    marked = chance(one, other, tosses) <= MARKED
    return f"{name:<{_NAME}}{values}{_sign(name, *shares) if marked else ''}"


def _value(name: str, value: float) -> str:
    if isnan(value):
        return "-"
    if name in _PITCHES:
        return spell(round(value), key=_FLATS)
    if name in _PLAIN:
        return f"{value:.2f}"
    if name in _LOUD:
        return f"{value:.0f}"
    return f"{value * 100:.0f} %"


def _sign(name: str, one: float, other: float) -> str:
    """Say in words which of the two has more."""
    word = "higher" if name in _PITCHES else "louder" if name == "loudness" else "more"
    return f"    {_PLACES[int(one < other)]} {word}"
