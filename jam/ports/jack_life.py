"""Whether a JACK server still moves messages: a message of our own goes round through it.

RtMidi 5 does not notice when its server is gone. It lists the old ports for ever, and its sending
function takes about 2,300 messages (measured: 2,340 of three bytes) and then never returns. So a
message is sent from one port of ours to another, and while none has come back nobody may send
many more. Times are machine seconds.
"""

from __future__ import annotations

from collections.abc import Callable
from time import sleep

from jam.errors import PortError
from jam.ports.bindings import RawIn, RawOut

PORT = "alive"
LATE_SEC = 1.25
"""A message that has not come round by then will not."""

AGAIN_SEC = 0.25
"""A message may get lost in a busy server: while none has come round, another one is sent."""

_ASK_AFTER = 128
_MOST = 1000
"""After so many messages, ask whether the server lives; after so many without an answer, wait."""

_WAIT_SEC = 0.1
_PAUSE_SEC = 0.0005
_SIGN = (0xB0, 119, 0)


class JackLife:
    """Owns the way of the message round: ``ear`` has a virtual port, ``mouth`` sends to it."""

    def __init__(self, ear: RawIn, mouth: RawOut, clock: Callable[[], float]) -> None:
        self._ear = ear
        self._mouth = mouth
        self._clock = clock
        self._asked: float | None = None
        self._asked_last = 0.0
        self._unanswered = 0
        self.lost = False

    def look(self) -> bool:
        """Ask again if the last question was answered; return whether the server lives."""
        if self.lost:
            return False
        while self._ear.get_message() is not None:
            self._asked = None
            self._unanswered = 0
        now = self._clock()
        if self._asked is None or now - self._asked_last > AGAIN_SEC:
            self._asked = now if self._asked is None else self._asked
            self._asked_last = now
            self.lost = not self._ask()
        self.lost = self.lost or now - self._asked > LATE_SEC
        return not self.lost

    def _ask(self) -> bool:
        try:
            self._mouth.send_message(_SIGN)
        except Exception:  # supriya-midi notices by itself that the server is gone
            return False
        return True

    def spend(self) -> None:
        """Count a message that is about to be sent; raise PortError if it might never leave."""
        self._unanswered += 1
        if self._unanswered % _ASK_AFTER == 0:
            self.look()
        if self.lost:
            raise PortError("the JACK server is gone", "Start it again; the ports are taken anew.")
        if self._unanswered > _MOST and not self._answers():
            raise PortError("the JACK server does not answer", "It is tried again.")

    def _answers(self) -> bool:
        until = self._clock() + _WAIT_SEC
        while self._clock() < until:
            if not self.look():
                return False
            if self._unanswered <= _MOST:
                return True
            sleep(_PAUSE_SEC)
        return False
