"""Do the hard rules H1 to H5 hold in a reply? Landing, ending and approach are here; window
and instrument in `window`. Every function returns findings, each with its place.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from .findings import Finding, found, name, too_late
from .ground import EPS
from .reading import Note, Reply, Session
from .roles import Ear, Point, Terms
from .window import breath_findings, instrument_findings, window_findings

HUMAN_TEMPO = 1.03
"""What a tempo that people keep may stretch a length, before it counts as too long."""

Landed = Literal["across", "on", "after", "leaning", "anticipation", "silent", "weak", "cut"]


@dataclass(frozen=True)
class Landing:
    """How a reply met a place to land on. ``doubtful`` marks what passes only by a wide reading:
    an anticipation with a weak note on the change after it, or a leaning note that resolves only
    after another note."""

    point: Point
    kind: Landed
    note: Note | None
    doubtful: bool = False


def audit_rules(session: Session, terms: Terms) -> list[Finding]:
    """Return every breach of H1 to H5 in a session."""
    replies = [f for reply in session.replies for f in audit_reply(session, reply, terms)]
    return [*replies, *breath_findings(session, terms)]


def audit_reply(session: Session, reply: Reply, terms: Terms) -> list[Finding]:
    """Return every breach of H1 to H5 in one reply, its breath excepted."""
    if not reply.notes:
        return []
    ear = Ear(session, reply, terms)
    return [
        *landing_findings(ear, reply),
        *ending_findings(ear, reply),
        *approach_findings(ear, reply),
        *span_findings(ear, reply),
        *window_findings(session, reply, terms),
        *instrument_findings(session, reply, terms),
    ]


# --- H1 landing --------------------------------------------------------------------------


def landings(ear: Ear) -> list[Landing]:
    """Return how each place to land on was met, in order."""
    return [_landing(ear, point) for point in ear.points]


def _landing(ear: Ear, point: Point) -> Landing:
    across = [i for i, n in enumerate(ear.notes) if n.beat < point.beat - EPS < n.end - 2 * EPS]
    if across:
        return _met(ear, point, across[-1], "across")
    limit = point.beat + ear.terms.pulse_beats + EPS
    after = [i for i, n in enumerate(ear.notes) if point.beat - EPS <= n.beat <= limit]
    before = _just_ended(ear, point)
    if after:
        on = abs(ear.notes[after[0]].beat - point.beat) < EPS
        met = _met(ear, point, after[0], "on" if on else "after")
        if met.kind == "weak" and before is not None and not point.seam:
            return Landing(point, "anticipation", before, doubtful=True)
        return met
    if before is not None:
        return Landing(point, "anticipation", before)
    return Landing(point, "silent", None)


def _met(ear: Ear, point: Point, index: int, kind: Landed) -> Landing:
    note = ear.notes[index]
    if point.sound.passes(note.pitch):
        return Landing(point, kind, note)
    resolved = ear.resolution(index, max(note.beat, point.beat))
    if resolved is not None:
        return Landing(point, "leaning", note, doubtful=resolved > index + 1)
    return Landing(point, "weak", note)


def _just_ended(ear: Ear, point: Point) -> Note | None:
    """Return the note before the place, if it began within a pulse of it, ended within half a
    pulse of it and is strong on the coming chord."""
    earlier = [note for note in ear.notes if note.beat < point.beat - EPS]
    if not earlier:
        return None
    note, pulse = earlier[-1], ear.terms.pulse_beats
    near = note.beat > point.beat - pulse - EPS and note.end > point.beat - pulse / 2 - EPS
    return note if near and point.sound.passes(note.pitch) else None


def landing_findings(ear: Ear, reply: Reply) -> Iterator[Finding]:
    """H1: a strong degree at each structural change, and no passing by in silence."""
    met = landings(ear)
    for landing in met:
        if landing.kind == "weak" and landing.note is not None:
            tags = ("late",) if too_late(landing.point.known, landing.note) else ()
            seam = "seam" if landing.point.seam else "change"
            text = f"weak at the {seam} on beat {landing.point.beat:g}"
            yield found("H1", reply, landing.note, landing.point.sound.symbol, text, *tags)
    silent = [landing.point for landing in met if landing.kind == "silent"]
    landed = sum(landing.kind not in ("silent", "weak") for landing in met)
    if silent and landed * 3 < len(met) * 2:
        text = f"lands on {landed} of {len(met)}, silent at beats " + " ".join(
            f"{point.beat:g}" for point in silent
        )
        late = ("late",) if _all_late(ear, silent) else ()
        yield found("H1 silence", reply, None, silent[0].sound.symbol, text, *late)


def _all_late(ear: Ear, points: list[Point]) -> bool:
    return all(point.known > ear.session.beats.sec(point.beat) for point in points)


# --- H2 ending ---------------------------------------------------------------------------


def ending_findings(ear: Ear, reply: Reply) -> Iterator[Finding]:
    """H2: the last note is strong where it begins, or on what it anticipates, and stays so."""
    last = reply.notes[-1]
    sound = ear.sound_at(last.beat, spans=False)
    change = ear.session.harmony.at(last.beat)
    if sound is None or change is None or sound.silent:
        return
    if not sound.passes(last.pitch) and not ear.anticipates(last):
        tags = ("late",) if too_late(change.known, last) else ()
        yield found("H2", reply, last, sound.symbol, "ends on a weak degree", *tags)
    for later in ear.session.harmony.between(last.beat, last.end):
        lasting = later.end - later.beat > ear.terms.pulse_beats - EPS and not later.passing
        if lasting and not later.sound.passes(last.pitch):
            tags = ("late",) if too_late(later.known, last) else ()
            text = f"the last note turns weak as the chord changes on beat {later.beat:g}"
            yield found("H2", reply, last, later.sound.symbol, text, *tags)


# --- H3 approach -------------------------------------------------------------------------


def approach_findings(ear: Ear, reply: Reply) -> Iterator[Finding]:
    """H3: a weak note is short and goes by step to a strong one within the next three notes.

    The last note is H2's business.
    """
    for index, judged in enumerate(ear.judged[:-1]):
        if judged.standing != "weak" or judged.sound is None:
            continue
        note, symbol = judged.note, judged.sound.symbol
        tags = ("late",) if judged.change and too_late(judged.change.known, note) else ()
        limit = max(ear.terms.pulse_beats / 2, 0.25 * ear.session.beats.bpm(note.beat) / 60)
        if note.beats > limit * HUMAN_TEMPO:
            text = f"weak for {note.beats:.3g} beats, {limit:.3g} allowed"
            yield found("H3 length", reply, note, symbol, text, *tags)
        if not resolves(ear, index):
            nexts = " ".join(name(n.pitch) for n in ear.notes[index + 1 : index + 4])
            yield found("H3", reply, note, symbol, f"weak, unresolved: then {nexts}", *tags)


def resolves(ear: Ear, index: int) -> bool:
    """Tell whether one of the next three notes is strong and a step away from note ``index``,
    or is reached from it by steps only."""
    notes = ear.notes
    chained = True
    for later in range(index + 1, min(index + 4, len(notes))):
        chained = chained and 1 <= abs(notes[later].pitch - notes[later - 1].pitch) <= 2
        near = 1 <= abs(notes[later].pitch - notes[index].pitch) <= 2
        if (near or chained) and ear.judged[later].standing in ("strong", "anticipation"):
            return True
    return False


def span_findings(ear: Ear, reply: Reply) -> Iterator[Finding]:
    """H3: a declared span lasts a bar at most (two above 200 bpm) and returns on a strong note."""
    for span in ear.spans:
        bars = 2 if ear.session.beats.bpm(span.beat) > 200 else 1
        if span.end - span.beat > bars * ear.session.beats.bar_beats() + EPS:
            text = f"span from beat {span.beat:g} lasts {span.end - span.beat:g} beats"
            yield found("H3 span", reply, None, span.sound.symbol, text)
        back = next((note for note in ear.notes if note.beat > span.end - EPS), None)
        if back is not None and not (ear.strong(back) or ear.anticipates(back)):
            text = "returns from a span on a weak degree"
            yield found("H3 span", reply, back, span.sound.symbol, text)
