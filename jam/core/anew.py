"""Another chord has arrived than the one a reply was planned for: its tail is planned anew.

The notes that have begun cannot be changed. The last of them may go on sounding if it fits the
chord that has arrived; else it ends now, and the new tail begins at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import inf

from jam.core.moment import Moment, Out
from jam.core.pieces import from_now
from jam.core.replies import OTHER_CHORD, Active, Replies
from jam.core.talk_log import Numbered
from jam.events import PlannedNote
from jam.harmony.changes import Changes
from jam.players.soloist.request import Prefix, Request
from jam.players.soloist.soloist import answer, answer_anew

_SOONEST_SEC = 0.02
"""How soon after a chord was named the first note of a new tail may sound."""

_WAITING = ("approach", "leaning")
"""Roles that wait for their step."""

_BREATH_BEATS, _BREATH_SEC = 0.5, 0.25
"""A rest of both is a breath."""

_HAIR_BEATS = 0.02
"""A note that has sounded is so long at least."""

_EPS = 1e-6


def plan_tail(
    active: Active, asked: Request, latest: float, replies: Replies, m: Moment, out: Out
) -> None:
    """Plan what has not sounded of a reply as it is ``asked`` now; it ends by beat ``latest``."""
    if active.closed or not active.notes:
        return
    window, changes = asked.window, asked.changes
    if same_changes(active.request.changes, changes, m.beat, window.latest):
        return
    begun = replies.begun(active, m.now)
    rest = active.notes[len(begun) :]
    if not begun:
        plan_whole(active, asked, replies, m, out, OTHER_CHORD)
        return
    window = replace(window, latest=min(window.latest, latest))
    active.request = replace(asked, window=window)
    if rest or not fits(begun[-1][1], changes, m.beat):
        prefix, over_beat = kept_of(begun, rest, changes, m)
        reply = answer_anew(active.request, active.reply, prefix)
        replies.retail(active, len(begun), reply, over_beat, m, out, OTHER_CHORD)


def plan_whole(
    active: Active, asked: Request, replies: Replies, m: Moment, out: Out, reason: str
) -> None:
    """Plan all of a reply of which nothing has sounded as it is ``asked`` now."""
    active.request = replace(asked, window=from_now(asked.window, m))
    replies.retail(active, 0, answer(active.request), inf, m, out, reason)


def breath_beats(bpm: float) -> float:
    """Return the shortest rest in which a breath can be taken, in beats."""
    return max(_BREATH_BEATS, _BREATH_SEC * bpm / 60.0)


def fits(note: PlannedNote, changes: Changes, beat: float) -> bool:
    """Return whether a note that has begun is strong on the chord at ``beat``, or over by then."""
    return note.beat + note.beats <= beat + _EPS or changes.at(beat).chord.is_strong(note.pitch)


def same_changes(planned: Changes, present: Changes, start: float, end: float) -> bool:
    """Return whether the same chords hold in both for ``start <= beat < end``."""
    if planned.at(start).chord != present.at(start).chord:
        return False
    then, now = planned.between(start, end), present.between(start, end)
    return [(c.beat, c.chord) for c in then] == [(c.beat, c.chord) for c in now]


def kept_of(
    begun: Sequence[Numbered], rest: Sequence[Numbered], changes: Changes, m: Moment
) -> tuple[Prefix, float]:
    """Return what is kept, and the beat from which on nothing of the old tail sounds.

    ``begun`` are the notes that cannot be changed, at least one; ``rest`` the others, which go.
    """
    notes = [note for _, note in begun]
    last = notes[-1]
    end = last.beat + last.beats
    soon = m.beat + _SOONEST_SEC * m.bpm / 60.0
    if fits(last, changes, m.beat):
        soon = over = max(soon, min([end, *(note.beat for _, note in rest[:1])]))
    else:
        end = over = max(min(end, m.beat), last.beat + _HAIR_BEATS)
    pending = _pending(notes)
    prefix = Prefix(
        soon,
        tuple(note.pitch for note in notes),
        tuple(pending),
        _breath_beat(notes, m),
        (last.beat, end),
    )
    return prefix, over


def _pending(notes: Sequence[PlannedNote]) -> list[int]:
    """Return the pitches among the last two notes that still wait for their step: one that was
    left for another note may have that one between itself and its target."""
    waiting: list[int] = []
    for index in range(max(0, len(notes) - 2), len(notes)):
        if notes[index].role not in _WAITING:
            continue
        gone = any(
            1 <= abs(later.pitch - notes[index].pitch) <= 2 and later.role not in _WAITING
            for later in notes[index + 1 :]
        )
        if not gone:
            waiting.append(notes[index].pitch)
    return waiting


def _breath_beat(notes: Sequence[PlannedNote], m: Moment) -> float | None:
    """Return where the present breath began, None when the line is resting."""
    gap = breath_beats(m.bpm)
    beat, end = None, m.beat
    for note in reversed(notes):
        if end - (note.beat + note.beats) >= gap - _EPS:
            break
        beat = end = note.beat
    return beat
