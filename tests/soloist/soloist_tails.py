"""Replies cut short by a chord that was not expected, for the tests of new tails."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from hypothesis import strategies as st
from soloist_asking import WAYS, any_chord, placed, requests
from soloist_rules import EPS, Judge, rest_beats

from jam.events import PlannedNote
from jam.players.soloist.request import Prefix, Reply, Request
from jam.players.soloist.soloist import answer

WAITING = ("approach", "leaning")
"""Roles that wait for their step."""


@dataclass(frozen=True)
class Arrival:
    """A question, its reply, and what arrives: ``share`` of the way through the reply."""

    request: Request
    reply: Reply
    share: float
    late: float
    seed: int


@dataclass(frozen=True)
class Interrupted:
    """A reply at the moment another chord arrives: the notes that stay, and what is asked now."""

    request: Request
    reply: Reply
    prefix: Prefix
    kept: tuple[PlannedNote, ...]
    arrival: float


@st.composite
def arrivals(draw: st.DrawFn) -> Arrival:
    """Replies (planned with the least effort) and the moment at which another chord arrives."""
    request = replace(draw(requests()), effort=1)
    share = draw(st.sampled_from([-0.05, 0.05, 0.2, 0.35, 0.5, 0.65, 0.8, 0.95]))
    late = draw(st.sampled_from([0.0, 0.0, 0.13, 0.3]))
    return Arrival(request, answer(request), share, late, draw(st.integers(0, 9999)))


def cut(arrival: Arrival) -> Interrupted:
    """Return the reply cut off where the chord arrives, over other changes from there on."""
    request, notes = arrival.request, arrival.reply.notes
    rng = np.random.default_rng(arrival.seed)
    begin, end = notes[0].beat, notes[-1].beat + notes[-1].beats
    beat = round((begin + arrival.share * (end - begin)) * 4) / 4
    rows = [(c.beat, c.chord, c.passing) for c in request.changes if c.beat < beat - 0.2]
    rows = rows or [(min(beat, 0.0) - 4.0, any_chord(rng), False)]
    rows.append((beat, any_chord(rng), False))
    step = request.bars.bar_beats
    following = request.bars.start(request.bars.at(beat)[0] + 1)
    while following < request.window.latest + 2 * step:
        way = WAYS[int(rng.integers(len(WAYS)))]
        if way != "hold" and following > rows[-1][0] + 0.2:
            rows.append((following, any_chord(rng), False))
        if way == "two":
            rows.append((following + step / 2, any_chord(rng), False))
        following += step
    changes = placed(rows, request.key, blues=request.blues)
    now = beat + arrival.late
    kept = [note for note in notes if note.beat < now + EPS]
    begun = len(kept)
    soon = now + max(0.05, 0.03 * request.bpm / 60.0)
    if kept:
        last = kept[-1]
        over = last.beat + last.beats < now + EPS
        if over or changes.at(now).chord.is_strong(last.pitch):
            after = notes[begun].beat if begun < len(notes) else 1e9
            soon = max(soon, min(last.beat + last.beats, after))
        if last.beat + last.beats > soon:
            kept[-1] = replace(last, beats=soon - last.beat)
    pending = tuple(
        n.pitch
        for i, n in enumerate(kept[-2:])
        if n.role in WAITING
        and not any(
            1 <= abs(after.pitch - n.pitch) <= 2 and after.role not in WAITING
            for after in kept[-2:][i + 1 :]
        )
    )
    held = (kept[-1].beat, kept[-1].beat + kept[-1].beats) if kept else None
    prefix = Prefix(
        from_beat=soon,
        pitches=tuple(note.pitch for note in kept),
        pending=pending,
        held=held,
        breath_beat=breath(kept, request, soon),
    )
    return Interrupted(replace(request, changes=changes), arrival.reply, prefix, tuple(kept), beat)


def breath(kept: Sequence[PlannedNote], request: Request, soon: float) -> float | None:
    """Return where the breath was taken in which the line goes on, None while it rests."""
    since, end = None, soon
    for note in reversed(kept):
        if end - note.beat - note.beats > rest_beats(request.bpm) - EPS:
            break
        since = end = note.beat
    return since


def tail_breaches(case: Interrupted, tail: Sequence[PlannedNote]) -> list[str]:
    """Return what is wrong with a new tail, in words: H1 to H5 from its first note on."""
    planned = [note for note in case.reply.notes if note.beat > case.prefix.from_beat + EPS]
    if not tail:
        return ["silent though more was planned"] if planned else []
    found = []
    if tail[0].beat < case.prefix.from_beat - EPS:
        found.append(f"early by {case.prefix.from_beat - tail[0].beat:.3f}")
    waiting = case.prefix.pending[-1:]
    if any(not 1 <= abs(tail[0].pitch - pitch) <= 2 for pitch in waiting):
        found.append(f"pending {waiting} not resolved by {tail[0].pitch}")
    found += Judge(case.request, [*case.kept, *tail], given=len(case.kept)).breaches()
    return found
