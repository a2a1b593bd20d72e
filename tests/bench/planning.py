"""How long does a reply take to plan, and how long a new tail when another chord arrives?

The questions put to the soloist are those of real sessions: sessions of the stand-in player are
performed again, and every request for a four-bar reply is kept and then timed by itself. For the
tails, half of each reply has sounded, and every chord from there on turns out to be the dominant
seventh a tritone away.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from unittest.mock import patch

from jam.core import conversation
from jam.core.core import Core
from jam.harmony.changes import Changes
from jam.harmony.chord import Chord
from jam.harmony.symbols import parse_chord
from jam.players.soloist.request import Prefix, Reply, Request
from jam.players.soloist.soloist import answer, answer_anew
from jam.session.copies import read_setup
from jam.session.perform import Performance
from jam.session.replay import perform_again
from tests.bench.times import Times

REPLY_BARS = 4
LEAST_NOTES = 4
ROOTS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")


@dataclass(frozen=True)
class Plans:
    """What planning took: wall-clock and processor milliseconds of whole replies, of their first
    line that keeps the rules (no effort granted beyond it), and of new tails."""

    whole: Times = field(default_factory=Times)
    first: Times = field(default_factory=Times)
    tail: Times = field(default_factory=Times)


def requests_of(sessions: Sequence[Performance]) -> list[Request]:
    """Return the requests for a reply of four bars that come up in ``sessions``."""
    kept: list[Request] = []
    for session in sessions:
        setup = read_setup(session.folder, session.log.header)
        with _kept_by(kept):
            perform_again(session.log, Core(setup))
    return [request for request in kept if _bars(request) == REPLY_BARS]


@contextmanager
def _kept_by(kept: list[Request]) -> Iterator[None]:
    def asked(request: Request) -> Reply:
        kept.append(request)
        return answer(request)

    with patch.object(conversation, "answer", asked):
        yield


def _bars(request: Request) -> int:
    first, _ = request.bars.at(request.window.start)
    last, _ = request.bars.at(request.window.end - 0.25)
    return last - first + 1


def timed(requests: Sequence[Request]) -> Plans:
    """Plan every request, and a new tail to each reply, one after another."""
    plans = Plans()
    for request in requests:
        with plans.whole.taken():
            reply = answer(request)
        with plans.first.taken():
            answer(replace(request, effort=0))
        if len(reply.notes) < LEAST_NOTES:
            continue
        half = reply.notes[len(reply.notes) // 2].beat
        prefix = Prefix(half, tuple(note.pitch for note in reply.notes if note.beat < half))
        anew = replace(request, changes=_substituted(request.changes, half))
        with plans.tail.taken():
            answer_anew(anew, reply, prefix)
    return plans


def _substituted(changes: Changes, beat: float) -> Changes:
    """Return the changes with every chord that holds from ``beat`` on substituted."""
    index = changes.index_at(beat)
    kept = [change for change in changes[: index + 1] if change.beat < beat]
    later = [replace(change, chord=_tritone_away(change.chord)) for change in changes[index:]]
    return Changes([*kept, replace(later[0], beat=max(beat, later[0].beat)), *later[1:]])


def _tritone_away(chord: Chord) -> Chord:
    return parse_chord(f"{ROOTS[(chord.root + 6) % 12]}7")
