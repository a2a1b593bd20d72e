"""What counts as a press, when a cue is learnt by pressing it. Pure: messages in, a trigger out.

A key or pad that is struck, a program button, or a controller that goes down (64 or more, MIDI
1.0: switches are on from there). Passed over: releases, the damper pedal, controllers that say
which bank a program is of (0 and 32, sent before a program change), that go with other messages
(98 to 101) or that switch modes (120 and above), and whatever was down before.
"""

from __future__ import annotations

from collections.abc import Sequence

from jam.session.triggers import DAMPER, Trigger

_ON = 64
_NO_SWITCHES = frozenset({0, 32, 6, 38, 98, 99, 100, 101, *range(120, 128)})
SETTLE_SEC = 0.3
"""What comes in so soon after listening began was under way before."""


class PressEar:
    """Listens to one port after another as one; ``began`` is the moment listening began."""

    def __init__(self, began: float) -> None:
        self.damper = False
        self._began = began
        self._down: set[tuple[int, int]] = set()

    def hear(self, t: float, data: Sequence[int]) -> Trigger | None:
        """Return the trigger that a message at second ``t`` is a press of, None if it is none.

        ``damper`` says afterwards that the damper pedal was pressed, which cannot be one.
        """
        if len(data) < 2:
            return None
        kind, early = data[0] & 0xF0, t < self._began + SETTLE_SEC
        if kind == 0xC0 and not early:
            return Trigger(program=data[1] + 1)
        if kind == 0x90 and len(data) == 3 and data[2] > 0 and not early:
            return Trigger(note=data[1])
        if kind == 0xB0 and len(data) == 3:
            return self._controller((data[0] & 0x0F, data[1]), data[2], early=early)
        return None

    def _controller(self, key: tuple[int, int], value: int, *, early: bool) -> Trigger | None:
        if value < _ON:
            self._down.discard(key)
            return None
        if key in self._down:
            return None
        self._down.add(key)
        number = key[1]
        self.damper = self.damper or (number == DAMPER and not early)
        if early or number == DAMPER or number in _NO_SWITCHES:
            return None
        return Trigger(control=number)
