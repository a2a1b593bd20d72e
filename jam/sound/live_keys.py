"""Which of the player's own notes a key or the damper pedal ends. Pure."""

from __future__ import annotations


class LiveKeys:
    """Notes by id. Each method returns the ids of the notes that end."""

    def __init__(self) -> None:
        self._down: dict[int, int] = {}
        self._held: list[int] = []
        self._damper = False

    def press(self, pitch: int, id: int) -> list[int]:
        """Take a key that is struck: the note it had before ends."""
        before = self._down.get(pitch)
        self._down[pitch] = id
        return [] if before is None else [before]

    def release(self, pitch: int) -> list[int]:
        """Take a key that is let go: its note ends, unless the damper holds it."""
        id = self._down.pop(pitch, None)
        if id is None:
            return []
        if self._damper:
            self._held.append(id)
            return []
        return [id]

    def damper(self, *, down: bool) -> list[int]:
        """Take the pedal: when it comes up, all that it alone held ends."""
        self._damper = down
        if down:
            return []
        ended, self._held = self._held, []
        return ended

    def clear(self) -> None:
        """Forget every note; the pedal stays where it is."""
        self._down.clear()
        self._held.clear()
