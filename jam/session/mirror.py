"""The brain's mirror of the notes it has handed to the I/O process.

When a process is lost the mirror knows which notes it may have left on, and which are still to
come. Times are seconds of the session.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf

from jam.events import Play
from jam.players.bends import BACK_SEC

KEPT_SEC = 2.0
"""How long after its end a note is forgotten whose end was never reported."""


@dataclass(slots=True)
class Mirrored:
    """A note as it stands now, and when it was ``handed`` over. ``on``: it has begun; ``again``: it
    was handed over a second time, to another process; ``bent``: the pitch wheel stands off its
    centre for it, which may outlast it (``rings``)."""

    play: Play
    handed: float
    on: bool = False
    revoked: bool = False
    again: bool = False
    bent: bool = False
    rings: bool = False


class Mirror:
    """Notes by id, from the moment they are handed over until their end is reported."""

    def __init__(self) -> None:
        self._notes: dict[int, Mirrored] = {}
        self._looked_at = -inf

    @property
    def last_end(self) -> float:
        """When the last of them ends, its wheel at rest; -inf if there is none."""
        notes = self._notes.values()
        ends = (note.play.end + BACK_SEC * (note.play.bend is not None) for note in notes)
        return max(ends, default=-inf)

    @property
    def sounding(self) -> list[Mirrored]:
        """The notes that have begun and whose end was not reported."""
        return [note for note in self._notes.values() if note.on]

    @property
    def busy(self) -> bool:
        """Whether a note sounds, or a wheel has still to go back."""
        return any(note.on or note.bent for note in self._notes.values())

    def get(self, id: int) -> Mirrored | None:
        """Return the note of that id, None if it is over or never was."""
        return self._notes.get(id)

    # --- what is commanded ---------------------------------------------------------------

    def hand(self, play: Play, now: float) -> None:
        """Enter a note; one of the same id that has not begun is replaced."""
        before = self._notes.get(play.id)
        self._notes[play.id] = Mirrored(play, now, before is not None and before.on)

    def revoke(self, id: int) -> None:
        """Enter that a note was taken back."""
        if id in self._notes:
            self._notes[id].revoked = True

    def keep(self, id: int) -> None:
        """Enter that a note could not be taken back."""
        if id in self._notes:
            self._notes[id].revoked = False

    def cut(self, id: int, t: float) -> None:
        """Enter that a note ends at ``t``."""
        note = self._notes.get(id)
        if note is not None:
            note.play = replace(note.play, end=min(note.play.end, t))

    def silence(self) -> None:
        """Enter that all notes are taken back; those that sound will be reported as over."""
        for note in self._notes.values():
            note.revoked = True

    # --- what is reported ----------------------------------------------------------------

    def began(self, id: int) -> None:
        """Enter that a note has begun."""
        if id in self._notes:
            self._notes[id].on = True

    def turned(self, id: int, *, bent: bool) -> None:
        """Enter that the wheel was moved for a note; no other note of its channel has it now."""
        moved = self._notes.get(id)
        channel = None if moved is None else moved.play.channel
        for number, note in list(self._notes.items()):
            if note.bent and note.play.channel == channel:
                note.bent = False
                if note.rings:
                    del self._notes[number]
        if moved is not None and not moved.rings:
            moved.bent = bent

    def over(self, id: int, t: float | None = None) -> None:
        """Forget a note that has ended (at ``t``), or will never sound; not yet its bent wheel."""
        note = self._notes.get(id)
        if note is not None and note.bent:
            note.on, note.rings = False, True
            note.play = note.play if t is None else replace(note.play, end=t)
        else:
            self._notes.pop(id, None)

    def clear(self) -> None:
        """Forget all notes."""
        self._notes.clear()
        self._looked_at = -inf

    def forget_old(self, now: float) -> list[Mirrored]:
        """Forget the notes that must be over by now; return those that no process ever played or
        refused, because there was none. Looks only now and then."""
        if now <= self._looked_at + KEPT_SEC:
            return []
        self._looked_at = now
        old = {i: note for i, note in self._notes.items() if note.play.end < now - KEPT_SEC}
        self._notes = {i: note for i, note in self._notes.items() if i not in old}
        return [note for note in old.values() if not (note.on or note.revoked or note.rings)]

    def overdue(self, now: float, longest_sec: float) -> bool:
        """Return whether a note should have begun so long ago and nothing was heard of it."""
        return any(
            note.play.t < now - longest_sec < note.play.end
            and not (note.on or note.revoked or note.rings)
            for note in self._notes.values()
        )

    # --- when a process is lost ----------------------------------------------------------

    def end_at(self, t: float) -> list[Mirrored]:
        """End what sounds at ``t``, at its own end if that was before; return those notes."""
        for note in self.sounding:
            note.play = replace(note.play, end=min(note.play.end, t))
        return self.sounding

    def take_over(self) -> tuple[list[Mirrored], list[Mirrored]]:
        """Return the notes that were left on, or bent, which are forgotten, and those still to
        come, which are now another process's."""
        left = [note for note in self._notes.values() if note.on or note.bent]
        self._notes = {i: note for i, note in self._notes.items() if not (note.on or note.bent)}
        coming = [note for note in self._notes.values() if not note.revoked]
        for note in coming:
            note.again = True
        return left, coming
