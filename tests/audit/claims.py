"""Where does the log say something else of a note than the audit hears?

A disagreement is no breach of a rule by itself: the rules are judged by the audit's own ear. It
is *serious* when the log calls strong what is strong by no school, names a degree that is not the
note's, or names a chord that is neither in force, nor coming, nor implied.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from .chords import SPELLINGS, Sound, UnknownSymbolError, read
from .findings import name, too_late
from .reading import Reply, Session
from .roles import Ear, Judged, Terms


@dataclass(frozen=True)
class Disagreement:
    """What the log claims against what the audit hears, at a place."""

    kind: str
    serious: bool
    reply: object
    beat: float
    note: str
    chord: str
    text: str


def disagreements(session: Session, reply: Reply, terms: Terms) -> list[Disagreement]:
    """Return every claim of the reply's notes that the audit hears otherwise."""
    ear = Ear(session, reply, terms)
    return [found for judged in ear.judged for found in _of_note(ear, reply, judged)]


def _of_note(ear: Ear, reply: Reply, judged: Judged) -> Iterator[Disagreement]:
    note, claim = judged.note, judged.note.claim
    if not claim or judged.sound is None:
        return
    in_force = judged.sound.symbol

    def differ(kind: str, text: str, *, serious: bool) -> Disagreement:
        return Disagreement(kind, serious, reply.id, note.beat, name(note.pitch), in_force, text)

    try:
        claimed = read(claim["chord"])
    except UnknownSymbolError:
        yield differ("chord", f"claims the unreadable chord {claim['chord']!r}", serious=True)
        return
    if judged.sound.silent:
        if not claimed.silent:
            yield differ("over N.C.", f"is judged against {claimed.symbol}", serious=False)
        return
    if not _plausible(ear, judged, claimed):
        late = judged.change is not None and too_late(judged.change.known, note)
        kind = "chord named late" if late else "chord"
        yield differ(kind, f"is judged against {claimed.symbol}", serious=not late)
        return
    if claimed.silent:
        return
    if claim["degree"] not in SPELLINGS[claimed.semitones(note.pitch)]:
        text = f"is called {claim['degree']} of {claimed.symbol}"
        yield differ("degree", text, serious=True)
    yield from (
        differ(kind, text, serious=serious) for kind, text, serious in _role(judged, claimed, ear)
    )


def _plausible(ear: Ear, judged: Judged, claimed: Sound) -> bool:
    heard = [judged.sound, ear.sound_at(judged.note.beat, spans=False)]
    coming = ear.session.harmony.after(judged.note.beat)
    if coming is not None:
        heard.append(coming.sound)
    return any(sound is not None and sound.same_as(claimed) for sound in heard)


def _role(judged: Judged, claimed: Sound, ear: Ear) -> Iterator[tuple[str, str, bool]]:
    note, role = judged.note, judged.note.claim["role"]
    in_force = judged.sound is not None and judged.sound.same_as(claimed)
    passes = claimed.passes(note.pitch)
    if role in ("chord tone", "tension"):
        if not passes:
            yield "strong", f"is called a {role} of {claimed.symbol}, strong in no school", True
        elif not in_force:
            yield "early", f"is called a {role} of {claimed.symbol}, which is yet to come", True
        elif claimed.contested(note.pitch):
            yield "school", f"is strong on {claimed.symbol} by some schools only", False
        elif (note.pitch % 12 in claimed.tones) != (role == "chord tone"):
            yield "tone or tension", f"is called a {role} of {claimed.symbol}", False
    elif role == "anticipation" and not ear.anticipates(note):
        yield "anticipation", "is called an anticipation of nothing that comes within a pulse", True
    elif role == "free" and not ear.spans:
        yield "free", "is called free outside every declared span", True
    elif role in ("approach", "leaning", "blue") and judged.standing == "strong":
        yield "modest", f"is called {role}, and is strong on {claimed.symbol}", False
    elif role == "leaning" and judged.standing == "weak":
        yield "leaning", "is called leaning, and is not resolved by step within a pulse", True
    elif role == "blue" and judged.standing == "weak":
        yield "blue", "is called blue where the audit knows of no blues", True
