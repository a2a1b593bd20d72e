"""H4 and H5: is a reply inside its window, mannerly, and within the instrument?"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from .findings import Finding, found, name
from .ground import EPS
from .reading import Reply, Session, Turn
from .roles import Terms

SLACK_SEC = 0.02
"""How far past an allowed moment a note may still sound: a fiftieth of a second."""


def window_findings(session: Session, reply: Reply, terms: Terms) -> Iterator[Finding]:
    """H4: from a pickup before the companion's turn to a tail after it, waiting for the player."""
    first, last = reply.notes[0], reply.notes[-1]
    turn = turn_of(session, reply)
    if turn is None:
        yield found("H4", reply, first, "", "no turn of the companion's here")
        return
    pulse = terms.pulse_beats
    lead = pulse * (2 if session.beats.bpm(turn.beat) > 200 else 1)
    if first.beat < turn.beat - lead - EPS:
        yield found("H4", reply, first, "", f"before the pickup to the turn on {turn.beat:g}")
    if last.end > turn.end + pulse + EPS:
        yield found("H4", reply, last, "", f"ends on {last.end:g}, the turn on {turn.end:g}")
    if turn.who == "companion":
        yield from _manners(session, reply, turn)


def turn_of(session: Session, reply: Reply) -> Turn | None:
    """Return the companion's turn that the reply shares most beats with, or touches."""
    start, end = reply.notes[0].beat, reply.notes[-1].end
    own = [turn for turn in session.turns if turn.who in ("companion", "both")]
    shared = [(min(end, t.end) - max(start, t.beat), -t.beat, t) for t in own]
    best = max(shared, key=lambda row: row[:2], default=None)
    return best[2] if best and best[0] > -2.0 else None


def _manners(session: Session, reply: Reply, turn: Turn) -> Iterator[Finding]:
    first, last = reply.notes[0], reply.notes[-1]
    if interrupts(session, first.t, session.beats.sec(turn.beat)):
        yield found("H4 manners", reply, first, "", "begins while the player's phrase goes on")
    if last.end < turn.end + EPS:
        return
    close, eighth = session.beats.sec(turn.end), 30.0 / session.beats.bpm(turn.end)
    playing = [max(start, close) for start, end in session.player if end > close]
    until = min(playing, default=float("inf")) + eighth
    if session.beats.sec(last.end) > until + SLACK_SEC:
        text = f"sounds on while the player plays, ends on {last.end:g}"
        yield found("H4 manners", reply, last, "", text)


def interrupts(session: Session, t: float, turn_sec: float) -> bool:
    """Tell whether ``t`` falls inside a phrase that the player began before the turn.

    Inside: a key is down, or the last and the next onset are half a beat apart or less.
    """
    before = [(start, end) for start, end in session.player if start <= t - SLACK_SEC]
    if not before:
        return False
    if any(end > t + 2 * SLACK_SEC and start < turn_sec for start, end in before):
        return True
    following = next((start for start, _ in session.player if start > t), float("inf"))
    half = 30.0 / session.beats.bpm(session.beats.beat(t))
    return before[-1][0] < turn_sec and following - before[-1][0] <= half + SLACK_SEC


# --- H5 instrument -----------------------------------------------------------------------


def instrument_findings(session: Session, reply: Reply, terms: Terms) -> Iterator[Finding]:
    """H5: inside the range, one note at a time."""
    for note in reply.notes:
        if not terms.low <= note.pitch <= terms.high:
            text = f"outside {name(terms.low)} to {name(terms.high)}"
            yield found("H5 range", reply, note, "", text)
    if terms.voices == 1:
        for note, following in pairwise(reply.notes):
            if note.end > following.beat + EPS:
                text = f"still sounds when {name(following.pitch)} begins"
                yield found("H5 one at a time", reply, note, "", text)


def breath_findings(session: Session, terms: Terms) -> Iterator[Finding]:
    """H5: no stretch without a rest to breathe in is longer than the breath, replies that follow
    one another at once taken together."""
    line = sorted(
        ((note, reply) for reply in session.replies for note in reply.notes),
        key=lambda pair: pair[0].beat,
    )
    start = 0
    for index, (note, _) in enumerate(line):
        end, rest = session.beats.sec(note.end), line[index + 1 : index + 2]
        if rest and session.beats.sec(rest[0][0].beat) - end < terms.rest_sec:
            continue
        first, reply = line[start]
        blown = end - session.beats.sec(first.beat)
        if blown > terms.breath_sec + SLACK_SEC:
            yield found("H5 breath", reply, first, "", f"{blown:.1f} s in one breath")
        start = index + 1
