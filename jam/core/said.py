"""What was said, and how far the talk has come."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf

from jam.core.replies import Active
from jam.listening.phrase import PhraseDescription
from jam.players.soloist.request import Memory

REMEMBERED = 12
"""So many calls and replies of the session are remembered."""

_RECENT = 8


@dataclass(frozen=True, slots=True)
class Said:
    """How far the talk has come; put back as it was when a reply is taken back.

    Up to ``done_until`` the companion's turns are dealt with, from ``call_from`` on the player's
    notes are the next call. ``talk`` is where the talk began in which it spoke last, ``call`` what
    that answered, ``own`` what it said; ``broken_off`` says that the player interrupted it.
    ``heard`` are the calls of the session, ``replies`` what the companion said in it: as it was
    really played, cut short or with another tail.
    """

    done_until: float = -inf
    call_from: float = -inf
    talk: float | None = None
    call: tuple[int | None, PhraseDescription | None] = (None, None)
    own: PhraseDescription | None = None
    broken_off: bool = False
    recent: tuple[tuple[int, ...], ...] = ()
    heard: tuple[PhraseDescription, ...] = ()
    replies: tuple[Active, ...] = ()

    def elsewhere(self, beat: float) -> Said:
        """Return what is left to be known after a jump to ``beat``: what was said before."""
        return Said(beat, beat, recent=self.recent, heard=self.heard, replies=self.replies)

    def and_reply(self, reply: Active, pattern: tuple[int, ...]) -> Said:
        """Return it with a reply and its intervals remembered."""
        return replace(
            self,
            recent=(*self.recent, pattern)[-_RECENT:],
            replies=(*self.replies, reply)[-REMEMBERED:],
        )

    def in_other_words(self, pattern: tuple[int, ...], own: PhraseDescription | None) -> Said:
        """Return it with the last reply's intervals and description as they are now."""
        return replace(self, recent=(*self.recent[:-1], pattern), own=own)

    def and_call(self, call: PhraseDescription | None) -> Said:
        """Return it with a call remembered, if there was one."""
        return self if call is None else replace(self, heard=(*self.heard, call)[-REMEMBERED:])

    @property
    def memory(self) -> Memory:
        """What the soloist is told of it, oldest first."""
        said = (tuple(note for _, note in reply.notes) for reply in self.replies)
        return Memory(self.heard, tuple(notes for notes in said if notes))
