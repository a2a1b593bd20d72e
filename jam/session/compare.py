"""Two reply styles side by side: what differs in what they play to the same calls?

A stand-in player plays the same turns of the same tune to both (`jam.session.demo`), and the logs
of the two sessions are measured. Nothing is taken from inside the soloist: what is told is what
was played.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isnan
from pathlib import Path
from tempfile import TemporaryDirectory

from jam.errors import InputError
from jam.harmony.keys import parse_key
from jam.harmony.spelling import spell
from jam.log import Log
from jam.review.line_measures import Turn, measure, moves_of
from jam.session.demo import demo
from jam.session.exchanges import Reply, chord_named, replies_of
from jam.session.heard import last_chords
from jam.session.options import DemoOptions
from jam.session.resources import find_style
from jam.styles.profile import Style

WIDTH = 80
CHORUSES = 4
_NAME, _VALUE = 30, 14
_PLACES = ("first", "second")
_MOST_MOVES = 8
_PITCHES = ("lowest note", "highest note")
_PLAIN = frozenset({"notes a beat", "phrase length, beats", "phrases in a reply"})
_LOUD = frozenset({"loudness", "loudness, spread"})
# A difference that a listener may notice: about the spread of people's own solos.
_MARGINS = {"notes a beat": 0.2, "phrase length, beats": 1.5, "phrases in a reply": 0.3}
_SHARE_MARGIN, _PITCH_MARGIN, _LOUD_MARGIN = 0.05, 2.0, 4.0
_FLATS = parse_key("Ab major")


@dataclass(frozen=True)
class CompareOptions:
    """Everything `jam compare` can be told; ``wav`` is a folder to keep both sessions in."""

    styles: tuple[str, str]
    chart: str | None = None
    seed: int = 1
    choruses: int = CHORUSES
    wav: Path | None = None
    home: Path | None = None


def compare(options: CompareOptions) -> str:
    """Play the tune with both styles and return the table; raises InputError."""
    styles = [find_style(name, options.home).value for name in options.styles]
    if options.wav is not None:
        logs = _played(options, options.wav)
    else:
        with TemporaryDirectory(prefix="jam-compare-") as folder:
            logs = _played(options, Path(folder))
    return table(styles, logs)


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
    one, other = (measure(replies) for replies in turns)
    return "\n".join(
        [
            *_title(styles, logs[0], [len(replies) for replies in turns]),
            *(_row(name, one[name], other[name]) for name in one),
            "",
            "moves and figures, share of notes",
            *_moves([moves_of(replies) for replies in turns]),
        ]
    )


def _played(options: CompareOptions, folder: Path) -> list[Log]:
    logs = []
    for number, name in enumerate(options.styles, start=1):
        out = folder / f"{number}-{Path(name).stem}"
        wish = DemoOptions(
            out=out,
            chart=options.chart,
            style=name,
            seed=options.seed,
            choruses=options.choruses,
            wav=options.wav is not None,
            home=options.home,
        )
        logs.append(demo(wish).log)
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
    return [*told, tune, "", f"{'':<{_NAME}}{places}", f"{'replies':<{_NAME}}{counts}"]


def _row(name: str, one: float, other: float) -> str:
    values = "".join(f"{_value(name, value):>{_VALUE}}" for value in (one, other))
    return f"{name:<{_NAME}}{values}{_sign(name, one, other)}".rstrip()


def _moves(moves: Sequence[dict[str, float]]) -> list[str]:
    shared = {
        name: max(found.get(name, 0.0) for found in moves) for found in moves for name in found
    }
    most = sorted(shared, key=lambda name: (-shared[name], name))[:_MOST_MOVES]
    one, other = moves
    return [_row(f"  {_plain(name)}", one.get(name, 0.0), other.get(name, 0.0)) for name in most]


def _plain(name: str) -> str:
    return name.replace("_", " ")


def _value(name: str, value: float) -> str:
    if isnan(value):
        return "-"
    if name in _PITCHES:
        return spell(int(value), key=_FLATS)
    if name in _PLAIN:
        return f"{value:.2f}"
    if name in _LOUD:
        return f"{value:.0f}"
    return f"{value * 100:.0f} %"


def _sign(name: str, one: float, other: float) -> str:
    """Say in words which of the two has audibly more."""
    if isnan(one) or isnan(other):
        return ""
    margin = _MARGINS.get(name, _SHARE_MARGIN)
    margin = _PITCH_MARGIN if name in _PITCHES else _LOUD_MARGIN if name in _LOUD else margin
    if abs(one - other) < margin:
        return "    alike"
    word = "higher" if name in _PITCHES else "louder" if name == "loudness" else "more"
    return f"    {_PLACES[int(one < other)]} {word}"
