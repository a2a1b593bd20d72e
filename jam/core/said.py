"""How far the talk has come."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from jam.listening.phrase import PhraseDescription


@dataclass(frozen=True, slots=True)
class Said:
    """How far the talk has come; put back as it was when a reply is taken back.

    Up to ``done_until`` the companion's turns are dealt with, from ``call_from`` on the player's
    notes are the next call. ``talk`` is where the talk began in which it spoke last, ``call`` what
    that answered, ``own`` what it said.
    """

    done_until: float = -inf
    call_from: float = -inf
    talk: float | None = None
    call: tuple[int | None, PhraseDescription | None] = (None, None)
    own: PhraseDescription | None = None
    recent: tuple[tuple[int, ...], ...] = ()
